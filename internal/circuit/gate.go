package circuit

// Gate is a path from A to B that a voltage switches: closed, as Ohms with a
// fixed Drop, while Control − Reference exceeds Threshold, open otherwise. It is
// the channel of a MOSFET, an IGBT (OneWay with a drop) or the open-collector
// output of a comparator (OneWay to its lower supply).
//
// Where feedback puts the control exactly on the threshold, neither condition
// agrees with itself; the path then carries whatever current keeps the control
// there.
type Gate struct {
	Name               string
	A, B               Node
	Control, Reference Node
	Threshold          float64
	Ohms               float64
	Drop               float64
	OneWay             bool
	Stuck              int // +1, −1: closed or open whatever the control
	Off                bool
}

// Conditions of a gate.
const (
	gateOpen   int8 = iota
	gateClosed      // conducts
	gateBlocks      // closed, but the current would have to run backwards
	gateAtEdge      // the control stands on the threshold
)

// gateFlips is how often a gate may change before it is taken to stand on its
// threshold.
const gateFlips = 6

func (g *Gate) label() string { return g.Name }
func (g *Gate) branches() int { return 1 }
func (g *Gate) linear() bool  { return false }

func (g *Gate) edges(add func(a, b Node)) {
	if !g.Off {
		add(g.A, g.B)
	}
}

func (g *Gate) stamp(w *work, s *state) {
	k := s.branch
	if g.Off || g.A == g.B {
		w.lawCurrent(k, 1, 0)
		return
	}
	path := w.pair(g.A, g.B)
	w.carry(path, k)
	switch s.mode {
	case gateClosed:
		w.law(k, path, -1)
		w.lawCurrent(k, g.Ohms, -g.Drop*w.scale)
	case gateAtEdge:
		w.law(k, w.pair(g.Control, g.Reference), 1)
		w.lawCurrent(k, 0, g.Threshold)
	default:
		w.law(k, path, -w.gmin)
		w.lawCurrent(k, 1, 0)
	}
}

func (g *Gate) follow(w *work, s *state) bool {
	if g.Off || g.A == g.B {
		return true
	}
	next := g.next(w, s)
	if next == s.mode {
		return true
	}
	s.toggles++
	if s.toggles > gateFlips && (next == gateOpen || next == gateClosed) && s.mode != gateAtEdge && g.Stuck == 0 {
		next = gateAtEdge
	}
	s.mode = next
	return false
}

// next gives the condition that agrees with the solution.
func (g *Gate) next(w *work, s *state) int8 {
	v, i := w.volts(g.A, g.B), w.x[s.branch]
	if s.mode == gateAtEdge {
		most := (v - g.Drop) / g.Ohms
		switch {
		case i*v < 0 || (g.OneWay && i < 0):
			return gateOpen
		case most*i >= 0 && abs(i) > abs(most):
			return gateClosed
		}
		return gateAtEdge
	}
	on := g.Stuck > 0
	if g.Stuck == 0 {
		on = w.volts(g.Control, g.Reference) > g.Threshold
	}
	switch {
	case !on:
		return gateOpen
	case g.OneWay && s.mode == gateClosed && i < 0:
		return gateBlocks
	case g.OneWay && s.mode != gateClosed && v < g.Drop:
		return gateBlocks
	}
	return gateClosed
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

func (g *Gate) reaches(w *work, s *state, add func(a, b Node)) {
	if !g.Off && (s.mode == gateClosed || s.mode == gateAtEdge) {
		add(g.A, g.B)
	}
}

func (g *Gate) bounds(func(a, b Node, most float64)) {}
