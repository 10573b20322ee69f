package analysis

import (
	"math"
	"sort"
	"strings"

	"ohmstead/internal/belief"
	"ohmstead/internal/profile"
)

// Prices are what danger and lifting a leg cost beside the time that a check
// takes, in minutes. An owner may change them.
type Prices struct {
	Hazardous       float64 // to power a state that can kill
	ExtraLowVoltage float64 // to power a state that cannot
	Lifted          float64 // to take a leg off the board
}

// DefaultPrices make a live state cost as much as a handful of cold checks.
func DefaultPrices() Prices { return Prices{Hazardous: 5, Lifted: 2} }

// foresight is what the checks that could still be made are foreseen to show.
type foresight struct {
	*weighing
	entries     []*entry // checks that are available: not made yet
	offered     []*entry // these, and those that were made
	base        []belief.Outcome
	separable   []float64 // how far the offered set each cause apart from a healthy board
	unmade      []float64 // how far the entries do
	known       bool
	healthyLogL float64
	solver      *solver
	groups      []group
}

// available gives the checks that the profile offers and that can be made, not
// those that turned out impossible: those not made since the last part was
// fitted, and all.
func (m *Model) available(readings []Reading) (left, all []profile.Check) {
	gone := map[profile.Key]bool{}
	made := map[profile.Key]bool{}
	for _, r := range readings {
		if r.Fitted != "" {
			clear(made)
		}
		switch {
		case r.Bare():
		case r.NotPossible:
			gone[r.Check.Key()] = true
		default:
			made[r.Check.Key()] = true
		}
	}
	for _, c := range m.profile.Checks {
		k := c.Key()
		if !gone[k] {
			all = append(all, c)
		}
		if !gone[k] && !made[k] {
			left = append(left, c)
			made[k] = true // one of two names of one measurement is enough
		}
	}
	return left, all
}

// foreseeAll prepares what the available checks are foreseen to show, by the most
// probable hypothesis where it does not move them.
func (w *weighing) foreseeAll(checks, all []profile.Check) *foresight {
	f := &foresight{weighing: w, groups: w.groups(false), solver: w.solver()}
	for _, e := range w.d.ensure(checks) {
		if e.err == nil {
			f.entries = append(f.entries, e)
		}
	}
	for _, e := range w.d.ensure(all) {
		if e.err == nil {
			f.offered = append(f.offered, e)
		}
	}
	f.separable, f.unmade = w.d.separability(f.offered), w.d.separability(f.entries)
	best := w.best()
	s := w.withoutSlips(ptr(w.score(w.all[best].places)))
	for _, e := range f.entries {
		fc := w.foresee(e, nil)
		if now := w.foresee(e, w.now(&w.all[best])); now.touched {
			f.base = append(f.base, w.unread(&fc))
			continue
		}
		f.base = append(f.base, w.read(s, &fc))
	}
	return f
}

func ptr[T any](x T) *T { return &x }

// best gives the most probable hypothesis of this board.
func (w *weighing) best() int {
	best := 0
	for i := range w.all {
		if w.all[i].p > w.all[best].p && w.all[i].sibling == nil {
			best = i
		}
	}
	return best
}

// now gives the places of a hypothesis whose parts are still on the board.
func (w *weighing) now(h *hypothesis) []place {
	var out []place
	for _, p := range h.places {
		if !w.fitted[w.partOf(p.cause)] {
			out = append(out, p)
		}
	}
	return out
}

// unread turns a forecast into the outcome of a test by itself.
func (w *weighing) unread(f *forecast) belief.Outcome {
	return toOutcome(f, f.y, w.covariance(f, f)+f.variance)
}

// read is unread given the readings.
func (w *weighing) read(s *scored, f *forecast) belief.Outcome {
	if f.over >= 1 || f.lost {
		return toOutcome(f, 0, 0)
	}
	mean, variance := w.given(s, f)
	return toOutcome(f, mean, variance)
}

