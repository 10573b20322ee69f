package page

import (
	"fmt"
	"math"
	"time"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/profile"
	"ohmstead/web/ui"
)

// CheckPanel is one check as it stands at hand: where the probes go, what a
// good board reads here with this meter, and the form for what it did read.
type CheckPanel struct {
	ID       string // of the check
	Place    string // of the list: "4 of 38"
	Title    string // "R3: resistance, cold"
	Minutes  string // "6 min"; "" when it is a matter of a moment
	Red      Probe
	Black    Probe
	Good     string // "6.63 to 6.96 kΩ"; "" when nothing can be said
	Typical  string
	Here     string // narrowed by what was read across sources
	Open     string // what an open part would read
	Short    string
	Others   []string // what other faults would read
	Foreseen bool     // these are suspects, and stand beside as the next reading too
	Book     string   // what known-good boards read here
	Meter    string
	Scale    *ui.Scale
	Blind    string // why this check cannot tell; "" when it can
	Why      string // why nothing can be said
	Hold     string // how it creeps, and when it may be believed
	Note     string // the profile's
	Barred   string // why it cannot be made now; "" when it can
	Bar      bench.Bar
	State    string
	Form     ReadingForm
	Done     string // what was read here last
	Part     bool   // it is taken across a part, which can be lifted
	Residue  bool   // volts between the points matter: a cold resistance check
	Agreeing bool   // "agrees" can be said in one band
}

// ReadingForm is the form of one reading.
type ReadingForm struct {
	Action  string
	ID      string // UUIDv7 made by the server, so that a repeated POST stores once
	Unit    string // "Ω", "V"
	Typed   ui.Input
	Residue ui.Input
	Pressed map[string]bool
	Refusal Refusal
}

// panelOf makes the panel of a check of the profile.
func panelOf(in BenchInput, c profile.Check, number, of int) CheckPanel {
	p := CheckPanel{
		ID: c.ID, Place: fmt.Sprintf("%d of %d", number, of), Title: checkTitle(in.Model.Profile, c), State: c.State,
		Note: c.Note, Part: c.Across != "", Residue: c.Measure == profile.MeasureResistance && c.State == profile.Cold,
		Meter: in.Model.Meter.Name, Form: readingForm(in, c.Measure, c.ID),
	}
	p.Red, p.Black = probesOf(in.Model.Profile, c)
	if c.Minutes >= 2 {
		p.Minutes = fmt.Sprintf("%g min", c.Minutes)
	}
	p.Bar = in.Model.Bar(c.State, c.Measure, in.Gate, bench.Powered(in.Story))
	p.Barred = barredText(in, c, p.Bar)
	p.Book = bookText(in.Locale, c.Measure.Unit(), in.Good[c.Key()])
	row := in.row(c)
	if row == nil {
		return p
	}
	p.expect(in, c, row)
	if row.Reading != nil {
		p.Done = lastRead(in, row)
	}
	return p
}

// line says which check of the list this is, and what is known of it.
func (p CheckPanel) line() string {
	s := "check " + p.Place
	if p.Minutes != "" {
		s += ", about " + p.Minutes
	}
	if p.Done != "" {
		s += "; read before: " + p.Done
	}
	return s
}

// checkTitle names the check at hand: "R3: resistance, cold".
func checkTitle(p *profile.Profile, c profile.Check) string {
	state := c.State
	if st, ok := p.State(c.State); ok && c.State != profile.Cold && st.Title != "" {
		state = c.State
	}
	return placeName(c) + ": " + wordsOf(c.Measure) + ", " + state
}

// expect fills in what the engine says of the check.
func (p *CheckPanel) expect(in BenchInput, c profile.Check, row *analysis.Row) {
	l, unit := in.Locale, c.Measure.Unit()
	t := textsOf(row.Expected, row.Resolution)
	p.Good = t.good(l)
	if p.Good == "" {
		p.Why = row.Why
		return
	}
	if t.typical != "OL" {
		p.Typical = l.signed(t.typical) + " " + t.unit
	}
	if here := textsOf(row.ExpectedHere, row.Resolution); here.low != "" {
		p.Here = here.good(l)
	}
	if row.Open != nil {
		p.Open = l.shown(*row.Open, unit)
	}
	if row.Short != nil {
		p.Short = l.shown(*row.Short, unit)
	}
	p.Others, p.Foreseen = othersOf(in, c, row)
	if !row.CanTell {
		p.Blind = "A faulty part may read inside the band here: inside says nothing, outside says bad."
	}
	p.Agreeing = (row.Expected.Low == nil) == (row.Expected.High == nil)
	p.Hold = holdText(l, row)
	s := ui.NewScale(scaledOf(row, 190))
	p.Scale = &s
}

// othersOf says what other faults would read: those that are suspected, where the
// engine proposes the check, else the plainest that it would show.
func othersOf(in BenchInput, c profile.Check, row *analysis.Row) (out []string, foreseen bool) {
	if n := in.proposed(c); n != nil && len(n.Would) > 0 {
		for _, w := range wouldOf(in, *n) {
			if w.Words != c.Across+" open" && w.Words != c.Across+" shorted" { // these stand in front
				out = append(out, w.Words+" "+w.Reads)
			}
		}
		return out, true
	}
	for _, f := range row.Telling[:min(3, len(row.Telling))] {
		out = append(out, f.Fault.Part+" "+modeWords(f.Fault.Mode)+" "+in.Locale.shown(f.Shown, c.Measure.Unit()))
	}
	return out, false
}

