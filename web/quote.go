package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// quoteBook is what quotes and the answers to them need of storage.
type quoteBook interface {
	TicketByNumber(ctx context.Context, by staff.Actor, number int64) (shop.Story, error)
	Settings(ctx context.Context, site uuid.UUID) (shop.Settings, error)
	SaveQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, note string, lines []quote.Line) (quote.Version, error)
	SendQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64) (quote.Version, error)
	RecordConsent(ctx context.Context, by staff.Actor, c quote.Consent) (quote.Consent, error)
	Move(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, to shop.State, reason string) (shop.Ticket, error)
}

// quoteNotices are the calm lines after something was done, by what the address says.
var quoteNotices = map[string]string{
	"stored":   "Stored.",
	"same":     "Nothing has changed, so nothing was stored.",
	"sent":     "Frozen and numbered. Print it, or tell the customer and record the answer below.",
	"waiting":  "Frozen and numbered. The ticket waits for a yes.",
	"answered": "The answer is on record.",
	"moved":    "The answer is on record and the board was moved.",
}

func (s *Server) quote(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	return s.showQuote(w, r, v, http.StatusOK, page.QuoteInput{Story: st}, quoteNotices[r.URL.Query().Get("done")])
}

// showQuote fills in what the page needs around what a form left behind.
func (s *Server) showQuote(w http.ResponseWriter, r *http.Request, v *visit, status int, in page.QuoteInput, notice string) error {
	var err error
	if in.Settings, err = s.store.Settings(r.Context(), v.site.ID); err != nil {
		return err
	}
	in.Site, in.By, in.Now = v.site, v.actor(), v.now
	f := s.frame(v, "", placeCounter)
	f.Notice = notice
	return render(w, r, status, page.Quote(page.NewQuote(f, in)))
}

// changeQuote stores what was typed after the one step that a button asked for:
// a row moved or removed, work added. Sending stores first.
func (s *Server) changeQuote(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	set, err := s.store.Settings(r.Context(), v.site.ID)
	if err != nil {
		return err
	}
	do := r.PostFormValue("do")
	typed := changed(quoteForm(r), do, st, set, v)
	lines, err := readQuote(typed, v.site.Locale)
	if err == nil && do == "send" {
		err = readyToSend(typed, lines)
	}
	done := ""
	if err == nil {
		done, err = s.storeQuote(r.Context(), v, st, typed, lines, do == "send")
	}
	if err == nil {
		http.Redirect(w, r, page.TicketAddress(st.Ticket.Number)+"/quote?done="+done, http.StatusSeeOther)
		return nil
	}
	return s.refuseQuote(w, r, v, page.QuoteInput{Story: st, Typed: &typed, Lines: lines}, err)
}

// refuseQuote shows the form again with everything typed: what is wrong with it,
// or what somebody else has stored in the meantime.
func (s *Server) refuseQuote(w http.ResponseWriter, r *http.Request, v *visit, in page.QuoteInput, err error) error {
	kind := fault.KindOf(err)
	if kind != fault.Invalid && kind != fault.Conflict {
		return err
	}
	in.Refusal = page.RefusalOf(err, page.QuoteFields(len(in.Typed.Rows))...)
	if kind == fault.Conflict {
		now, err := s.storyOf(r, v)
		if err != nil {
			return err
		}
		in.Story, in.Clash = now, !now.Ticket.State.Ended() && now.Ticket.VoidedAt == nil
	}
	return s.showQuote(w, r, v, statusOf[kind], in, "")
}

// storeQuote saves the lines where they differ from what is stored, sends the
// version when asked to, and tells what was done.
func (s *Server) storeQuote(ctx context.Context, v *visit, st *shop.Story, typed page.QuoteForm, lines []quote.Line, send bool) (string, error) {
	seen, err := strconv.ParseInt(typed.Seen, 10, 64)
	if err != nil {
		return "", fault.New(fault.Invalid, "The form is not complete. Open the quote again.")
	}
	done := "same"
	if !sameQuote(st.Quote(), typed.Note, lines) {
		if _, err := s.store.SaveQuote(ctx, v.actor(), st.Ticket.ID, seen, typed.Note, lines); err != nil {
			return "", err
		}
		done = "stored"
	}
	if !send {
		return done, nil
	}
	if done == "stored" {
		now, err := s.store.TicketByNumber(ctx, v.actor(), st.Ticket.Number)
		if err != nil {
			return "", err
		}
		if !sameQuote(now.Quote(), typed.Note, lines) {
			return "", fault.New(fault.Conflict, "Somebody changed the quote just now. Look at both, then store yours or keep theirs.")
		}
		seen = now.Ticket.Version
	}
	if _, err := s.store.SendQuote(ctx, v.actor(), st.Ticket.ID, seen); err != nil {
		return "", err
	}
	if typed.Wait != "yes" {
		return "sent", nil
	}
	return s.waitForYes(ctx, v, st.Ticket.Number)
}

