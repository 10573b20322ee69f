package web

import (
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/web/page"
)

// ticketDone says in one line what has just been done.
var ticketDone = map[string]string{
	"taken-in":  "The board is taken in. Put its tag on it before it goes to the shelf.",
	"moved":     "Stored.",
	"corrected": "The correction is stored; the history keeps what stood there before.",
}

// ticket shows a board's whole story.
func (s *Server) ticket(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	in := page.TicketInput{Story: st}
	if also := shop.ParseQuery(q.Get("also")); also.Number > 0 {
		in.Also = strconv.FormatInt(also.Number, 10)
	}
	return s.showTicket(w, r, v, http.StatusOK, in, ticketDone[q.Get("done")])
}

// showTicket fills in what the page needs besides the story.
func (s *Server) showTicket(w http.ResponseWriter, r *http.Request, v *visit, status int, in page.TicketInput, notice string) error {
	set, err := s.store.Settings(r.Context(), v.site.ID)
	if err != nil {
		return err
	}
	m, err := s.modelOf(r, in.Story)
	if err != nil {
		return err
	}
	if in.Past, err = s.likeBoards(r.Context(), v, in.Story, m); err != nil {
		return err
	}
	in.Site, in.Settings, in.By, in.Now = v.site, set, v.actor(), v.now
	f := s.frame(v, "", placeCounter)
	f.Notice = notice
	return render(w, r, status, page.Ticket(page.NewTicket(f, in)))
}

// storyOf finds the ticket that the address names.
func (s *Server) storyOf(r *http.Request, v *visit) (*shop.Story, error) {
	typed := chi.URLParam(r, "number")
	number, err := strconv.ParseInt(typed, 10, 64)
	if err != nil || number < 1 {
		return nil, fault.New(fault.NotFound, "%q is no ticket’s number.", clip(typed, 40))
	}
	st, err := s.store.TicketByNumber(r.Context(), v.actor(), number)
	if err != nil {
		return nil, err
	}
	return &st, nil
}

// seenVersion is the version of the ticket that the form was made from.
func seenVersion(r *http.Request) (int64, error) {
	n, err := strconv.ParseInt(r.PostFormValue("seen"), 10, 64)
	if err != nil || n < 0 {
		return 0, fault.New(fault.Invalid, "This form is incomplete. Load the ticket again.")
	}
	return n, nil
}

// moveTicket takes the ticket to its next state.
func (s *Server) moveTicket(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	to, reason := shop.State(r.PostFormValue("to")), r.PostFormValue("reason")
	seen, err := seenVersion(r)
	if err == nil && !to.Valid() {
		err = fault.New(fault.Invalid, "Choose what to do with the ticket.")
	}
	if err == nil {
		_, err = s.store.Move(r.Context(), v.actor(), st.Ticket.ID, seen, to, trim(reason))
	}
	k := fault.KindOf(err)
	switch {
	case err == nil:
		http.Redirect(w, r, page.TicketAddress(st.Ticket.Number)+"?done=moved", http.StatusSeeOther)
		return nil
	case k != fault.Conflict && k != fault.Invalid:
		return err
	}
	in := page.TicketInput{Refusal: page.RefusalOf(err, "reason"), Typed: page.TypedStep{To: string(to), Reason: reason}}
	if k == fault.Conflict {
		in.SawOnly = seen
	}
	if in.Story, err = s.storyOf(r, v); err != nil { // as it stands now
		return err
	}
	return s.showTicket(w, r, v, statusOf[k], in, "")
}

// voiding asks why before a ticket is made void.
func (s *Server) voiding(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	if st.Ticket.VoidedAt != nil {
		return fault.New(fault.Gone, "Ticket %d is void already.", st.Ticket.Number)
	}
	p := page.NewVoid(s.frame(v, "", placeCounter), st, "", v.site.Currency, page.Refusal{}, 0)
	return render(w, r, http.StatusOK, page.Void(p))
}

// voidTicket makes a ticket void.
func (s *Server) voidTicket(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	reason := r.PostFormValue("reason")
	seen, err := seenVersion(r)
	if err == nil {
		err = shop.CheckReason(reason)
	}
	if err == nil {
		err = s.store.Void(r.Context(), v.actor(), st.Ticket.ID, seen, trim(reason))
	}
	k := fault.KindOf(err)
	switch {
	case err == nil:
		http.Redirect(w, r, "/counter?voided=yes", http.StatusSeeOther)
		return nil
	case k != fault.Conflict && k != fault.Invalid:
		return err
	case k == fault.Invalid:
		seen = 0 // nobody else is to blame
	}
	refusal := page.RefusalOf(err, "reason")
	if st, err = s.storyOf(r, v); err != nil {
		return err
	}
	p := page.NewVoid(s.frame(v, "", placeCounter), st, reason, v.site.Currency, refusal, seen)
	return render(w, r, statusOf[k], page.Void(p))
}