// scaledOf gives what a scale shows of a row.
func scaledOf(row *analysis.Row, width int) ui.Scaled {
	band := row.Expected
	if row.ExpectedHere != nil {
		band = row.ExpectedHere
	}
	s := ui.Scaled{Width: width}
	if band != nil {
		s.Known, s.Low, s.Typical, s.High = true, band.Low, band.Typical, band.High
		s.Log = row.Measured.Measure.Unit() != profile.MeasureDCVolts.Unit()
	}
	s.Open, s.Short = readsOf(row.Open), readsOf(row.Short)
	if row.Reading != nil {
		s.Actual = &ui.Reads{OverRange: row.OverRange}
		if row.Actual != nil {
			s.Actual.Value = *row.Actual
		}
	}
	return s
}

func readsOf(s *analysis.Shown) *ui.Reads {
	if s == nil {
		return nil
	}
	return &ui.Reads{Value: s.Value, OverRange: s.OverRange}
}

// holdText says what to do when the reading creeps: how far and how long, and
// when it may be believed.
func holdText(l Locale, row *analysis.Row) string {
	s := row.Settling
	if s == nil || s.Seconds < 2 {
		return ""
	}
	unit := row.Measured.Measure.Unit()
	text := fmt.Sprintf("%s at first, %s after %s. ", l.shown(s.First, unit), l.shown(s.Settled, unit), span(s.Seconds))
	switch {
	case math.IsInf(s.TellBy, 1):
		return text + "This check cannot show that it is open: take another."
	case s.TellBy >= 2:
		return text + "Hold still: good and open cannot be told apart before " + span(s.TellBy) + "."
	}
	return text + "An open one differs at once: mark it creeping."
}

// span says how long something takes: "12 s", "4 min", "1.5 h".
func span(seconds float64) string {
	switch d := time.Duration(seconds * float64(time.Second)); {
	case math.IsInf(seconds, 0) || seconds > 1e6:
		return "many hours"
	case d < 90*time.Second:
		return fmt.Sprintf("%.0f s", math.Ceil(seconds))
	case d < 90*time.Minute:
		return fmt.Sprintf("%.0f min", math.Ceil(d.Minutes()))
	default:
		return fmt.Sprintf("%.1f h", d.Hours())
	}
}

// lastRead says what was read at a check last.
func lastRead(in BenchInput, row *analysis.Row) string {
	value := "OL"
	if row.Reading.Value.Typed == bench.Agreed {
		value = "agrees"
	} else if row.Actual != nil {
		value = in.Locale.value(*row.Actual, math.Max(row.Resolution, row.Reading.Value.Digit), row.Measured.Measure.Unit())
	}
	return value + ", " + ui.Verdict(row.Verdict).Word()
}

// barredText says why a check cannot be made now.
func barredText(in BenchInput, c profile.Check, bar bench.Bar) string {
	switch bar {
	case bench.ProveDead:
		return "Prove the board dead first: an ohmmeter on a charged board reads wrong at best."
	case bench.PowerOff:
		return "The board is powered. Switch it off and prove it dead before cold checks."
	case bench.PowerUp:
		return "This is read on the powered board, state “" + stateTitle(in.Model.Profile, c.State) + "”. Power it up first."
	case bench.WeakMeter:
		return weakMeter(in, c.State)
	}
	return ""
}

func stateTitle(p *profile.Profile, id string) string {
	if st, ok := p.State(id); ok && st.Title != "" {
		return st.Title
	}
	return id
}

// pressable are the keys that mark a reading.
var pressable = []string{"swapped", "lifted", "up", "down", "not_on_metal", "old", "new"}

// readingForm makes the form of a measure. A refused one of this check comes
// back with what was typed.
func readingForm(in BenchInput, m profile.Measure, check string) ReadingForm {
	f := ReadingForm{
		Action: TicketAddress(in.Story.Ticket.Number) + "/readings", ID: in.NewID(), Unit: string(m.Unit()),
		Pressed: map[string]bool{},
		Typed:   ui.Input{Name: "typed", Label: "The meter shows", Mode: "text", Max: 40},
		Residue: ui.Input{Name: "residue", Label: "DC volts between the points before", Mode: "text", Max: 40},
	}
	e := in.Entry
	if in.Form != "reading" || e.Check != check {
		return f
	}
	f.ID, f.Refusal = e.ID, in.refusal("reading")
	f.Typed.Value, f.Residue.Value = e.Typed, e.Residue
	f.Typed.Problem, f.Residue.Problem = f.Refusal.Problem("typed"), f.Refusal.Problem("residue")
	f.Pressed = map[string]bool{"swapped": e.Swapped, "lifted": e.Lifted, "up": e.Moving == "up", "down": e.Moving == "down",
		"not_on_metal": e.NotOnMetal, "old": e.Subject == "old", "new": e.Subject == "new"}
	return f
}

// modeWords says a way of failing as in "R3 open".
func modeWords(m profile.Mode) string {
	switch m {
	case profile.ModeStuckHigh:
		return "stuck high"
	case profile.ModeStuckLow:
		return "stuck low"
	case profile.ModeLEDOpen:
		return "LED open"
	case profile.ModeOutputOpen:
		return "output open"
	case profile.ModeOutputShort:
		return "output shorted"
	case profile.ModeShort:
		return "shorted"
	}
	return string(m)
}
