package page

import (
	"strconv"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/web/ui"
)

// ExpectedTable is the expected-against-actual table: every check in the
// profile's order, as often as it was read, then readings at other places.
type ExpectedTable struct {
	Lines []ExpectedLine
	Meter string
	Read  int // how many of the lines were read
}

// ExpectedLine is one check of it.
type ExpectedLine struct {
	ID         string // of the check, "" when the profile has none like it
	Address    string // leads to the check; "" when there is none
	Place      string // "R3"
	How        string // "resistance, cold"
	Low        Figure
	Typical    Figure
	High       Figure
	Unit       string
	Here       string // the band at what was read across sources; "" when it is the same
	Scale      ui.Scale
	Actual     Figure
	Word       string // instead of a number
	Verdict    ui.Verdict
	Blind      bool
	Why        string
	Impossible bool // cannot be made on this board
	AtHand     bool
	Fold       foldName
}

// tableOf makes the table. Numbers of a column line up at the decimal mark;
// within a row they share one prefix.
func tableOf(in BenchInput) ExpectedTable {
	t := ExpectedTable{Meter: in.Model.Meter.Name}
	if in.Judged == nil {
		return t
	}
	cols := make([][]string, 4)
	for _, row := range in.profileOrder() {
		line, numbers := expectedLine(in, row)
		if row.Reading != nil {
			t.Read++
		}
		t.Lines = append(t.Lines, line)
		for c := range cols {
			cols[c] = append(cols[c], numbers[c])
		}
	}
	for c, of := range []func(*ExpectedLine) *Figure{
		func(l *ExpectedLine) *Figure { return &l.Low },
		func(l *ExpectedLine) *Figure { return &l.Typical },
		func(l *ExpectedLine) *Figure { return &l.High },
		func(l *ExpectedLine) *Figure { return &l.Actual },
	} {
		for i, f := range in.Locale.Figures(cols[c]...) {
			to := of(&t.Lines[i])
			f.Unit = to.Unit
			*to = f
		}
	}
	return t
}

// profileOrder sorts the engine's rows as the profile lists its checks, readings
// at other places last. A check that cannot be made keeps its line.
func (in BenchInput) profileOrder() []*analysis.Row {
	byCheck := map[profile.Key][]*analysis.Row{}
	table := in.Judged.Result.Table
	for i := range table {
		k := table[i].Measured.Key()
		byCheck[k] = append(byCheck[k], &table[i])
	}
	var out []*analysis.Row
	for _, c := range in.Model.Profile.Checks {
		rows := byCheck[c.Key()]
		if len(rows) == 0 && in.Judged.Impossible[c.Key()] {
			rows = []*analysis.Row{{Measured: c}}
		}
		out = append(out, rows...)
		delete(byCheck, c.Key())
	}
	for i := range table {
		if k := table[i].Measured.Key(); byCheck[k] != nil {
			out = append(out, byCheck[k]...)
			delete(byCheck, k)
		}
	}
	return out
}

// expectedLine makes one line, and the numbers of its columns: low, typical,
// high, actual.
func expectedLine(in BenchInput, row *analysis.Row) (ExpectedLine, [4]string) {
	c := row.Measured
	line := ExpectedLine{
		ID: c.ID, Place: placeName(c), How: wordsOf(c.Measure) + ", " + c.State,
		Verdict: ui.Verdict(row.Verdict), Why: in.Locale.sentence(row.Why), Blind: !row.CanTell && row.Expected != nil,
		Scale: ui.NewScale(scaledOf(row, 0)), AtHand: c.ID != "" && c.ID == in.Check,
		Fold: foldOf(in.Model.Profile, c),
	}
	if c.ID != "" {
		line.Address = checkAddress(in.Story.Ticket.Number, c.ID)
	}
	if row.Reading == nil && row.Expected != nil {
		line.Why = wouldRead(in.Locale, row)
	}
	t := textsOf(row.Expected, row.Resolution)
	line.Unit = t.unit
	if here := textsOf(row.ExpectedHere, row.Resolution); here.low != "" {
		line.Here = here.good(in.Locale)
	}
	numbers := [4]string{t.low, t.typical, t.high, ""}
	switch {
	case row.Reading == nil:
		line.Impossible = in.Judged.Impossible[c.Key()]
	case row.Reading.Value.Typed == bench.Agreed:
		line.Word = "agrees"
	case row.OverRange:
		line.Word = "OL"
	case row.Actual != nil:
		numbers[3], line.Actual.Unit = actualText(t, row)
	}
	return line, numbers
}

// wouldRead says what the part of a check that was not read yet would show when
// it is faulty; what a good one shows stands in the columns.
func wouldRead(l Locale, row *analysis.Row) string {
	var parts []string
	unit := row.Measured.Measure.Unit()
	for _, f := range []struct {
		word string
		at   *analysis.Shown
	}{{"open", row.Open}, {"shorted", row.Short}} {
		if f.at != nil {
			parts = append(parts, f.word+" "+l.shown(*f.at, unit))
		}
	}
	if len(parts) == 0 {
		for _, f := range row.Telling[:min(2, len(row.Telling))] {
			parts = append(parts, faultWords([]analysis.Fault{f.Fault})+" "+l.shown(f.Shown, unit))
		}
	}
	return strings.Join(parts, ", ")
}

