package simulation

import (
	"math/rand/v2"
	"slices"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Repair is how one simulated board went.
type Repair struct {
	Defects  []profile.Defect
	Visible  bool // some offered check reads outside what good boards read
	InOrder  int  // readings until the first such check, in the profile's own order
	Code     string
	Readings int     // until the first conclusion
	Minutes  float64 // of these, states set up as they change
	Status   analysis.Status
	Claimed  []string   // parts of the first conclusion
	Groups   [][]string // when it could not tell them apart
	Top      []analysis.Suspect
	Left     []string // parts that are still bad when it calls the board healthy, or gives up
	Cured    bool     // nothing that a check would reveal is left
	Good     []string // good parts that were called bad
	Rounds   int      // conclusions until then
	Total    int      // readings until then
	Final    analysis.Status
	Why      string // of the first conclusion
}

// Exact tells whether the first conclusion named exactly the bad parts, or a
// group of which no check could tell them.
func (r *Repair) Exact() bool {
	bad := r.bad()
	switch r.Status {
	case analysis.Found:
		return sameSet(r.Claimed, bad)
	case analysis.Indistinguishable:
		return slices.ContainsFunc(r.Groups, func(g []string) bool { return sameSet(g, bad) })
	case analysis.Healthy:
		return len(bad) == 0
	}
	return false
}

// InThree tells whether the bad parts are one of the first three part sets.
func (r *Repair) InThree() bool {
	if r.Exact() {
		return true
	}
	var sets [][]string
	for _, s := range r.Top {
		var refs []string
		for _, f := range s.Faults {
			refs = append(refs, f.Part)
		}
		if !slices.ContainsFunc(sets, func(x []string) bool { return sameSet(x, refs) }) {
			sets = append(sets, refs)
		}
	}
	for _, s := range sets[:min(3, len(sets))] {
		if sameSet(s, r.bad()) {
			return true
		}
	}
	return false
}

func (r *Repair) bad() []string {
	var out []string
	for _, d := range r.Defects {
		out = append(out, d.Part)
	}
	return out
}

func sameSet(a, b []string) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(slices.Compact(a), slices.Compact(b))
}

// Bounds of a simulated repair.
const (
	mostReadings = 120
	mostRounds   = 5
)

// Technician repairs boards of one profile with one meter.
type Technician struct {
	Profile *profile.Profile
	Meter   *meter.Meter
	Model   *analysis.Model
	rows    []analysis.Row // what good boards read, in the profile's order
}

// NewTechnician prepares; the model is worked out as it is needed.
func NewTechnician(p *profile.Profile, m *meter.Meter) (*Technician, error) {
	t := &Technician{Profile: p, Meter: m, Model: analysis.NewModel(p, m)}
	r, err := t.Model.Diagnose(nil, "")
	if err != nil {
		return nil, err
	}
	t.rows = r.Table
	return t, nil
}

// Repair makes the offered checks on a board until the analysis concludes, fits
// what it found and measures again, until it calls the board healthy or can say
// no more.
func (t *Technician) Repair(w World, rng *rand.Rand, defects ...profile.Defect) *Repair {
	b := NewBoard(t.Profile, t.Meter, w, rng, defects...)
	first := b.revealed(t.rows)
	out := &Repair{Defects: defects, Visible: first >= 0, InOrder: first + 1}
	if w.Codes {
		out.Code = b.Code()
	}
	var readings []analysis.Reading
	state := profile.Cold
	for out.Rounds < mostRounds {
		r := t.conclude(b, out, &readings, &state)
		out.Rounds++
		out.Final = r.Conclusion.Status
		if out.Rounds == 1 {
			out.Status, out.Claimed, out.Groups = r.Conclusion.Status, r.Conclusion.Parts, r.Conclusion.Groups
			out.Readings, out.Top, out.Why = out.Total, r.Suspects, r.Conclusion.Why
		}
		if s := r.Conclusion.Status; s != analysis.Found && s != analysis.Indistinguishable {
			break
		}
		for _, ref := range r.Conclusion.Parts {
			if r.Conclusion.Status == analysis.Found && !slices.Contains(b.Bad(), ref) {
				out.Good = append(out.Good, ref)
			}
			b.Fit(ref)
			readings = append(readings, analysis.Reading{Fitted: ref})
		}
		if len(r.Conclusion.Parts) == 0 {
			break
		}
	}
	out.Left = b.Bad()
	out.Cured = b.revealed(t.rows) < 0
	return out
}

// conclude makes checks until there is a conclusion, or nothing more to read.
func (t *Technician) conclude(b *Board, out *Repair, readings *[]analysis.Reading, state *string) *analysis.Result {
	for {
		r, err := t.Model.Weigh(analysis.Case{Readings: *readings, Code: out.Code})
		if err != nil {
			panic(err) // the code is the profile's own
		}
		if len(r.Next) == 0 || out.Total >= mostReadings {
			return r
		}
		c := r.Next[0].Measured
		if out.Rounds == 0 {
			out.Minutes += c.Minutes
			if st, ok := t.Profile.State(c.State); ok && c.State != *state {
				out.Minutes += st.SetupMinutes
			}
		}
		*state = c.State
		*readings = append(*readings, b.Read(c))
		out.Total++
	}
}
