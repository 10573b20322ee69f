package simulation

import (
	"math/rand/v2"
	"slices"
	"time"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
)

// Repair is how one simulated board went. What is said of the first conclusion
// is said of the first that asks for no reading again, or asked in vain.
type Repair struct {
	Defects []profile.Defect
	Visible bool     // some offered check reads outside what good boards read
	Telling []string // the bad parts of which one would, were it the only one
	InOrder int      // readings until the first such check, in the profile's own order
	Code    string
	Slips   int // readings until the end that were slips

	Readings int     // until the first conclusion
	Minutes  float64 // of these, states set up as they change
	Again    int     // of these, asked for again by a conclusion
	Status   analysis.Status
	Claimed  []string   // parts of the first conclusion
	Groups   [][]string // when it could not tell them apart
	Top      []analysis.Suspect
	Midway   []analysis.Suspect // after half of these readings
	Why      string             // of the first conclusion

	Left     []string // parts that are still bad when it calls the board healthy, or gives up
	Missed   []string // those of Left that some check would reveal, were each the only one
	Cured    bool     // nothing that a check would reveal is left
	Claims   int      // conclusions that called parts bad
	False    int      // of these, such as name a good part
	Good     []string // good parts that were called bad
	Needless []string // good parts that were exchanged because nothing told them from others
	Rounds   int      // conclusions until then
	Total    int      // readings until then
	Final    analysis.Status

	Fixed *FixedOrder // the same board read top to bottom; nil when that was not tried
}

// FixedOrder is how the same analysis went on the same board when the checks were
// made in the profile's order.
type FixedOrder struct {
	Readings int // until the first conclusion
	Minutes  float64
	Exact    bool
}

// Exact tells whether the first conclusion named exactly the bad parts, or a
// group of which no check could tell them. A bad part that no check would reveal
// may be left out.
func (r *Repair) Exact() bool { return r.exact(r.Status, r.Claimed, r.Groups) }

func (r *Repair) exact(status analysis.Status, claimed []string, groups [][]string) bool {
	switch status {
	case analysis.Found:
		return r.names(claimed)
	case analysis.Indistinguishable:
		return slices.ContainsFunc(groups, r.names)
	case analysis.Healthy:
		return r.names(nil)
	}
	return false
}

// names tells whether a set of parts is what is bad, save parts that no check
// would reveal.
func (r *Repair) names(set []string) bool {
	if len(set) == 0 && r.Visible {
		return false
	}
	return subset(set, r.bad()) && subset(r.Telling, set)
}

// InThree tells whether the bad parts are one of the first three part sets.
func (r *Repair) InThree() bool {
	if r.Exact() {
		return true
	}
	var sets [][]string
	for _, s := range r.Top {
		refs := partsOf(s)
		if !slices.ContainsFunc(sets, func(x []string) bool { return sameSet(x, refs) }) {
			sets = append(sets, refs)
		}
	}
	return slices.ContainsFunc(sets[:min(3, len(sets))], r.names)
}

// explainedBy tells whether a suspect is what is wrong, modes included: all of
// it, or of several faults those that some check would reveal, for the analysis
// leaves out of a set what explains nothing.
func (r *Repair) explainedBy(s analysis.Suspect) bool {
	for _, f := range s.Faults {
		if !slices.ContainsFunc(r.Defects, func(d profile.Defect) bool { return d.Part == f.Part && d.Mode == f.Mode }) {
			return false
		}
	}
	parts := partsOf(s)
	return sameSet(parts, r.bad()) || len(r.Defects) > 1 && sameSet(parts, r.Telling)
}

func partsOf(s analysis.Suspect) []string {
	var refs []string
	for _, f := range s.Faults {
		refs = append(refs, f.Part)
	}
	return refs
}

func (r *Repair) bad() []string {
	var out []string
	for _, d := range r.Defects {
		out = append(out, d.Part)
	}
	return out
}

func sameSet(a, b []string) bool { return subset(a, b) && subset(b, a) }

func subset(a, b []string) bool {
	return !slices.ContainsFunc(a, func(x string) bool { return !slices.Contains(b, x) })
}

// Bounds of a simulated repair.
const (
	mostReadings = 120
	mostRounds   = 5
	mostAgain    = 2 // times that one check is made again before a part is fitted
)

// Repair makes the offered checks on a board until the analysis concludes, fits
// what it found and measures again, until it calls the board healthy or can say
// no more.
func (t *Technician) Repair(w World, rng *rand.Rand, defects ...profile.Defect) *Repair {
	return t.repair(NewBoard(t.Profile, t.Meter, w, rng, defects...))
}

