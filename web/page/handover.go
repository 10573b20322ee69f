package page

import (
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/ui"
)

// HandOverPage prepares a hand-over: what is missing, what the slip will say,
// who takes the board.
type HandOverPage struct {
	Frame     Frame
	Refusal   Refusal
	Ticket    string
	Address   string
	Subject   string
	Gone      string        // the board has left: in a sentence
	SlipAt    string        // address of its slip; "" without one
	Missing   []MissingLine // what should be done first, and where
	May       []ui.Option   // as what it may go back now; none: the form is not shown
	Form      HandOverForm
	Blocks    []shop.SafetyBlock // Proof as typed
	Slip      SlipBody           // as it would be frozen now
	Guarantee string             // until when a repaired board has a guarantee
}

// MissingLine is something that is not there yet. What stops the hand-over as
// repaired is marked.
type MissingLine struct {
	Text    string
	Address string // where to do it; "" when it is not this person's to do
	Do      string // what the link says
	Stops   bool
}

// HandOverForm is a hand-over as typed.
type HandOverForm struct {
	Seen   string // the ticket's version that the person saw
	As     string
	To     string
	Text   string
	Advice string
	Proofs map[string]string // by the block's name
}

// HandOverFields lists the form's fields in the order of the page.
func HandOverFields(blocks []shop.SafetyBlock) []string {
	out := []string{"as", "text"}
	for _, b := range blocks {
		out = append(out, proofField(b))
	}
	return append(out, "advice", "to")
}

func proofField(b shop.SafetyBlock) string { return "block:" + b.Name }

// HandOverInput is what the page is built from.
type HandOverInput struct {
	Story    *shop.Story
	Site     shop.Site
	Settings shop.Settings
	By       staff.Actor
	Now      time.Time
	Blocks   []shop.SafetyBlock // the profile's blocks marked safety
	Measured []shop.Measured
	Powered  bool   // it was powered after it was last proven dead
	Trouble  string // why the profile cannot be read, and so its safety blocks are not known
	Typed    *HandOverForm
	Refusal  Refusal
}

// NewHandOver builds the page that prepares a hand-over.
func NewHandOver(f Frame, in HandOverInput) HandOverPage {
	st := in.Story
	p := HandOverPage{Ticket: strconv.FormatInt(st.Ticket.Number, 10), Address: TicketAddress(st.Ticket.Number),
		Subject: boardFor(st), Refusal: in.Refusal}
	f.Title = "Hand over ticket " + p.Ticket + ": " + BoardName(st.Board.FamilyName, st.Board.RevisionName) + ", " + st.Customer.Name
	p.Frame = f
	if n := slipNumber(st); n > 0 {
		p.SlipAt = SlipAddress(st.Ticket.Number, n)
	}
	if st.Ticket.VoidedAt != nil {
		p.Gone = "The ticket is void: " + st.Ticket.VoidReason
		return p
	}
	if st.Ticket.State.Ended() {
		p.Gone = "The board is " + st.Ticket.State.Title() + " since " + f.Locale.Moment(st.Ticket.StateSince) + "."
		return p
	}
	for _, t := range shop.Steps(in.By, st.Ticket.State) {
		switch {
		case t.To == shop.HandedOver && in.Trouble == "":
			p.May = append(p.May, ui.Option{Value: string(t.To), Label: "repaired"})
		case t.To == shop.ReturnedUnrepaired:
			p.May = append(p.May, ui.Option{Value: string(t.To), Label: "unrepaired"})
		}
	}
	p.Missing = missing(in, p.Address, p.May, f.Locale)
	p.fill(in)
	p.preview(in, f.Locale)
	return p
}

// fill puts what was typed, or what is proposed, into the form.
func (p *HandOverPage) fill(in HandOverInput) {
	if in.Typed != nil {
		p.Form = *in.Typed
	} else {
		p.Form = HandOverForm{Seen: strconv.FormatInt(in.Story.Ticket.Version, 10), As: proposedOutcome(in.Story, p.May), Text: workText(in.Story)}
	}
	for _, b := range in.Blocks {
		b.Proof = p.Form.Proofs[b.Name]
		p.Blocks = append(p.Blocks, b)
	}
}

// preview draws up the slip as it would be frozen now.
func (p *HandOverPage) preview(in HandOverInput, l Locale) {
	h := shop.HandOver{As: shop.State(p.Form.As), Measured: in.Measured}
	slip, err := shop.NewSlip(in.Site, in.Settings, in.Story, h, 0, in.Now)
	if err != nil {
		return
	}
	p.Slip = NewSlipBody(slip, l)
	if in.Settings.GuaranteeDays > 0 {
		until := in.Site.Day(in.Now).AddDate(0, 0, in.Settings.GuaranteeDays)
		p.Guarantee = "Handed over today as repaired, the guarantee runs until " + plainDay(until.Format(time.DateOnly), l) + "."
	}
}

// proposedOutcome guesses how the board goes back: repaired when something was
// found or fitted and the customer did not say no.
func proposedOutcome(st *shop.Story, may []ui.Option) string {
	if len(may) == 1 {
		return may[0].Value
	}
	no := false
	for _, c := range st.Consents {
		if c.About == quote.AboutRepair {
			no = c.Answer == quote.No
		}
	}
	if !no && (len(st.Fitted) > 0 || len(st.Findings) > 0) && len(may) > 0 {
		return string(shop.HandedOver)
	}
	return ""
}

// workText proposes what was done in plain words.
func workText(st *shop.Story) string {
	var refs []string
	for _, f := range st.Fitted {
		if f.Part != "" && !contains(refs, f.Part) {
			refs = append(refs, f.Part)
		}
	}
	if len(refs) == 0 {
		return ""
	}
	return "Replaced " + sentenceList(refs) + "."
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if strings.EqualFold(x, s) {
			return true
		}
	}
	return false
}

// slipNumber finds the number of the ticket's newest slip; 0 without one.
func slipNumber(st *shop.Story) int64 {
	for i := len(st.Documents) - 1; i >= 0; i-- {
		if st.Documents[i].Kind == "slip" {
			return st.Documents[i].Number
		}
	}
	return 0
}

// SlipAddress is where a slip is found.
func SlipAddress(ticket, slip int64) string {
	return TicketAddress(ticket) + "/slip/" + strconv.FormatInt(slip, 10)
}
