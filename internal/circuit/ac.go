package circuit

import "math"

// alternating is the memory for sinusoidal solutions: the equations of the
// circuit linearised at its operating point, with capacitors, as a real system
// of twice the size, [G −B; B G]·[Re; Im].
type alternating struct {
	w      *work // topology with capacitors; its matrix holds G
	states []state
	b      []float64 // susceptances
	lu     *lu
	x      []float64
}

// Rebuild forgets it, as the connections may have changed.
func (s *Solver) alternating() *alternating {
	if s.ac == nil {
		w := newWork(newTopology(s.c, true))
		s.ac = &alternating{
			w: w, states: make([]state, len(s.states)), b: make([]float64, w.size*w.size),
			lu: newLU(2 * w.size), x: make([]float64, 2*w.size),
		}
	}
	return s.ac
}

// Impedance gives the complex impedance between two nodes at a frequency with
// everything off that is bent: junctions, chips, and with the sources as they
// stand (an unpowered board has none). ok is false when nothing leads from one
// node to the other.
func (s *Solver) Impedance(a, b Node, hertz float64) (z complex128, ok bool) {
	ac := s.alternating()
	if a == b {
		return 0, true
	}
	if ac.w.island[a] != ac.w.island[b] {
		return 0, false
	}
	ac.stamp(s, 2*math.Pi*hertz, true)
	p := ac.w.pair(a, b)
	for k := range p.n {
		ac.x[p.idx[k]] += p.sgn[k]
	}
	if !ac.solve() {
		return 0, false
	}
	z = ac.volts(p)
	// What only the leakage beside bent elements ties together is no path.
	if re, im := real(z), imag(z); math.Hypot(re, im) > 1/(100*leak*float64(len(s.bent)+1)) {
		return 0, false
	}
	return z, true
}

// ACVolts gives the rms volts between two nodes at the operating point that
// Solve has found, with a meter of so many ohms between them: the linear
// solution about that point, all sources of one frequency together, those of
// different frequencies by their squares. The AC of a Source counts as rms. It
// reports false when the linearised circuit has no solution.
func (s *Solver) ACVolts(a, b Node, ohms float64) (float64, bool) {
	ac := s.alternating()
	if a == b || ac.w.island[a] != ac.w.island[b] {
		return 0, true
	}
	sum := 0.0
	for _, hertz := range s.frequencies() {
		ac.stamp(s, 2*math.Pi*hertz, false)
		p := ac.w.pair(a, b)
		ac.w.conduct(&p, &p, 1/ohms)
		for i, e := range s.c.elements {
			if v, ok := e.(*Source); ok && !v.Off && v.AC != 0 && v.Hertz == hertz {
				ac.x[ac.states[i].branch] = v.AC
			}
		}
		if !ac.solve() {
			return 0, false
		}
		v := ac.volts(p)
		sum += real(v)*real(v) + imag(v)*imag(v)
	}
	return math.Sqrt(sum), true
}

// frequencies lists the frequencies of the circuit's alternating sources.
func (s *Solver) frequencies() []float64 {
	var out []float64
	for _, e := range s.c.elements {
		v, ok := e.(*Source)
		if !ok || v.Off || v.AC == 0 {
			continue
		}
		known := false
		for _, f := range out {
			known = known || f == v.Hertz
		}
		if !known {
			out = append(out, v.Hertz)
		}
	}
	return out
}

// stamp writes the linearised equations at an angular frequency and clears the
// right-hand side. off leaves of bent elements only the leakage.
func (ac *alternating) stamp(s *Solver, omega float64, off bool) {
	w := ac.w
	shift := w.nodes - s.w.nodes
	w.lu.clear()
	clear(ac.b)
	clear(ac.x)
	for i, e := range s.c.elements {
		ends := ac.states[i].ends
		ac.states[i] = s.states[i]
		ac.states[i].ends = ends // of this topology
		ac.states[i].branch += shift
		c, capacitor := e.(*Capacitor)
		_, source := e.(*Source)
		switch {
		case capacitor:
			ac.admit(c, omega)
		case off && !e.linear() && !source:
			e.edges(func(a, b Node) {
				p := w.pair(a, b)
				w.conduct(&p, &p, leak)
			})
			for k := range e.branches() {
				w.lawCurrent(ac.states[i].branch+k, 1, 0)
			}
		default:
			e.stamp(w, &ac.states[i])
		}
	}
	w.lawCurrent(w.size-1, 1, 0) // the probe's current
}

// admit writes a capacitor in series with its resistance: Y = jωC/(1 + jωC·ESR).
func (ac *alternating) admit(c *Capacitor, omega float64) {
	if c.Off || c.A == c.B {
		return
	}
	y := complex(0, omega*c.Farads)
	y /= 1 + y*complex(c.ESR, 0)
	p := ac.w.pair(c.A, c.B)
	ac.w.conduct(&p, &p, real(y))
	n := ac.w.size
	for i := range p.n {
		for j := range p.n {
			ac.b[int(p.idx[i])*n+int(p.idx[j])] += p.sgn[i] * p.sgn[j] * imag(y)
		}
	}
}

// solve solves for the right-hand side in x, of which the first half is real.
func (ac *alternating) solve() bool {
	n := ac.w.size
	ac.lu.clear()
	g := ac.w.lu
	for k, v := range g.val {
		i, j := int(g.rows[k]), int(g.cols[k])
		ac.lu.add(i, j, v)
		ac.lu.add(n+i, n+j, v)
	}
	for i := range n {
		for j := range n {
			if b := ac.b[i*n+j]; b != 0 {
				ac.lu.add(i, n+j, -b)
				ac.lu.add(n+i, j, b)
			}
		}
	}
	if ac.lu.factor(tinyPivot) >= 0 {
		return false
	}
	ac.lu.solve(ac.x, ac.x)
	return finite(ac.x)
}

// volts gives the solved difference of a pair.
func (ac *alternating) volts(p pair) complex128 {
	n := ac.w.size
	return complex(p.of(ac.x[:n]), p.of(ac.x[n:]))
}