// RepairBothWays is Repair and the same board read in the profile's order.
func (t *Technician) RepairBothWays(w World, rng *rand.Rand, defects ...profile.Defect) *Repair {
	b := NewBoard(t.Profile, t.Meter, w, rng, defects...)
	r := t.repair(b)
	r.Fixed = t.inOrder(b.twin(rng, defects...), r)
	return r
}

func (t *Technician) repair(b *Board) *Repair {
	first := b.revealed(t.rows)
	out := &Repair{Defects: b.defects, Visible: first >= 0, InOrder: first + 1, Telling: b.telling(t.rows)}
	if b.world.Codes {
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
		if !out.fit(b, &r.Conclusion, &readings) {
			break
		}
	}
	out.Left, out.Slips = b.Bad(), b.slips
	if out.Cured = b.revealed(t.rows) < 0; !out.Cured {
		out.Missed = b.telling(t.rows)
	}
	return out
}

// fit puts new parts in for those that a conclusion names, and tells whether
// there were any. Where it cannot tell parts apart, all are exchanged.
func (r *Repair) fit(b *Board, c *analysis.Conclusion, readings *[]analysis.Reading) bool {
	found := c.Status == analysis.Found
	if !found && c.Status != analysis.Indistinguishable {
		return false
	}
	bad := b.Bad()
	if found {
		r.Claims++
		if !subset(c.Parts, bad) {
			r.False++
		}
	}
	for _, ref := range c.Parts {
		switch good := !slices.Contains(bad, ref); {
		case good && found:
			r.Good = append(r.Good, ref)
		case good:
			r.Needless = append(r.Needless, ref)
		}
		b.Fit(ref)
		*readings = append(*readings, analysis.Reading{Fitted: ref})
	}
	return len(c.Parts) > 0
}

// conclude makes checks until there is a conclusion, or nothing more to read. A
// reading that a conclusion asks for again is made again, so often at most.
func (t *Technician) conclude(b *Board, out *Repair, readings *[]analysis.Reading, state *string) *analysis.Result {
	h := &hands{t: t, b: b, readings: *readings, state: *state, again: map[profile.Key]int{}}
	var answers [][]analysis.Suspect
	var last *analysis.Result
	for {
		last = t.weigh(h.readings, out.Code)
		answers = append(answers, last.Suspects)
		if c, ok := h.asked(last); ok && out.Total+h.made < mostReadings {
			h.read(c)
			continue
		}
		break
	}
	if out.Rounds == 0 {
		out.Minutes, out.Again, out.Midway = h.minutes, h.asks, answers[len(answers)/2]
	}
	out.Total += h.made
	*readings, *state = h.readings, h.state
	return last
}

// weigh asks the analysis.
func (t *Technician) weigh(readings []analysis.Reading, code string) *analysis.Result {
	start := time.Now()
	r, err := t.Model.Weigh(analysis.Case{Readings: readings, Code: code})
	if err != nil {
		panic(err) // the code is the profile's own
	}
	t.weighings.Add(1)
	t.weighing.Add(int64(time.Since(start)))
	return r
}

// hands are the technician's at one board between two conclusions.
type hands struct {
	t        *Technician
	b        *Board
	readings []analysis.Reading
	state    string
	again    map[profile.Key]int // how often a check was made again
	made     int                 // readings
	asks     int                 // of these, because a conclusion asked for them again
	minutes  float64
}

// asked gives the check that an answer asks for: one to make again that was not
// made again too often, or the first offered.
func (h *hands) asked(r *analysis.Result) (profile.Check, bool) {
	if c, ok := h.askedAgain(r); ok {
		return c, true
	}
	if len(r.Next) > 0 {
		return r.Next[0].Measured, true
	}
	return profile.Check{}, false
}

// askedAgain gives the check that an answer asks to make again.
func (h *hands) askedAgain(r *analysis.Result) (profile.Check, bool) {
	c := r.Conclusion.Again
	if c == nil || h.again[c.Key()] >= mostAgain {
		return profile.Check{}, false
	}
	h.again[c.Key()]++
	h.asks++
	return *c, true
}

// read makes a check, and where the technician does so with odd readings, twice.
func (h *hands) read(c profile.Check) analysis.Reading {
	r := h.once(c)
	if h.b.world.Twice && h.again[c.Key()] == 0 && odd(r, h.t.row(c)) {
		h.again[c.Key()]++
		h.once(c)
	}
	return r
}

func (h *hands) once(c profile.Check) analysis.Reading {
	if st, ok := h.t.Profile.State(c.State); ok && c.State != h.state {
		h.minutes += st.SetupMinutes
	}
	h.minutes += c.Minutes
	h.state = c.State
	h.made++
	r := h.b.Read(c)
	h.readings = append(h.readings, r)
	return r
}
