package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
)

// ruleOut stores that a part is not to blame, whatever the readings say.
func (s *Server) ruleOut(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "overrule", []string{"part", "reason", "key"}, func(t *sitting, f map[string]string) error {
		_, err := s.store.AddOverrule(r.Context(), v.actor(), evidence.Overrule{
			ID: formID(r), TicketID: t.story.Ticket.ID, Part: trim(f["part"]), Reason: trim(f["reason"]), TakenAt: v.now})
		return err
	})
}

// overrule stores that a reading says something else than its verdict.
func (s *Server) overrule(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "ruling", []string{"verdict", "reason"}, func(t *sitting, f map[string]string) error {
		f["reading"] = chi.URLParam(r, "reading")
		id, err := uuid.Parse(f["reading"])
		if err != nil {
			return fault.New(fault.NotFound, "There is no such reading on this ticket.")
		}
		_, err = s.store.AddOverrule(r.Context(), v.actor(), evidence.Overrule{ID: formID(r), TicketID: t.story.Ticket.ID,
			ReadingID: &id, Verdict: evidence.Ruling(f["verdict"]), Reason: trim(f["reason"]), TakenAt: v.now})
		return err
	})
}

// withdrawOverrule takes an overruling back.
func (s *Server) withdrawOverrule(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "reconsider", []string{"reason"}, func(t *sitting, f map[string]string) error {
		f["overrule"] = chi.URLParam(r, "overrule")
		id, err := uuid.Parse(f["overrule"])
		if err != nil {
			return fault.New(fault.NotFound, "Nothing like this was overruled on this ticket.")
		}
		return s.store.WithdrawOverrule(r.Context(), v.actor(), t.story.Ticket.ID, id, trim(f["reason"]))
	})
}
