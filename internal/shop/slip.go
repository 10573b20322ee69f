package shop

import (
	"strings"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
)

// HandOver is what the counter says when a board goes back.
type HandOver struct {
	As     State  // HandedOver or ReturnedUnrepaired
	To     string // who took it
	Text   string // what was done, or why not, in plain words
	Advice string
	Blocks []SafetyBlock // the profile's blocks marked safety, each with its proof
}

// SafetyBlock is a block that guards something; its function must be proven
// before the board is handed over as repaired.
type SafetyBlock struct {
	Name  string
	Title string
	Proof string // how it was proven: what was done and read; "" not proven
}

// Check refuses a hand-over with a message by field: as, to, text, advice, and
// "block:NAME" for each safety block without proof. A board that was not repaired
// may go back with blocks unproven; its slip says so.
func (h HandOver) Check() error {
	f := form{}
	if h.As != HandedOver && h.As != ReturnedUnrepaired {
		f["as"] = "Choose whether the board goes back repaired or unrepaired."
	}
	f.long("to", h.To, maxLine)
	f.need("to", h.To, "Write down who takes the board.")
	f.long("text", h.Text, maxText)
	f.need("text", h.Text, "Write down what was done, or why it was not repaired.")
	f.long("advice", h.Advice, maxText)
	for _, b := range h.Blocks {
		f.long("block:"+b.Name, b.Proof, maxText)
		if h.As == HandedOver {
			f.need("block:"+b.Name, b.Proof, "Write down how this safety function was proven. Without proof the board is not handed over as repaired.")
		}
	}
	return fault.Form(f)
}

// Notice stands on every slip: what the shop's test does not show.
const Notice = "A tested board is not a tested machine: whoever fits it tests the machine under the local rules."

// Slip is the hand-over slip as it is frozen: what was found, fitted, measured.
// It is stored as JSON and may gain fields, never lose one.
type Slip struct {
	Number         int64
	Ticket         int64
	Day            string // 2006-01-02, in the shop
	Shop           string
	Address        string
	Customer       string
	Family         string
	Revision       string
	Serial         string
	Complaint      string
	As             State
	To             string
	Text           string
	Advice         string
	Notice         string
	Blocks         []SafetyBlock
	Unproven       []string // titles of safety blocks given back unproven
	Findings       []evidence.Finding
	Fitted         []evidence.Fitted
	Readings       []evidence.Reading // those that count
	GuaranteeUntil string             // 2006-01-02; "" without guarantee
	Quote          *quote.Version     // the version sent last
	Totals         *quote.Totals
}

// NewSlip draws up the slip of a hand-over from the ticket's story. The number
// is given by whoever freezes it.
func NewSlip(site Site, set Settings, st *Story, h HandOver, number int64, at time.Time) (Slip, error) {
	day := site.Day(at)
	s := Slip{
		Number: number, Ticket: st.Ticket.Number, Day: day.Format(time.DateOnly),
		Shop: site.Name, Address: site.Address, Customer: st.Customer.Name,
		Family: st.Board.FamilyName, Revision: st.Board.RevisionName, Serial: st.Board.Serial,
		Complaint: st.Ticket.Complaint, As: h.As, To: h.To, Text: h.Text, Advice: h.Advice,
		Notice: Notice, Blocks: h.Blocks, Fitted: st.Fitted,
	}
	for _, b := range h.Blocks {
		if strings.TrimSpace(b.Proof) == "" {
			s.Unproven = append(s.Unproven, b.Title)
		}
	}
	for _, f := range st.Findings {
		if f.WithdrawnAt == nil {
			s.Findings = append(s.Findings, f)
		}
	}
	for _, r := range st.Readings {
		if r.Struck == nil && !r.NotPossible {
			s.Readings = append(s.Readings, r)
		}
	}
	if h.As == HandedOver && set.GuaranteeDays > 0 {
		s.GuaranteeUntil = day.AddDate(0, 0, set.GuaranteeDays).Format(time.DateOnly)
	}
	return s.priced(st)
}

// priced adds the quote sent last and its totals.
func (s Slip) priced(st *Story) (Slip, error) {
	for i := range st.Quotes {
		v := st.Quotes[i]
		if v.SentAt == nil {
			continue
		}
		totals, err := quote.Sum(v.Lines, v.Currency)
		s.Quote, s.Totals = &v, &totals
		return s, err
	}
	return s, nil
}
