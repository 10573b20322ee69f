package circuit

import "math"

// Level is where a node stands against the zero of its island. A node that
// nothing holds has an interval: its Volts mean nothing and Low and High, which
// may be infinite, say between which junctions it is caught.
type Level struct {
	Volts     float64
	Low, High float64
	Floating  bool
}

// Levels gives the level of every node, by Node, at the solution that Solve
// has found.
//
// A node is held when conductances, sources or junctions that carry at least
// 0.1 µA lead from it to the zero of its island. What is left floats together
// in sets; how far a set can move follows from the held nodes through the drops
// of the junctions between, which is a shortest path in volts. An op-amp or
// gate that listens to a floating node makes what it drives uncertain too: the
// circuit is solved anew with that node at either end of its interval.
func (s *Solver) Levels() ([]Level, error) {
	levels := s.levels()
	listening := s.listening(levels)
	if len(listening) == 0 {
		return levels, nil
	}
	kept := s.keep()
	defer s.restore(kept)
	known := make([]bool, len(levels))
	for n, l := range levels {
		known[n] = !l.Floating
	}
	for _, n := range listening {
		for _, v := range []float64{levels[n].Low, levels[n].High} {
			if math.IsInf(v, 0) {
				v = math.Copysign(beyondRails, v)
			}
			undo := s.drive(n, v)
			err := s.Solve()
			if err == nil {
				widen(levels, s.levels(), known)
			}
			if undo(); err != nil {
				return nil, err
			}
		}
	}
	return levels, nil
}

// drive holds a floating node at so many volts. One to which nothing leads has no
// equation that could: what listens to it is held at the end to which they drive it.
func (s *Solver) drive(n Node, volts float64) (undo func()) {
	if zero := s.Zero(n); zero != n {
		s.Attach(Probe{Red: n, Black: zero, Volts: volts})
		return s.Detach
	}
	var undos []func()
	stick := func(stuck *int, listens, turned bool) {
		if was := *stuck; listens && was == 0 {
			if *stuck = 1; turned == (volts > 0) {
				*stuck = -1
			}
			undos = append(undos, func() { *stuck = was })
		}
	}
	for _, e := range s.c.elements {
		switch e := e.(type) {
		case *Amplifier:
			stick(&e.Stuck, e.Plus == n || e.Minus == n, e.Minus == n)
		case *Gate:
			stick(&e.Stuck, e.Control == n || e.Reference == n, e.Reference == n)
		}
	}
	return func() {
		for _, undo := range undos {
			undo()
		}
	}
}

// beyondRails stands for an interval without an end when a floating node is
// tried at it, in volts.
const beyondRails = 1e3

// Held tells of every node, by Node, whether anything holds it at the solution
// that Solve has found; the volts of a node that nothing holds mean nothing.
func (s *Solver) Held() []bool {
	held, _ := s.held()
	return held
}

// held is Held with the sets of nodes that hold each other.
func (s *Solver) held() ([]bool, forest) {
	w := s.w
	set := newForest(len(w.own))
	join := func(a, b Node) { set.join(int(a), int(b)) }
	for i, e := range s.c.elements {
		e.reaches(w, &s.states[i], join)
	}
	s.probe.reaches(w, &s.pstate, join)
	reached := make([]bool, len(w.own))
	for _, d := range w.datum {
		reached[set.find(int(d))] = true
	}
	held := make([]bool, len(w.own))
	for n := range held {
		held[n] = reached[set.find(n)] && !s.alone(Node(n))
	}
	return held, set
}

// levels is Levels without the second look.
func (s *Solver) levels() []Level {
	w := s.w
	w.spread()
	held, set := s.held()
	levels := make([]Level, len(w.own))
	for n, v := range w.v {
		levels[n] = Level{Volts: v, Low: v, High: v, Floating: !held[n]}
		if levels[n].Floating {
			levels[n].Low, levels[n].High = math.Inf(-1), math.Inf(1)
		}
	}
	s.catch(levels, set)
	return levels
}

// alone tells whether no element can carry current to a node at all.
func (s *Solver) alone(n Node) bool {
	k := s.w.island[n]
	if s.w.datum[k] != n {
		return false
	}
	for _, d := range s.c.datums {
		if d == n {
			return false
		}
	}
	for m, i := range s.w.island {
		if i == k && Node(m) != n {
			return false
		}
	}
	return true
}

// catch narrows the intervals of floating nodes by the junctions around them.
func (s *Solver) catch(levels []Level, set forest) {
	type edge struct {
		a, b Node
		most float64
	}
	var edges []edge
	for _, e := range s.c.elements {
		e.bounds(func(a, b Node, most float64) { edges = append(edges, edge{a, b, most}) })
	}
	for a := range levels { // what floats together moves together
		if r := set.find(a); levels[a].Floating && r != a {
			d := levels[a].Volts - levels[r].Volts
			edges = append(edges, edge{Node(a), Node(r), d}, edge{Node(r), Node(a), -d})
		}
	}
	for range levels {
		moved := false
		for _, e := range edges {
			if h := levels[e.b].High + e.most; levels[e.a].Floating && h < levels[e.a].High {
				levels[e.a].High, moved = h, true
			}
			if l := levels[e.a].Low - e.most; levels[e.b].Floating && l > levels[e.b].Low {
				levels[e.b].Low, moved = l, true
			}
		}
		if !moved {
			return
		}
	}
}

// listening gives the floating nodes at which an input listens, one of each
// set that floats together.
func (s *Solver) listening(levels []Level) []Node {
	var out []Node
	seen := map[Node]bool{}
	note := func(nodes ...Node) {
		for _, n := range nodes {
			if levels[n].Floating && !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	for _, e := range s.c.elements {
		switch e := e.(type) {
		case *Amplifier:
			if !e.Off && e.Stuck == 0 {
				note(e.Plus, e.Minus)
			}
		case *Gate:
			if !e.Off && e.Stuck == 0 {
				note(e.Control, e.Reference)
			}
		case *Source:
			if !e.Off && e.Hold != nil {
				note(e.Hold.Node)
			}
		}
	}
	return out
}

// widen stretches the levels of known nodes to hold other ones too.
func widen(levels, other []Level, known []bool) {
	for n := range levels {
		l, o := &levels[n], other[n]
		if !known[n] {
			continue
		}
		l.Low, l.High = min(l.Low, o.Low), max(l.High, o.High)
		l.Floating = l.High-l.Low > uncertainVolts
	}
}

// uncertainVolts is how far the volts of a node may follow a floating one and
// still count as known.
const uncertainVolts = 1e-3

// kept is a solution laid aside.
type kept struct {
	probe  Source
	pstate state
	states []state
	x      []float64
}

func (s *Solver) keep() kept {
	return kept{s.probe, s.pstate, append([]state(nil), s.states...), append([]float64(nil), s.w.x...)}
}

func (s *Solver) restore(k kept) {
	s.probe, s.pstate = k.probe, k.pstate
	copy(s.states, k.states)
	copy(s.w.x, k.x)
	s.w.spread()
	s.stampLinear()
	s.assemble()
	s.w.lu.factor(tinyPivot)
}
