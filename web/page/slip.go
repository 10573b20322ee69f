package page

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

// SlipPage is a hand-over slip on paper. It is built from the frozen slip alone.
type SlipPage struct {
	Frame Frame
	Back  string // address of the ticket's page
	Head  PaperHead
	SlipBody
}

// SlipBody is what a slip says, also on the page that prepares it.
type SlipBody struct {
	Repaired  bool
	Outcome   string   // "Handed over repaired to Mrs Brook."
	Text      []string // lines
	Found     []string
	Fitted    []string
	Rows      []MeasuredRow
	More      string // what is left out of the table, in a sentence
	Proven    []ProvenLine
	Unproven  string // in a sentence; "" when nothing is
	Guarantee string
	Advice    []string
	Price     string
	Notice    string
}

// ProvenLine says how a safety function was proven.
type ProvenLine struct{ Title, Proof string }

// MeasuredRow is one measurement: what a good board reads, before and after.
type MeasuredRow struct {
	Place, How    string
	Low, High     Figure // of a good board; Low alone when it is one value
	Good          string // instead of both where it is no band: "OL", "8.10 kΩ or more"
	Before, After MeasuredCell
}

// MeasuredCell is one reading with its verdict.
type MeasuredCell struct {
	Figure
	Verdict ui.Verdict
}

// NewSlipPage sets a frozen slip on paper.
func NewSlipPage(f Frame, s shop.Slip) SlipPage {
	ticket, number := strconv.FormatInt(s.Ticket, 10), strconv.FormatInt(s.Number, 10)
	p := SlipPage{Frame: f, Back: TicketAddress(s.Ticket), SlipBody: NewSlipBody(s, f.Locale)}
	p.Frame.Title = "Hand-over slip " + number + ", ticket " + ticket
	p.Head = PaperHead{Shop: s.Shop, Address: textLines(s.Address), Title: "Hand-over slip " + number, Day: plainDay(s.Day, f.Locale),
		Customer: s.Customer, Facts: []PaperFact{
			{"Board", boardWords(shop.Board{FamilyName: s.Family, RevisionName: s.Revision, Serial: s.Serial, OwnTag: s.OwnTag})},
			{"Ticket", ticket}, {"Reported", s.Complaint},
		}}
	return p
}

// NewSlipBody says what a slip says.
func NewSlipBody(s shop.Slip, l Locale) SlipBody {
	b := SlipBody{
		Repaired: s.As == shop.HandedOver, Text: textLines(s.Text), Advice: textLines(s.Advice), Notice: s.Notice,
		Found: foundLines(s.Findings), Fitted: fittedLines(s.Fitted),
	}
	b.Outcome = "Returned unrepaired"
	if b.Repaired {
		b.Outcome = "Handed over repaired"
	}
	if s.To != "" {
		b.Outcome += " to " + s.To
	}
	b.Outcome += "."
	b.Rows, b.More = measuredRows(s.Measured, l)
	for _, block := range s.Blocks {
		if strings.TrimSpace(block.Proof) != "" {
			b.Proven = append(b.Proven, ProvenLine{block.Title, block.Proof})
		}
	}
	if len(s.Unproven) > 0 {
		b.Unproven = "Not proven: " + sentenceList(s.Unproven) + ". Do not put the board into service before that is done."
	}
	if s.GuaranteeUntil != "" {
		b.Guarantee = "Guarantee on the repair until " + plainDay(s.GuaranteeUntil, l) + ". Bring this slip."
	}
	if b.Repaired && s.Quote != nil && s.Totals != nil {
		b.Price = "Price as quoted (version " + strconv.Itoa(s.Quote.Number) + "): " + l.Money(s.Totals.Gross) + ", tax included."
	}
	return b
}

// plainDay writes a day that is stored as 2006-01-02.
func plainDay(day string, l Locale) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return Locale{tag: l.tag, decimal: l.decimal, us: l.us, zone: time.UTC}.Date(t)
}

func foundLines(list []evidence.Finding) []string {
	var out []string
	for _, f := range list {
		out = append(out, join(": ", f.Part, join(", ", modeWords(profile.Mode(f.Mode)), f.Words)))
	}
	return out
}

func fittedLines(list []evidence.Fitted) []string {
	var out []string
	for _, f := range list {
		out = append(out, join(": ", f.Part, join(", ", f.What, f.Note)))
	}
	return out
}

// fewRows is how many measurements a slip shows before it leaves out those that
// were read only before the repair and found nothing.
const fewRows = 10

// measuredRows sets the measurements in columns and says what was left out.
func measuredRows(list []shop.Measured, l Locale) ([]MeasuredRow, string) {
	var shown []shop.Measured
	left := 0
	for _, m := range list {
		if len(list) > fewRows && m.After.Empty() && m.Before.Verdict != "bad" {
			left++
			continue
		}
		shown = append(shown, m)
	}
	low, high, before, after := make([]string, len(shown)), make([]string, len(shown)), make([]string, len(shown)), make([]string, len(shown))
	for i, m := range shown {
		before[i], after[i] = m.Before.Number, m.After.Number
		if goodWords(m, l) == "" {
			low[i], high[i] = m.Low.Number, m.High.Number
		}
	}
	lows, highs, befores, afters := l.Figures(low...), l.Figures(high...), l.Figures(before...), l.Figures(after...)
	out := make([]MeasuredRow, len(shown))
	for i, m := range shown {
		lows[i].Unit, highs[i].Unit = m.Low.Unit, m.High.Unit
		befores[i].Unit, afters[i].Unit = m.Before.Unit, m.After.Unit
		out[i] = MeasuredRow{Place: m.Place, How: m.How, Low: lows[i], High: highs[i], Good: goodWords(m, l),
			Before: MeasuredCell{befores[i], verdictIn(m.Before.Verdict)}, After: MeasuredCell{afters[i], verdictIn(m.After.Verdict)}}
	}
	if left == 0 {
		return out, ""
	}
	if left == 1 {
		return out, "One more reading was taken before the repair; it found nothing bad."
	}
	return out, fmt.Sprintf("%d more readings were taken before the repair; they found nothing bad.", left)
}

// goodWords says what a good board reads where it is no plain band.
func goodWords(m shop.Measured, l Locale) string {
	switch {
	case m.Low.Empty():
		return "not known"
	case m.Low.Number == "OL":
		return "OL"
	case m.High.Number == "OL":
		return l.signed(m.Low.Number) + " " + m.Low.Unit + " or more"
	case m.Low.Unit != m.High.Unit:
		return l.signed(m.Low.Number) + " " + m.Low.Unit + " to " + l.signed(m.High.Number) + " " + m.High.Unit
	}
	return ""
}

// verdictIn gives the mark for a verdict's word.
func verdictIn(word string) ui.Verdict {
	for _, v := range []ui.Verdict{ui.Bad, ui.CannotTell, ui.NotBad} {
		if v.Word() == word {
			return v
		}
	}
	return ui.None
}