func toOutcome(f *forecast, mean, variance float64) belief.Outcome {
	if f.lost {
		return belief.Outcome{Over: 0.5, SD: 10}
	}
	return belief.Outcome{Mean: mean, SD: math.Sqrt(variance), Over: f.over}
}

// outcomes gives what every available check is foreseen to show under one
// hypothesis.
func (f *foresight) outcomes(h *hypothesis) []belief.Outcome {
	out := append([]belief.Outcome(nil), f.base...)
	now := f.now(h)
	if len(now) > 1 {
		f.solver.solve(f.entries, now)
	}
	var s *scored
	for i, e := range f.entries {
		fc := f.foresee(e, now)
		if !fc.touched {
			continue
		}
		if s == nil {
			s = f.withoutSlips(ptr(f.score(h.places)))
		}
		out[i] = f.read(s, &fc)
	}
	return out
}

// Bounds of a study.
const (
	studyGroups = 240
	studyMass   = 0.997
	fewGroups   = 40  // so few are each represented by three sizes
	studyDraws  = 160 // simulated outcomes
	testDoubt   = 0.02
)

// study makes the study of some groups, or of the most probable ones when none
// are given. Its classes are the sets of parts, numbered as classes gives them.
func (f *foresight) study(groups []group) (s *belief.Study, classes map[string]int) {
	if groups == nil {
		mass := 0.0
		for _, g := range f.groups {
			if g.sibling != nil {
				continue
			}
			groups = append(groups, g)
			if mass += g.p; mass > studyMass || len(groups) == studyGroups {
				break
			}
		}
	}
	perGroup := 1
	if len(groups) <= fewGroups {
		perGroup = 3
	}
	s = &belief.Study{Doubt: testDoubt, Tests: make([][]belief.Outcome, len(f.entries))}
	classes = map[string]int{}
	total := 0.0
	for gi := range groups {
		g := &groups[gi]
		key := strings.Join(f.refs(g), " ")
		class, ok := classes[key]
		if !ok {
			class = len(classes)
			classes[key] = class
		}
		for _, r := range f.represent(g, perGroup) {
			s.P = append(s.P, g.p/float64(perGroup))
			s.Class = append(s.Class, class)
			total += g.p / float64(perGroup)
			for t, o := range f.outcomes(&f.all[r]) {
				s.Tests[t] = append(s.Tests[t], o)
			}
		}
	}
	for h := range s.P {
		s.P[h] /= total
	}
	return s, classes
}

// represent gives n members of a group that stand for equal shares of it, in the
// order in which they were listed (sizes rise along it).
func (f *foresight) represent(g *group, n int) []int {
	out := make([]int, 0, n)
	sum, k := 0.0, 0
	for _, i := range g.members {
		sum += f.all[i].p
		for k < n && sum >= g.p*(float64(k)+0.5)/float64(n)*(1-1e-9) {
			out = append(out, i)
			k++
		}
	}
	for len(out) < n {
		out = append(out, g.best)
	}
	return out
}

// Rules of the choice of checks.
const (
	mostNext  = 5
	mostBatch = 6
	leastGain = 0.004 // bits below which a check is not worth offering
	faintGain = 1e-4  // the same while much is left that each check can tell but little of
	evenGain  = 0.02  // bits that count as equal
)

