package web

import (
	"net/http"
	"net/url"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/web/page"
)

// addSeen stores what the eye and nose found.
func (s *Server) addSeen(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "seen", []string{"part", "what", "note"}, func(t *sitting, f map[string]string) error {
		_, err := s.store.AddSeen(r.Context(), v.actor(), evidence.Seen{
			ID: formID(r), TicketID: t.story.Ticket.ID, Part: trim(f["part"]), What: trim(f["what"]), Note: trim(f["note"]), TakenAt: v.now})
		return err
	})
}

// addFinding stores a confirmed cause.
func (s *Server) addFinding(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "findings", []string{"part", "mode", "words"}, func(t *sitting, f map[string]string) error {
		if err := s.mayDecide(r, v, t, trim(f["part"]), trim(f["words"])); err != nil {
			return err
		}
		_, err := s.store.AddFinding(r.Context(), v.actor(), evidence.Finding{
			ID: formID(r), TicketID: t.story.Ticket.ID, Part: trim(f["part"]), Mode: f["mode"], Words: trim(f["words"]), TakenAt: v.now})
		return err
	})
}

// withdrawFinding takes a finding back.
func (s *Server) withdrawFinding(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "withdraw", []string{"reason"}, func(t *sitting, f map[string]string) error {
		f["finding"] = chi.URLParam(r, "finding")
		id, err := uuid.Parse(f["finding"])
		if err != nil {
			return fault.New(fault.NotFound, "There is no such finding on this ticket.")
		}
		return s.store.WithdrawFinding(r.Context(), v.actor(), t.story.Ticket.ID, id, trim(f["reason"]))
	})
}

// addFitted stores a part that was put in; readings from now on are of the
// repaired board.
func (s *Server) addFitted(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "fitted", []string{"part", "what", "note"}, func(t *sitting, f map[string]string) error {
		_, err := s.store.AddFitted(r.Context(), v.actor(), evidence.Fitted{
			ID: formID(r), TicketID: t.story.Ticket.ID, Part: trim(f["part"]), What: trim(f["what"]), Note: trim(f["note"]), TakenAt: v.now})
		return err
	})
}

// strike takes a reading out of the count.
func (s *Server) strike(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "strike", []string{"reason"}, func(t *sitting, f map[string]string) error {
		f["reading"] = chi.URLParam(r, "reading")
		id, err := uuid.Parse(f["reading"])
		if err != nil {
			return fault.New(fault.NotFound, "There is no such reading on this ticket.")
		}
		return s.store.Strike(r.Context(), v.actor(), t.story.Ticket.ID, id, trim(f["reason"]))
	})
}

// setRevision says which board it is, so that there is a profile to measure against.
func (s *Server) setRevision(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.mark(w, r, v, "revision", []string{"revision", "reason"}, func(t *sitting, f map[string]string) error {
		id, err := uuid.Parse(f["revision"])
		if err != nil {
			return fault.Field("revision", "Choose a board.")
		}
		_, err = s.store.AssignRevision(r.Context(), v.actor(), t.story.Ticket.ID, id, trim(f["reason"]))
		return err
	})
}

// mark runs one of the small forms of the bench and leads back to it.
func (s *Server) mark(w http.ResponseWriter, r *http.Request, v *visit, form string, fields []string, do func(*sitting, map[string]string) error) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	typed := map[string]string{}
	for _, name := range fields {
		typed[name] = r.PostFormValue(page.MarkField(form, name))
	}
	if err := do(t, typed); err != nil {
		return s.markRefused(w, r, v, t, form, typed, err)
	}
	if form == "fitted" {
		if next := t.acrossPart(trim(typed["part"])); next != "" { // the new part is the first thing to read
			return benchAt(w, r, t, next, "now")
		}
	}
	return backToBench(w, r, t, markAnchor[form])
}

// acrossPart gives the check of the unpowered board across a part, "" when the
// profile has none.
func (t *sitting) acrossPart(ref string) string {
	if t.model != nil {
		for _, c := range t.model.Profile.Checks {
			if c.Across == ref && c.State == profile.Cold && !c.Lifted && !c.Swapped && c.ID != "" {
				return c.ID
			}
		}
	}
	return ""
}

// markAnchor is where a small form's result stands on the page.
var markAnchor = map[string]string{
	"seen": "seen", "findings": "findings", "withdraw": "findings", "fitted": "fitted", "strike": "tape", "revision": "now",
	"overrule": "suspects", "ruling": "tape", "reconsider": "suspects",
}

// markRefused shows the bench again with what was typed in a small form.
func (s *Server) markRefused(w http.ResponseWriter, r *http.Request, v *visit, t *sitting, form string, typed map[string]string, err error) error {
	k := fault.KindOf(err)
	if k != fault.Invalid && k != fault.Conflict {
		return err
	}
	in := page.BenchInput{Fields: typed, Refused: err, Form: form, Check: r.PostFormValue("check")}
	return s.showBench(w, r, v, statusOf[k], t, in)
}

// formID is the id that the form carries, so that a form sent twice is stored once.
func formID(r *http.Request) uuid.UUID {
	id, err := uuid.Parse(r.PostFormValue("id"))
	if err != nil {
		return uuid.Nil // the storage makes one
	}
	return id
}

// backToBench leads back to the bench, to the check that was at hand.
func backToBench(w http.ResponseWriter, r *http.Request, t *sitting, anchor string) error {
	return benchAt(w, r, t, r.PostFormValue("check"), anchor)
}

// benchAt leads to the bench with a check at hand; "": the one most worth making.
func benchAt(w http.ResponseWriter, r *http.Request, t *sitting, check, anchor string) error {
	to := page.BenchAddress(t.story.Ticket.Number)
	if check != "" {
		to += "?check=" + url.QueryEscape(check)
	}
	http.Redirect(w, r, to+"#"+anchor, http.StatusSeeOther)
	return nil
}
