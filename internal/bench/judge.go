package bench

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// Judgement is what the engine makes of a ticket's readings.
type Judgement struct {
	Result *analysis.Result            // suspects are shared with others who asked the same: only to be read
	Code   string                      // the indication that was taken as evidence, "" when none was
	Rows   map[uuid.UUID]*analysis.Row // by reading; those that did not count are missing
	// Left says of a reading why it did not count, in a clause.
	Left map[uuid.UUID]string
	// Others are the meters, besides the model's own, that readings were taken
	// with: those stand in Left until a Judgement through their meter is put
	// Beside this one.
	Others []*meter.Meter
	// Overruled are the readings on which a person's verdict stands: they have a row
	// of their own, compared by themselves, and are not weighed.
	Overruled map[uuid.UUID]*evidence.Overrule
	// Impossible holds the checks that cannot be made on this board.
	Impossible map[profile.Key]bool
	// Sibling is the revision that the readings fit better; nil: none.
	Sibling *Sibling
	// Pending says that suspects, next check and conclusion are still being worked
	// out; Result has the table alone.
	Pending bool
}

// step is one thing that happened on the bench: a reading or a part fitted.
type step struct {
	at      time.Time
	reading *evidence.Reading
	fitted  string
}

// Compare sets a ticket's readings against what a good board reads: the table,
// without suspects. Readings go in the order taken, fitted parts between them;
// those that were struck, taken off metal, of a part that is not in the board, or
// taken with another meter are left out: what a meter shows depends on the meter.
// ms may be nil when the shop has described none.
func (m *Model) Compare(story *shop.Story, ms Meters) *Judgement {
	j, given, ids := m.given(story, ms)
	m.tabulate(j, given, ids)
	return j
}

// Judge is Compare with suspects, next check and conclusion. It waits for them
// until ctx is done; then the judgement is Pending, and they are worked out all the
// same.
func (m *Model) Judge(ctx context.Context, story *shop.Story, ms Meters, k Known) (*Judgement, error) {
	j, given, ids := m.given(story, ms)
	m.tabulate(j, given, ids) // first, so that suspects do not slow it down
	a := m.ask(story.Ticket.ID, m.about(story, given, j.Code, k), k.Siblings...)
	if !a.wait(ctx) {
		j.Pending = true
		return j, nil
	}
	if a.err != nil {
		return nil, a.err
	}
	table := j.Result.Table
	whole := *a.result
	whole.Table = table
	j.Result, j.Sibling = &whole, k.sibling(whole.Conclusion.Sibling)
	return j, nil
}

// Pending tells whether the suspects of a ticket are still being worked out, and
// has that begun when nobody has asked for them yet.
func (m *Model) Pending(story *shop.Story, ms Meters, k Known) bool {
	j, given, _ := m.given(story, ms)
	return !m.ask(story.Ticket.ID, m.about(story, given, j.Code, k), k.Siblings...).isReady()
}

// given is what of a ticket's story the engine is told, with the ids of the
// readings that get a row, in order.
func (m *Model) given(story *shop.Story, ms Meters) (j *Judgement, given []analysis.Reading, ids []uuid.UUID) {
	j = &Judgement{
		Code: m.Code(story.Ticket.Indication), Rows: map[uuid.UUID]*analysis.Row{},
		Left: map[uuid.UUID]string{}, Impossible: map[profile.Key]bool{}, Overruled: map[uuid.UUID]*evidence.Overrule{},
	}
	for _, s := range m.steps(story) {
		if s.reading == nil {
			given = append(given, analysis.Reading{Fitted: s.fitted})
			continue
		}
		r, why := m.weighable(*s.reading)
		if with := ms.Of(s.reading.MeterVersionID); why == "" {
			why = j.through(with, m.Meter)
		}
		if why != "" {
			j.Left[s.reading.ID] = why
			continue
		}
		if o := evidence.Ruled(story.Overrules, s.reading.ID); o != nil && !r.NotPossible {
			j.Overruled[s.reading.ID] = o
			j.Rows[s.reading.ID] = &m.engine.Table([]analysis.Reading{r})[0]
			continue
		}
		if r.NotPossible {
			j.Impossible[r.Check.Key()] = true
		} else {
			ids = append(ids, s.reading.ID)
		}
		given = append(given, r)
	}
	return j, given, ids
}

// tabulate fills in the table, and the row of each reading.
func (m *Model) tabulate(j *Judgement, given []analysis.Reading, ids []uuid.UUID) {
	j.Result = &analysis.Result{Profile: m.Profile.ID, Table: m.engine.Table(given)}
	for i, id := range ids { // one row per reading, in order, comes first
		if i < len(j.Result.Table) {
			j.Rows[id] = &j.Result.Table[i]
		}
	}
}

// through says why a reading with that meter does not count here.
func (j *Judgement) through(with, own *meter.Meter) string {
	switch {
	case with == nil:
		return "taken with a meter that is not described here any more"
	case with == own || digest(with) == digest(own):
		return ""
	}
	for _, m := range j.Others {
		if digest(m) == digest(with) {
			return elsewhere
		}
	}
	j.Others = append(j.Others, with)
	return elsewhere
}

