package analysis

import (
	"math"
	"sort"
	"sync"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// tellsFrom is the probability of a reading outside the band from which a check
// is said to tell a fault.
const tellsFrom = 0.95

// tell finds out whether a check can tell: whether open or short of the part
// across which it is taken, or for other places of any part, would read outside
// the band.
func (m *Model) tell(c profile.Check, settings []setting, a *assessment) {
	if c.Across != "" {
		m.tellAcross(c, settings, a)
		return
	}
	found := m.faultReadings(c, settings)
	for _, f := range found {
		if !a.outside(f.reading) {
			continue
		}
		if !a.canTell {
			a.canTell = m.tells(c, settings, a, f.part, f.defect.Mode, f.defect.Diode)
		}
		if len(a.telling) < maxTelling {
			a.telling = append(a.telling, Telling{Fault{f.part.Ref, f.defect.Mode}, shownAs(f.reading)})
		}
		if a.canTell && len(a.telling) == maxTelling {
			return
		}
	}
}

// maxTelling is how many telling faults a row names.
const maxTelling = 6

// outside tells whether a reading without error would lie outside the band.
func (a *assessment) outside(r meter.Reading) bool {
	v := shownAs(r)
	return v.less(a.low) || a.high.less(v)
}

// shownAs gives what an instrument without error shows.
func shownAs(r meter.Reading) Shown {
	v, over := r.Show(0)
	return Shown{v, over}
}

// less orders what a display shows; over-range stands above every number.
// Values that differ by less than a rounding error are equal.
func (s Shown) less(t Shown) bool {
	if s.OverRange || t.OverRange {
		return !s.OverRange && t.OverRange
	}
	return s.Value < t.Value-1e-9*max(math.Abs(s.Value), math.Abs(t.Value))
}

func (m *Model) tellAcross(c profile.Check, settings []setting, a *assessment) {
	p, ok := m.profile.Part(c.Across)
	if !ok {
		return
	}
	for _, mode := range p.Kind.Modes() {
		if mode != profile.ModeOpen && mode != profile.ModeShort {
			continue
		}
		shown := m.shownWith(c, settings, sizes(p, mode)[0].Defect)
		if mode == profile.ModeOpen {
			a.open = shown
		} else {
			a.short = shown
		}
		a.canTell = a.canTell || m.tells(c, settings, a, p, mode, 0)
	}
}

// shownWith gives what a check shows with a defect at nominal values, nil when
// the circuit has no solution.
func (m *Model) shownWith(c profile.Check, settings []setting, d profile.Defect) *Shown {
	b, err := m.newBench(c, settings, d)
	if err != nil {
		return nil
	}
	r, err := b.read()
	if err != nil {
		return nil
	}
	s := shownAs(r)
	return &s
}

// tells works out whether a mode of a part would read outside the band with
// enough probability, over its sizes, tolerances and the instrument.
func (m *Model) tells(c profile.Check, settings []setting, a *assessment, p *profile.Part, mode profile.Mode, diode int) bool {
	missing := 0.0
	for _, s := range sizes(p, mode) {
		s.Diode = diode
		out, err := m.outsideWith(c, settings, a, s.Defect)
		if err != nil {
			return false
		}
		if missing += s.share * (1 - out); missing > 1-tellsFrom {
			return false
		}
	}
	return true
}

// outsideWith gives the probability that a check reads outside the band with a
// defect: from the tangent where that is clear, else from its whole spread.
func (m *Model) outsideWith(c profile.Check, settings []setting, a *assessment, d profile.Defect) (float64, error) {
	b, err := m.newBench(c, settings, d)
	if err != nil {
		return 0, err
	}
	nominal, err := b.read()
	if err != nil {
		return 0, err
	}
	quick, _ := b.linearly(nominal)
	if out := quick.outside(a.low, a.high); out > 0.9999 || out < 0.5 {
		return out, nil
	}
	e := expectOn(b)
	if e.err != nil {
		return 0, e.err
	}
	return e.spread.outside(a.low, a.high), nil
}

// sized is a defect of one size and the share of its mode for which it stands.
type sized struct {
	profile.Defect
	share float64
}

// sizes gives the sizes at which a mode of a part is tried, the plainest first.
// Log-uniform sizes are tried in the middles of equal parts of their range.
func sizes(p *profile.Part, mode profile.Mode) []sized {
	at := func(share, from, to float64, n int) []sized {
		var out []sized
		for k := range n {
			x := from * math.Pow(to/from, (float64(k)+0.5)/float64(n))
			out = append(out, sized{profile.Defect{Part: p.Ref, Mode: mode, Size: x}, share / float64(n)})
		}
		return out
	}
	switch mode {
	case profile.ModeOpen:
		clean := sized{profile.Defect{Part: p.Ref, Mode: mode, Size: math.Inf(1)}, 1}
		if p.Ohms() == 0 {
			return []sized{clean}
		}
		clean.share = 0.5
		return append([]sized{clean}, at(0.5, math.Min(100*p.Ohms(), 1e9), 1e9, 3)...)
	case profile.ModeShort, profile.ModeOutputShort:
		return at(1, 0.05, 1, 1)
	case profile.ModeLeaky:
		return at(1, 1e3, 100e3, 3)
	case profile.ModeWeak:
		return at(1, 2, 50, 3)
	case profile.ModeHigh:
		if p.Kind == profile.Regulator {
			return at(1, 1.1, 3, 3)
		}
		return at(1, 1.2, 100, 4)
	case profile.ModeLow:
		if p.Kind == profile.Regulator {
			return at(1, 1/0.9, 1/0.3, 3)
		}
		return at(1, 1.2, 20, 4)
	case profile.ModeTired:
		return at(1, 1.3, 20, 4)
	}
	return []sized{{profile.Defect{Part: p.Ref, Mode: mode}, 1}}
}

// faultReading is what a check shows with one defect, before rounding.
type faultReading struct {
	part    *profile.Part
	defect  profile.Defect
	reading meter.Reading
}

// sweep is what every check between places of one state shows with each plain
// defect of the board: one board a defect, all checks on it.
type sweep struct {
	once     sync.Once
	readings map[profile.Key][]faultReading
}

// faultReadings gives what a check between places shows with every part open or
// shorted (chips, pins, optocouplers: in every mode), parts at the probes first.
// Defects that leave the circuit without a solution are left out.
func (m *Model) faultReadings(c profile.Check, settings []setting) []faultReading {
	s := m.sweepOf(c.State, settings)
	found, ok := s.readings[c.Key()]
	if !ok { // a place that the profile does not offer
		found = m.runSweep([]profile.Check{c}, settings)[c.Key()]
	}
	out := append([]faultReading(nil), found...)
	sort.SliceStable(out, func(i, j int) bool { return away(out[i].part, c) < away(out[j].part, c) })
	return out
}

// away tells how far a part is from the probes of a check: 0 at the red one, 1
// at the black one, 2 elsewhere.
func away(p *profile.Part, c profile.Check) int {
	far := 2
	for _, pin := range p.Pins {
		switch pin.Node {
		case c.RedNode:
			return 0
		case c.BlackNode:
			far = 1
		}
	}
	return far
}

// sweepOf gives the sweep of a state, made at the first call.
func (m *Model) sweepOf(state string, settings []setting) *sweep {
	key := cacheKey(profile.Check{State: state}, settings)
	m.mu.Lock()
	s, ok := m.sweeps[key]
	if !ok {
		if len(m.sweeps) >= maxSweeps {
			clear(m.sweeps)
		}
		s = &sweep{}
		m.sweeps[key] = s
	}
	m.mu.Unlock()
	s.once.Do(func() {
		var checks []profile.Check
		for _, c := range m.profile.Checks {
			if c.State == state && c.Across == "" {
				checks = append(checks, c)
			}
		}
		s.readings = m.runSweep(checks, settings)
	})
	return s
}

// maxSweeps bounds how many sweeps a Model keeps.
const maxSweeps = 64

// runSweep solves checks of one state on a board with each plain defect.
func (m *Model) runSweep(checks []profile.Check, settings []setting) map[profile.Key][]faultReading {
	out := map[profile.Key][]faultReading{}
	if len(checks) == 0 {
		return out
	}
	for i := range m.profile.Parts {
		p := &m.profile.Parts[i]
		for _, d := range plainDefects(p) {
			b, err := m.newBench(checks[0], settings, d)
			if err != nil {
				continue
			}
			for _, c := range checks {
				b.probe(c)
				if r, err := b.read(); err == nil {
					out[c.Key()] = append(out[c.Key()], faultReading{p, d, r})
				}
			}
		}
	}
	return out
}

// plainDefects gives the defects by which a check between places is judged.
func plainDefects(p *profile.Part) []profile.Defect {
	var out []profile.Defect
	for _, mode := range p.Kind.Modes() {
		switch p.Kind {
		case profile.Opamp, profile.Comparator, profile.Regulator, profile.InputPin, profile.Optocoupler:
		default:
			if mode != profile.ModeOpen && mode != profile.ModeShort {
				continue
			}
		}
		s := sizes(p, mode)
		d := s[len(s)/2].Defect
		if mode == profile.ModeOpen {
			d = s[0].Defect
		}
		out = append(out, d)
		for k := 1; p.Kind == profile.Bridge && k < 4; k++ {
			d.Diode = k
			out = append(out, d)
		}
	}
	return out
}
