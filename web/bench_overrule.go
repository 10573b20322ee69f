package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
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

// mayDecide asks for a reason where somebody confirms another cause than the
// readings say. Where they say nothing yet, or the part was put in already, nobody
// has to give one.
func (s *Server) mayDecide(r *http.Request, v *visit, t *sitting, part, words string) error {
	replaced := func(f evidence.Fitted) bool { return f.Part == part }
	if part == "" || words != "" || t.model == nil || slices.ContainsFunc(t.story.Fitted, replaced) {
		return nil
	}
	if err := s.learn(r.Context(), v, t); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	j, err := t.judge(ctx, s)
	if err != nil || j.Pending {
		return nil // what cannot be said now asks for nothing
	}
	switch c := j.Result.Conclusion; {
	case slices.Contains(c.Parts, part):
	case c.Status == analysis.Found:
		return fault.Field("words", "The readings say %s. Say why you decide on %s; it stays with the cause.", strings.Join(c.Parts, " and "), part)
	case c.Status == analysis.Healthy:
		return fault.Field("words", "The readings show nothing wrong. Say why you decide on %s; it stays with the cause.", part)
	}
	return nil
}
