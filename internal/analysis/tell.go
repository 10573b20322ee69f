package analysis

import (
	"errors"
	"math"
	"slices"
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
//
// healthy is the good board, solved with the probes of the check on it.
func (m *Model) tell(c profile.Check, settings []setting, a *assessment, healthy *bench) {
	if c.Across != "" {
		m.tellAcross(c, settings, a)
		return
	}
	faulty := m.faultyOf(c.State, settings)
	for _, f := range faulty.nearest(c) {
		if f.idle(healthy) {
			continue
		}
		reading, err := m.readFaulty(f, c, settings, healthy)
		if err != nil || !a.outside(reading) {
			continue
		}
		if !a.canTell {
			a.canTell = m.tells(c, settings, a, f.part, f.defect.Mode, f.defect.Diode)
		}
		if len(a.telling) < maxTelling {
			a.telling = append(a.telling, Telling{Fault{f.part.Ref, f.defect.Mode}, shownAs(reading)})
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
		} else if !impossible(p, mode) {
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
	if b.surelyOutside(nominal, a) {
		return 1, nil
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

// surelyOutside tells, without working out a distribution, that a reading which
// follows its slopes lies outside the band on every board.
func (b *bench) surelyOutside(nominal meter.Reading, a *assessment) bool {
	if nominal.Over || a.low.OverRange || a.high.OverRange {
		return false
	}
	reach := 0.0
	for _, slope := range b.slopes() {
		reach += math.Abs(slope * nominal.Slope)
	}
	low, high := nominal.Value-reach, nominal.Value+reach
	half := max(b.errorAt(low), b.errorAt(high)) // volts may lie on either side of zero
	digit := max(b.showAt(a.low.Value).Resolution, b.showAt(a.high.Value).Resolution)
	return high+half < a.low.Value-digit || low-half > a.high.Value+digit
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

// faultyBoard is a board with one plain defect. It is made when a check first
// wants it and serves one check at a time.
type faultyBoard struct {
	part   *profile.Part
	defect profile.Defect

	mu    sync.Mutex
	tried bool
	bench *bench // nil where the circuit has no solution
}

// faulty are the boards with each plain defect, by which checks between places
// of one state are judged: every part open or shorted; chips, pins, optocouplers
// in every mode.
type faulty []*faultyBoard

// nearest gives the boards by how far their defect is from the probes of a check.
func (f faulty) nearest(c profile.Check) faulty {
	out := slices.Clone(f)
	sort.SliceStable(out, func(i, j int) bool { return away(out[i].part, c) < away(out[j].part, c) })
	return out
}

// Volts and amperes of a part that count as none.
const (
	idleVolts = 1e-9
	idleAmps  = 1e-12
)

// idle tells whether a defect changes nothing because its part does nothing on
// the good board: what stands at one voltage may be shorted, what carries no
// direct current may be open, and the circuit's solution stays its solution. (On
// a powered board the input of a chip may then float: that is not left out.)
func (f *faultyBoard) idle(healthy *bench) bool {
	if alternating(healthy.check.Measure) || healthy.apart || len(f.part.Pins) != 2 {
		return false
	}
	a, b, ok := healthy.board.Nodes(f.part.Pins[0].Node, f.part.Pins[1].Node)
	if !ok {
		return false
	}
	volts := math.Abs(healthy.board.Solver.Volts(a, b))
	switch f.defect.Mode {
	case profile.ModeShort:
		return volts <= idleVolts && healthy.board.Solver.Connected(a, b)
	case profile.ModeOpen:
		ohms := f.part.Ohms()
		return f.part.Kind == profile.Capacitor || healthy.check.State == profile.Cold && ohms > 0 && volts <= idleAmps*ohms
	}
	return false
}

// errNoBoard is why a board with a defect cannot be read.
var errNoBoard = errors.New("the board with the defect has no operating point")

// readFaulty gives what a check shows on a board with a defect. It starts from
// the good board, so that it does not depend on what was read before.
func (m *Model) readFaulty(f *faultyBoard, c profile.Check, settings []setting, healthy *bench) (meter.Reading, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.tried {
		f.tried = true
		f.bench, _ = m.newBench(c, settings, f.defect)
	}
	b := f.bench
	if b == nil {
		return meter.Reading{}, errNoBoard
	}
	b.probe(c)
	b.rng = healthy.rng
	b.board.Solver.StartFrom(healthy.board.Solver)
	return b.read()
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

// faultyOf gives the boards of a state with each plain defect.
func (m *Model) faultyOf(state string, settings []setting) faulty {
	key := cacheKey(profile.Check{State: state}, settings)
	m.mu.Lock()
	defer m.mu.Unlock()
	f, ok := m.faulty[key]
	if !ok {
		if len(m.faulty) >= maxFaulty {
			clear(m.faulty)
		}
		for i := range m.profile.Parts {
			p := &m.profile.Parts[i]
			for _, d := range plainDefects(p) {
				f = append(f, &faultyBoard{part: p, defect: d})
			}
		}
		m.faulty[key] = f
	}
	return f
}

// maxFaulty bounds for how many states and settings a Model keeps the boards
// with each defect.
const maxFaulty = 2

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
		if impossible(p, mode) {
			continue
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
