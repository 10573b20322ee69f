package web

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/web/page"
)

// revisionField is corrected by a use case of its own: it pins a profile too.
const revisionField = "revision"

// correcting shows the form for one field.
func (s *Server) correcting(w http.ResponseWriter, r *http.Request, v *visit) error {
	field := r.URL.Query().Get("field")
	if err := checkField(field); err != nil {
		return err
	}
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	return s.showCorrect(w, r, v, http.StatusOK, page.CorrectInput{Story: st, Field: field})
}

func checkField(field string) error {
	if field == revisionField || slices.Contains(shop.CorrectableFields(), field) {
		return nil
	}
	return fault.New(fault.NotFound, "A ticket has no field %q that could be corrected.", clip(field, 40))
}

// showCorrect fills in what the form needs besides the story.
func (s *Server) showCorrect(w http.ResponseWriter, r *http.Request, v *visit, status int, in page.CorrectInput) error {
	in.Currency, in.By = v.site.Currency, v.actor()
	var err error
	switch in.Field {
	case revisionField:
		kinds, err := s.kinds(r)
		if err != nil {
			return err
		}
		in.Kinds = page.RevisionOptions(kinds)
	case "customer":
		if in.Typed != nil {
			if in.Matches, err = s.matches(r, v, page.IntakeForm{Who: in.Typed.Who, Customer: in.Typed.New}); err != nil {
				return err
			}
		}
		in.Matches.KnownOnly = true
	}
	return render(w, r, status, page.Correct(page.NewCorrect(s.frame(v, "", placeCounter), in)))
}

// correctTicket stores one correction, or gives the form back with all that was
// typed and, after a change by somebody else, with what they did.
func (s *Server) correctTicket(w http.ResponseWriter, r *http.Request, v *visit) error {
	field := r.PostFormValue("field")
	if err := checkField(field); err != nil {
		return err
	}
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	typed := page.TypedCorrection{New: oneKindOfBreak(r.PostFormValue("new")), Reason: r.PostFormValue("reason"), Who: r.PostFormValue("who")}
	if field == "customer" {
		typed.New = r.PostFormValue("customer")
	}
	if r.PostFormValue("do") == "look-up" {
		return s.showCorrect(w, r, v, http.StatusOK, page.CorrectInput{Story: st, Field: field, Typed: &typed})
	}
	seen, err := seenVersion(r)
	if err == nil {
		err = s.storeCorrection(r, v, st, seen, field, typed)
	}
	k := fault.KindOf(err)
	switch {
	case err == nil:
		http.Redirect(w, r, page.TicketAddress(st.Ticket.Number)+"?done=corrected", http.StatusSeeOther)
		return nil
	case k != fault.Conflict && k != fault.Invalid:
		return err
	}
	in := page.CorrectInput{Field: field, Typed: &typed, Refusal: page.RefusalOf(atField(err, field), "new", "reason")}
	if k == fault.Conflict {
		in.SawOnly = seen
	}
	if in.Story, err = s.storyOf(r, v); err != nil { // as it stands now
		return err
	}
	return s.showCorrect(w, r, v, statusOf[k], in)
}

// atField moves the message about the corrected field to where it was typed.
func atField(err error, field string) error {
	fields := map[string]string{}
	for name, text := range fault.Fields(err) {
		if name == field && field != "customer" {
			name = "new"
		}
		fields[name] = text
	}
	if len(fields) == 0 {
		return err
	}
	return fault.Form(fields)
}

func (s *Server) storeCorrection(r *http.Request, v *visit, st *shop.Story, seen int64, field string, typed page.TypedCorrection) error {
	reason := trim(typed.Reason)
	if field == revisionField {
		return s.storeRevision(r, v, st, seen, typed.New, reason)
	}
	fix, err := readCorrection(field, typed.New, reason, v)
	problems := map[string]string{}
	note(problems, field, err)
	if err == nil {
		addFields(problems, fix.Check())
	} else {
		addFields(problems, shop.CheckReason(reason))
	}
	if err := fault.Form(problems); err != nil {
		return err
	}
	_, err = s.store.Correct(r.Context(), v.actor(), st.Ticket.ID, seen, fix)
	return err
}

// readCorrection puts what was typed into the form in which it is stored.
func readCorrection(field, typed, reason string, v *visit) (shop.Correction, error) {
	fix := shop.Correction{Field: field, New: trim(typed), Reason: reason}
	switch field {
	case "limit":
		m, err := readLimit(typed, v)
		if err != nil || m == nil {
			return fix, err
		}
		fix.New = strconv.FormatInt(m.Minor, 10)
	case "promised_on":
		day, err := readDay(typed, v)
		if err != nil || day == nil {
			return fix, err
		}
		fix.New = day.Format(time.DateOnly)
	}
	return fix, nil
}

// storeRevision says which revision the board is. The profile that the ticket is
// measured against changes with it, so a revision set by somebody else since is
// not overwritten unseen.
func (s *Server) storeRevision(r *http.Request, v *visit, st *shop.Story, seen int64, chosen, reason string) error {
	problems := map[string]string{}
	_, revision, err := readKind(chosen)
	note(problems, revisionField, err)
	addFields(problems, shop.CheckReason(reason))
	if err := fault.Form(problems); err != nil {
		return err
	}
	if page.RevisionSetSince(st, seen) {
		return fault.New(fault.Conflict, "Somebody else has set the revision since you opened this form.")
	}
	if revision == nil {
		revision = &uuid.UUID{}
	}
	_, err = s.store.AssignRevision(r.Context(), v.actor(), st.Ticket.ID, *revision, reason)
	return err
}
