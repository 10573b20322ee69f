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
	// Measured is what was read before and after, beside what a good board
	// reads. The engine knows that; the slip only keeps it.
	Measured []Measured
}

// Measured is one measurement as a slip shows it.
type Measured struct {
	Place  string // where: "R14", "red on TP3, black on com", "R13 alone"
	How    string // "resistance, cold"
	Low    Shown  // a good board reads from here ...
	High   Shown  // ... to here; both empty when that is not known
	Before Shown  // before the repair; empty when it was not read
	After  Shown  // after it
}

// Shown is a value as it was displayed, frozen as text: "7.91" and "kΩ", "OL", or
// "agrees" where the reading was stored as agreeing with the band.
type Shown struct {
	Number string // with a point
	Unit   string
	// Verdict is "bad", "not bad" or "cannot tell", empty where none was given.
	Verdict string
}

// Empty tells whether nothing was read.
func (s Shown) Empty() bool { return s.Number == "" }

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
const Notice = "The board was tested alone. A tested board is not a tested machine: whoever fits it tests the machine under the local rules. " +
	"A mains-fed board stays charged after the plug is out: prove it dead before touching it."

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
	OwnTag         string
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
	Measured       []Measured         // before and after, as they were shown
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
		Family: st.Board.FamilyName, Revision: st.Board.RevisionName, Serial: st.Board.Serial, OwnTag: st.Board.OwnTag,
		Complaint: st.Ticket.Complaint, As: h.As, To: h.To, Text: h.Text, Advice: h.Advice,
		Notice: Notice, Blocks: h.Blocks, Fitted: st.Fitted, Measured: h.Measured,
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
