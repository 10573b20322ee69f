package profile

import (
	"math"

	"ohmstead/internal/circuit"
	"ohmstead/internal/fault"
)

// Board is the circuit of a profile in one state, ready to be measured: its
// Solver stands at the operating point with parts and sources at their nominal
// values. A Board serves one goroutine.
type Board struct {
	Circuit *circuit.Circuit
	Solver  *circuit.Solver

	// Params are what may lie anywhere within tolerance: each is uniform from
	// −1 to 1 and independent of the others. Owners says whose they are.
	Params []circuit.Parameter
	Owners []Owner

	resize map[string]func(ohms float64)
}

// Owner is the part or the source to which a tolerance belongs; the ambient
// temperature belongs to neither.
type Owner struct {
	Part   string
	Source string
}

// Set moves a tolerance to u; the Solver takes note when it solves next.
func (b *Board) Set(param int, u float64) {
	p := &b.Params[param]
	p.At = u
	p.Set(u)
}

// Resize lets a part be so many ohms whatever its tolerance, +Inf for a clean
// break, 0 for its own value again: a resistive part itself, of another one
// the path that its defect short or leaky laid beside it (never 0). It reports whether the
// part is one of these. A break that leaves a node without any path makes the
// circuit unsolvable; Board with the defect makes one that knows of the break.
func (b *Board) Resize(ref string, ohms float64) bool {
	set, ok := b.resize[ref]
	if ok {
		set(ohms)
	}
	return ok
}

// Nodes finds two nodes of the board; false when one is not part of it.
func (b *Board) Nodes(red, black string) (r, k circuit.Node, ok bool) {
	r, ok1 := b.Circuit.Find(red)
	k, ok2 := b.Circuit.Find(black)
	return r, k, ok1 && ok2
}

// Defect is one part that does not do what its kind does. Size depends on the
// mode: the resistance in ohms of open (infinite for a clean break), short and
// leaky; the factor (above 1) by which high, low, weak and tired change the
// value, and high and low a regulator's volts.
type Defect struct {
	Part  string
	Mode  Mode
	Size  float64
	Diode int // of a bridge: 0 to 3, ac1–plus, ac2–plus, minus–ac1, minus–ac2
}

// Values that the formats leave to the bench.
const (
	contactOhms = 0.05 // a closed switch
	sourceOhms  = 1e-6 // of a DC supply within its limit
	mainsOhms   = 0.1  // of an AC supply
	igbtOhms    = 0.1  // in series with the drop of an IGBT that is on
	chipOhms    = 10   // of an op-amp's or a comparator's output
	pullVolts   = 0.1  // above the lower supply: where a comparator's output pulls to
	opampGain   = 1e5
	chipVolts   = 2   // of supply from which a chip works
	regulatorA  = 1   // amperes
	leastVolts  = 0.5 // between in and out of a regulator that fails high
	leastHigh   = 1.1 // how far it fails high at least
)

// Board makes the circuit of the profile in a state, with defects if there are
// any, and solves it. In cold nothing is powered; in another state the chips
// work whose supplies stand, which is found by solving until no further chip
// awakes. An error is a *circuit.Unsolved, or of kind fault.NotFound.
func (p *Profile) Board(state string, defects ...Defect) (*Board, error) {
	s, ok := p.State(state)
	if !ok {
		return nil, fault.New(fault.NotFound, "The profile %s has no state %q.", p.ID, state)
	}
	a := newAssembly(p, s, defects)
	a.circuit.Datum(a.node(p.Ground))
	for _, src := range s.Sources {
		a.circuit.Datum(a.node(src.Minus))
	}
	for i := range p.Parts {
		a.part(&p.Parts[i])
	}
	for _, src := range s.Sources {
		a.source(src)
	}
	a.ambient()
	return a.finish(s.ID != Cold)
}

// LiftedBoard makes the circuit of one part with a leg off the board: the part
// alone.
func (p *Profile) LiftedBoard(ref string, defects ...Defect) (*Board, error) {
	part, ok := p.Part(ref)
	if !ok {
		return nil, fault.New(fault.NotFound, "The profile %s has no part %q.", p.ID, ref)
	}
	a := newAssembly(p, &p.States[0], defects)
	a.part(part)
	a.ambient()
	return a.finish(false)
}

// MostVolts gives a function for the greatest volts, without sign, between two
// nodes in any powered state of the healthy board; 0 where none is known.
func (p *Profile) MostVolts() func(x, y string) float64 {
	var boards []*Board
	for _, s := range p.States {
		if b, err := p.Board(s.ID); err == nil && s.ID != Cold {
			boards = append(boards, b)
		}
	}
	return func(x, y string) float64 {
		most := 0.0
		for _, b := range boards {
			if i, j, ok := b.Nodes(x, y); ok {
				most = max(most, math.Abs(b.Solver.Volts(i, j)))
			}
		}
		return most
	}
}

// MostHigh is the greatest factor by which a regulator that fails high raises its
// output: up to half a volt below the most that stands at its input, between two
// nodes of which volts tells as MostVolts does. Where that is not known it is 3.
func (p *Part) MostHigh(volts func(x, y string) float64) float64 {
	in, ground := p.Pins[0].Node, p.Pins[2].Node
	if most := (volts(in, ground) - leastVolts) / p.Param("volts"); most > leastHigh {
		return most
	}
	return 3
}

// Zero gives the node that is the zero of a node in a state: the profile's
// ground where it is connected, otherwise the minus of the first source there.
func (p *Profile) Zero(node, state string) string {
	return p.zero(node, state)
}

// finish solves the circuit and, when it may be powered, wakes the chips and
// loads whose supplies stand.
func (a *assembly) finish(powered bool) (*Board, error) {
	b := &Board{Circuit: a.circuit, Params: a.params, Owners: a.owners, resize: a.resize}
	b.Solver = circuit.NewSolver(a.circuit)
	if err := b.Solver.Solve(); err != nil || !powered {
		return b, err
	}
	for a.wake(b.Solver) {
		b.Solver.Rebuild()
		if err := b.Solver.Solve(); err != nil {
			return b, err
		}
	}
	return b, nil
}

// wake powers the chips and loads that are supplied and were not powered yet,
// and reports whether there were any.
func (a *assembly) wake(s *circuit.Solver) bool {
	woke := false
	held := s.Held() // a supply that floats has no volts
	for i := range a.chips {
		c := &a.chips[i]
		if c.awake || !held[c.supply] || !held[c.ground] || s.Volts(c.supply, c.ground) < chipVolts {
			continue
		}
		c.awake, woke = true, true
		c.wake()
		if c.out >= 0 {
			a.driven[c.out] = true
		}
	}
	for i := range a.loads {
		l := &a.loads[i]
		if !l.awake && (a.driven[l.resistor.A] || a.driven[l.resistor.B]) {
			l.awake, woke = true, true
			l.resistor.Ohms = l.powered
		}
	}
	return woke
}

// Ohms gives the nominal resistance of a part that is one at direct current
// (of a thermistor, at 25 °C), otherwise 0.
func (p *Part) Ohms() float64 {
	switch p.Kind {
	case Inductor, Fuse, Link:
		return p.Param("resistance")
	case Resistor, Thermistor:
		return p.Param("value")
	}
	return 0
}

// isOpen tells whether a parameter means no connection at all.
func isOpen(ohms float64) bool { return math.IsInf(ohms, 1) }