// next chooses the checks worth making: the most information about which parts
// are bad, per minute. A state costs its set-up once, shared by the checks of
// the best batch that it allows.
func (f *foresight) next(last string, prices Prices, least float64) []Next {
	s, _ := f.study(nil)
	b := s.Simulate(studyDraws)
	alone := b.Nothing()
	gains := make([]float64, len(f.entries))
	byState := map[string][]int{}
	for i, e := range f.entries {
		if b.Tells(i) {
			if gains[i] = alone.Bits(i); gains[i] > least {
				byState[e.check.State] = append(byState[e.check.State], i)
			}
		}
	}
	share := map[string]float64{} // of each state's set-up
	for state, tests := range byState {
		share[state] = f.setUp(state, last, prices) / float64(f.batch(b, tests))
	}
	out := []Next{}
	for i, e := range f.entries {
		if gains[i] <= least {
			continue
		}
		n := f.describe(i)
		n.GainBits = math.Round(gains[i]*1000) / 1000
		if least < leastGain {
			n.GainBits = gains[i]
		}
		n.Minutes = math.Round((n.Measured.Minutes+share[e.check.State]+f.lifting1(n.Measured, prices))*100) / 100
		out = append(out, n)
	}
	sort.SliceStable(out, func(a, b int) bool { return f.before(&out[a], &out[b]) })
	out = out[:min(mostNext, len(out))]
	for i := range out {
		f.tellNext(&out[i])
	}
	return out
}

// lifting1 prices a lifted leg.
func (f *foresight) lifting1(c profile.Check, prices Prices) float64 {
	if c.Lifted {
		return prices.Lifted
	}
	return 0
}

// setUp gives the minutes that a state costs beside its checks, danger priced
// in; nothing for the state in which the board stands.
func (f *foresight) setUp(state, last string, prices Prices) float64 {
	st, _ := f.d.model.profile.State(state)
	if st.ID == profile.Cold || st.ID == last {
		return 0
	}
	switch st.Hazard {
	case profile.Hazardous:
		return st.SetupMinutes + prices.Hazardous
	case profile.ExtraLowVoltage:
		return st.SetupMinutes + prices.ExtraLowVoltage
	}
	return st.SetupMinutes
}

// batch gives how many checks of a state are worth making once it is set up:
// always the one that adds most, while it adds a tenth of the first.
func (f *foresight) batch(b *belief.Bench, tests []int) int {
	if len(tests) <= 1 || f.entries[tests[0]].check.State == profile.Cold {
		return 1
	}
	j := b.Nothing()
	left := append([]int(nil), tests...)
	n, known, first := 0, 0.0, 0.0
	for n < mostBatch && len(left) > 0 {
		best, most := -1, known
		for k, t := range left {
			if bits := j.Bits(t); bits > most {
				best, most = k, bits
			}
		}
		if best < 0 || n > 0 && most-known < max(first/10, leastGain) {
			break
		}
		if n == 0 {
			first = most
		}
		j.Add(left[best])
		left = append(left[:best], left[best+1:]...)
		known = most
		n++
	}
	return max(n, 1)
}

// before orders checks: by information per minute; at equal worth cold before
// powered, not lifted before lifted, not hazardous before hazardous, then as the
// profile lists them.
func (f *foresight) before(a, b *Next) bool {
	x, y := a.GainBits/a.Minutes, b.GainBits/b.Minutes
	if x != y {
		return x > y
	}
	for _, rule := range []func(*Next) bool{
		func(n *Next) bool { return n.Measured.State == profile.Cold },
		func(n *Next) bool { return !n.Measured.Lifted },
		func(n *Next) bool {
			st, _ := f.d.model.profile.State(n.Measured.State)
			return st.Hazard != profile.Hazardous
		},
	} {
		if rule(a) != rule(b) {
			return rule(a)
		}
	}
	return false
}

func (f *foresight) describe(i int) Next {
	c := f.entries[i].check
	return Next{Check: refOf(c), Measured: c}
}

// apart tells whether a forecast stands clear of an outcome.
func (f *foresight) apart(fc *forecast, o belief.Outcome) bool {
	if !fc.touched || fc.lost {
		return false
	}
	if math.Abs(fc.over-o.Over) > 0.5 {
		return true
	}
	own := f.unread(fc)
	return math.Abs(fc.y-o.Mean) > 3*math.Sqrt((own.SD*own.SD+o.SD*o.SD)/2)
}