// actualText writes a reading in the prefix of its row.
func actualText(t bandTexts, row *analysis.Row) (number, unit string) {
	s := t.scale
	if t.unit == "" {
		s = scaleOfRow(*row.Actual, row.Reading.Value.Digit, row.Measured.Measure.Unit())
	}
	number, unit = s.reading(*row.Actual, row.Reading.Value.Digit)
	return strings.Replace(number, "−", "-", 1), unit
}

// checkAddress leads to a check on the bench.
func checkAddress(ticket int64, check string) string {
	return BenchAddress(ticket) + "?check=" + urlQuery(check) + "#now"
}

// OfflineTable is what the page judges by itself while the network is away:
// numbers in the base unit, null is over-range.
type OfflineTable struct {
	Ticket   string         `json:"ticket"`
	Post     string         `json:"post"` // where readings are sent
	State    string         `json:"state"`
	Decimal  string         `json:"decimal"` // the shop's decimal mark
	Meter    string         `json:"meter"`
	Version  int64          `json:"version"` // of the ticket
	Checks   []OfflineCheck `json:"checks"`
	Inactive []string       `json:"inactive"` // checks that were read or cannot be made
	Next     []string       `json:"next"`     // checks in the order the engine proposes them
	// Steps are, by measure, up to which value the meter shows which resolution.
	Steps map[profile.Measure][][2]float64 `json:"steps"`
}

// OfflineCheck is one check of the expectation table.
type OfflineCheck struct {
	ID      string          `json:"id"`
	Name    string          `json:"name"`
	State   string          `json:"state"`
	Measure profile.Measure `json:"measure"`
	Swapped bool            `json:"swapped,omitempty"`
	Lifted  bool            `json:"lifted,omitempty"`
	Unit    string          `json:"unit"`
	Known   bool            `json:"known"` // a band is known
	Low     *float64        `json:"low"`
	High    *float64        `json:"high"`
	Guard   [2]*float64     `json:"guard"` // beyond it a reading is bad
	CanTell bool            `json:"can_tell"`
}

// offlineOf makes the table that travels with the page.
func offlineOf(in BenchInput) OfflineTable {
	number := in.Story.Ticket.Number
	t := OfflineTable{
		Ticket: strconv.FormatInt(number, 10), Post: TicketAddress(number) + "/readings", State: BenchAddress(number) + "/state",
		Decimal: in.Locale.Decimal("."), Meter: in.Model.Meter.Name, Checks: []OfflineCheck{}, Inactive: []string{},
		Version: in.Story.Ticket.Version, Next: []string{}, Steps: stepsOf(in.Model.Meter),
	}
	if in.Judged != nil {
		for _, n := range in.Judged.Result.Next {
			if n.Check.ID != "" {
				t.Next = append(t.Next, n.Check.ID)
			}
		}
	}
	for _, c := range in.Model.Profile.Checks {
		o := OfflineCheck{ID: c.ID, Name: checkName(c), State: c.State, Measure: c.Measure,
			Swapped: c.Swapped, Lifted: c.Lifted, Unit: string(c.Measure.Unit())}
		row := in.row(c)
		if row != nil {
			o.expect(row)
		}
		if in.Judged != nil && (in.Judged.Impossible[c.Key()] || row != nil && row.Reading != nil) {
			t.Inactive = append(t.Inactive, c.ID)
		}
		t.Checks = append(t.Checks, o)
	}
	return t
}

// stepsOf lists the resolutions of a meter, upward.
func stepsOf(m *meter.Meter) map[profile.Measure][][2]float64 {
	steps := map[profile.Measure][][2]float64{
		profile.MeasureDiode: {{m.Diode.Compliance, m.Diode.Resolution}},
	}
	for _, r := range m.Resistance.Ranges {
		steps[profile.MeasureResistance] = append(steps[profile.MeasureResistance], [2]float64{r.FullScale, r.Resolution})
	}
	for measure, v := range map[profile.Measure]meter.Volts{profile.MeasureDCVolts: m.DCVolts, profile.MeasureACVolts: m.ACVolts} {
		for _, s := range v.Steps {
			steps[measure] = append(steps[measure], [2]float64{s.UpTo, s.Resolution})
		}
	}
	return steps
}

func (o *OfflineCheck) expect(row *analysis.Row) {
	band := row.Expected
	if row.ExpectedHere != nil {
		band = row.ExpectedHere
	}
	if band == nil {
		return
	}
	o.Known, o.Low, o.High, o.CanTell = true, band.Low, band.High, row.CanTell
	o.Guard = [2]*float64{row.Guard.Low, row.Guard.High}
}