// waitForYes puts the ticket to waiting for a yes after its quote was sent. The
// quote stays sent when the ticket has been moved elsewhere meanwhile.
func (s *Server) waitForYes(ctx context.Context, v *visit, number int64) (string, error) {
	now, err := s.store.TicketByNumber(ctx, v.actor(), number)
	if err != nil {
		return "", err
	}
	_, err = s.store.Move(ctx, v.actor(), now.Ticket.ID, now.Ticket.Version, shop.WaitingForYes, "A quote was sent.")
	if err != nil {
		s.log.InfoContext(ctx, "not put to waiting for a yes", "ticket", number, "cause", err)
		return "sent", nil
	}
	return "waiting", nil
}

// sameQuote tells whether what was typed is what is stored.
func sameQuote(v *quote.Version, note string, lines []quote.Line) bool {
	if v == nil || v.Note != note || len(v.Lines) != len(lines) {
		return false
	}
	for i, l := range lines {
		o := v.Lines[i]
		if l.Kind != o.Kind || l.Text != o.Text || l.Quantity != o.Quantity || l.UnitPrice != o.UnitPrice || l.Tax != o.Tax {
			return false
		}
	}
	return true
}

// answerQuote writes down what the customer said, and moves the board when asked
// to and allowed.
func (s *Server) answerQuote(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	typed := answerForm(r)
	c, err := readAnswer(typed, st, v)
	if err == nil {
		_, err = s.store.RecordConsent(r.Context(), v.actor(), c)
	}
	if err != nil {
		return s.refuseAnswer(w, r, v, st, typed, err)
	}
	done := "answered"
	if typed.Then != "" {
		if err := s.moveAfter(r.Context(), v, st.Ticket.Number, shop.State(typed.Then), c); err != nil {
			return s.keptAnswer(w, r, v, err)
		}
		done = "moved"
	}
	http.Redirect(w, r, page.TicketAddress(st.Ticket.Number)+"/quote?done="+done, http.StatusSeeOther)
	return nil
}

// refuseAnswer shows the form again with everything typed; after a change by
// somebody else beside the quote as it is now.
func (s *Server) refuseAnswer(w http.ResponseWriter, r *http.Request, v *visit, st *shop.Story, typed page.AnswerForm, refused error) error {
	kind := fault.KindOf(refused)
	if kind != fault.Invalid && kind != fault.Conflict {
		return refused
	}
	if kind == fault.Conflict {
		var err error
		if st, err = s.storyOf(r, v); err != nil {
			return err
		}
		typed.To = page.VersionSent(st)
	}
	in := page.QuoteInput{Story: st, Answer: &typed, AnswerBad: page.RefusalOf(refused, page.AnswerFields...)}
	return s.showQuote(w, r, v, statusOf[kind], in, "")
}

// moveAfter takes the board where the answer allows it to go.
func (s *Server) moveAfter(ctx context.Context, v *visit, number int64, to shop.State, c quote.Consent) error {
	now, err := s.store.TicketByNumber(ctx, v.actor(), number)
	if err != nil || now.Ticket.State == to { // moved already: the form was sent twice
		return err
	}
	reason := c.Who + " said " + strings.ReplaceAll(string(c.Answer), "_", " ") + " (" + c.Way + ")."
	_, err = s.store.Move(ctx, v.actor(), now.Ticket.ID, now.Ticket.Version, to, reason)
	return err
}

// keptAnswer says that the answer is stored although the board could not be moved.
func (s *Server) keptAnswer(w http.ResponseWriter, r *http.Request, v *visit, err error) error {
	kind := fault.KindOf(err)
	if kind == fault.Internal {
		return err
	}
	st, again := s.storyOf(r, v)
	if again != nil {
		return again
	}
	in := page.QuoteInput{Story: st, Refusal: page.Refusal{Text: "The answer is on record, but the board was not moved. " + fault.Text(err)}}
	return s.showQuote(w, r, v, statusOf[kind], in, "")
}

// tooEarly is how far an answer may lie ahead of our clock.
const tooEarly = 2 * time.Minute