// elsewhere is why a reading does not count in this judgement but in another.
const elsewhere = "taken with another meter"

// Beside takes over the verdicts on readings that were judged through their own
// meter. Suspects, next check and conclusion stay as they are.
func (j *Judgement) Beside(o *Judgement) {
	for id, row := range o.Rows {
		if j.Left[id] == elsewhere {
			j.Rows[id] = row
			delete(j.Left, id)
		}
	}
}

// steps puts readings and fitted parts into the order in which they happened.
func (m *Model) steps(story *shop.Story) []step {
	var out []step
	for i := range story.Readings {
		out = append(out, step{at: story.Readings[i].TakenAt, reading: &story.Readings[i]})
	}
	for _, f := range story.Fitted {
		if _, known := m.Profile.Part(f.Part); known {
			out = append(out, step{at: f.TakenAt, fitted: f.Part})
		}
	}
	slices.SortStableFunc(out, func(a, b step) int { return a.at.Compare(b.at) })
	return out
}

// weighable turns a stored reading into one that the engine weighs, or says
// why it does not count.
func (m *Model) weighable(r evidence.Reading) (analysis.Reading, string) {
	switch {
	case r.Struck != nil:
		return analysis.Reading{}, "struck"
	case r.Condition == evidence.ConditionNotOnMetal:
		return analysis.Reading{}, "not on metal"
	case r.Subject == evidence.SubjectNew:
		return analysis.Reading{}, "of the new part, not of the board"
	}
	c, err := m.measured(r)
	if err != nil {
		return analysis.Reading{}, "the profile does not know this place"
	}
	out := analysis.Reading{Check: c, NotPossible: r.NotPossible, Moving: analysis.Moving(r.Moving), Residue: r.Residue}
	if !r.NotPossible {
		out.Value = valueOf(r)
	}
	return out, ""
}

// Agreed stands as the typed text of a reading that only agreed with the band.
const Agreed = "agrees"

// valueOf gives the value of a stored reading. "Agrees" is the middle of the
// band with a last digit as wide as the band: it claims no more than that.
func valueOf(r evidence.Reading) quantity.Value {
	switch {
	case r.Agrees && r.BandLow != nil && r.BandHigh != nil:
		return quantity.Value{Typed: Agreed, Number: (*r.BandLow + *r.BandHigh) / 2, Digit: *r.BandHigh - *r.BandLow}
	case r.Agrees:
		return quantity.Value{Typed: Agreed, OverRange: true}
	case r.OverRange:
		return quantity.Value{Typed: r.Typed, OverRange: true}
	}
	v, err := quantity.Parse(r.Typed, profile.Measure(r.Measure).Unit())
	if err != nil || r.Value != nil && math.Abs(v.Number-*r.Value) > 1e-9*math.Abs(*r.Value) {
		v = quantity.Value{Typed: r.Typed}
		if r.Value != nil {
			v.Number = *r.Value
		}
	}
	return v
}

// Code finds the indication that somebody wrote down in words: its code, its
// code and more ("2: two blinks"), or what it shows. "none" and "nothing" say
// that the board was powered and shows nothing. Otherwise it is not known, and
// the engine is told nothing.
func (m *Model) Code(written string) string {
	w := strings.ToLower(strings.TrimSpace(written))
	if slices.Contains(nothingWords, w) {
		return shownNothing
	}
	for _, in := range m.Profile.Indications {
		code := strings.ToLower(in.Code)
		if w == code || w == strings.ToLower(in.Shows) || strings.HasPrefix(w, code+":") {
			return in.Code
		}
	}
	return ""
}

// shownNothing is the engine's code for a board that was powered and shows nothing;
// nothingWords are how that is written down.
const shownNothing = "none"

var nothingWords = []string{shownNothing, "nothing"}

// bandOf gives what a good board reads at a reading's place, nil when nothing
// can be said.
func (m *Model) bandOf(r evidence.Reading) *Range {
	c, err := m.measured(r)
	if err != nil {
		return nil
	}
	for _, row := range m.engine.Table(nil) {
		if row.Measured.Key() == c.Key() && row.Expected != nil {
			return &Range{Low: row.Expected.Low, High: row.Expected.High}
		}
	}
	return nil
}

// Row finds the newest row of a check: read, or still to be read.
func (j *Judgement) Row(k profile.Key) *analysis.Row {
	for i := len(j.Result.Table) - 1; i >= 0; i-- {
		if row := &j.Result.Table[i]; row.Measured.Key() == k {
			return row
		}
	}
	return nil
}

// Next says which check to make after another one: the engine's choice, or the
// next of the profile's list that was neither read nor found impossible. after
// may be empty; so is the answer when everything was read.
func (j *Judgement) Next(p *profile.Profile, after string) string {
	for _, n := range j.Result.Next {
		if n.Check.ID != "" {
			return n.Check.ID
		}
	}
	start := 0
	for i, c := range p.Checks {
		if c.ID == after {
			start = i + 1
		}
	}
	for i := range p.Checks {
		c := p.Checks[(start+i)%len(p.Checks)]
		row := j.Row(c.Key())
		if !j.Impossible[c.Key()] && (row == nil || row.Reading == nil) {
			return c.ID
		}
	}
	return ""
}
