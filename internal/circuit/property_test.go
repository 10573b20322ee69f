package circuit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// random draws one of the oracle's circuits, solved.
func random(t *rapid.T) (*oracleCircuit, *Solver) {
	o := newOracleCircuit(uint64(rapid.IntRange(0, 2000).Draw(t, "circuit")))
	s := NewSolver(o.Circuit)
	if err := s.Solve(); err != nil {
		t.Fatalf("circuit %d: %v\n%s", o.seed, err, o.deck.String())
	}
	return o, s
}

// TestCurrentsBalance: at every node the currents, each worked out anew from its
// element's own law and the node volts, sum to nothing.
func TestCurrentsBalance(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, s := random(t)
		left, size := make([]float64, o.Len()), make([]float64, o.Len())
		flow := func(a, b Node, i float64) {
			left[a] += i
			left[b] -= i
			size[a] += math.Abs(i)
			size[b] += math.Abs(i)
		}
		v := func(a, b Node) float64 { return s.Volts(a, b) }
		for k, e := range o.elements {
			switch e := e.(type) {
			case *Resistor:
				flow(e.A, e.B, v(e.A, e.B)/e.Ohms)
			case *Junction:
				i, _ := e.at(v(e.Anode, e.Cathode))
				flow(e.Anode, e.Cathode, i)
			case *Varistor:
				i, _ := e.at(v(e.A, e.B))
				flow(e.A, e.B, i)
			case *Coupler:
				i, _ := e.LED.at(v(e.LED.Anode, e.LED.Cathode))
				flow(e.Collector, e.Emitter, e.Ratio*max(i, 0)*math.Tanh(v(e.Collector, e.Emitter)/kneeVolts))
			case *Transistor:
				sign, be, bc := 1.0, v(e.Base, e.Emitter), v(e.Base, e.Collector)
				if e.PNP {
					sign, be, bc = -1, -be, -bc
				}
				ibe, ibc := e.Is*math.Expm1(be/e.NVt), e.Is*math.Expm1(bc/e.NVt)
				flow(e.Base, e.Emitter, sign*ibe/e.Gain)
				flow(e.Base, e.Collector, sign*ibc)
				flow(e.Collector, e.Emitter, sign*(ibe-ibc))
			case *Source:
				flow(e.Minus, e.Plus, s.Amps(k))
			case *Amplifier:
				if i := s.Amps(k); i > 0 {
					flow(e.SupplyPlus, e.Out, i)
				} else {
					flow(e.SupplyMinus, e.Out, i)
				}
			case *Gate:
				flow(e.A, e.B, s.Amps(k))
			case *Regulator:
				flow(e.In, e.Out, s.Amps(k))
			default:
				t.Fatalf("%T is not balanced", e)
			}
		}
		for n := range left {
			if math.Abs(left[n]) > 1e-10+1e-6*size[n] {
				t.Errorf("circuit %d: %.3g A of %.3g A left over at %s\n%s", o.seed, left[n], size[n], o.Name(Node(n)), o.deck.String())
			}
		}
	})
}

// TestRemediesAgree: shrinking leakage and growing sources, each tried alone,
// find what Newton's method finds. Not every circuit lets either succeed, but
// most must, and none may find something else.
func TestRemediesAgree(t *testing.T) {
	t.Parallel()
	tried, leak, grown := 0, 0, 0
	for seed := range uint64(150) {
		o := newOracleCircuit(seed)
		s := NewSolver(o.Circuit)
		if err := s.Solve(); err != nil {
			t.Fatal(seed, err)
		}
		tried++
		want := s.levels()
		agree := func(how string) {
			for n, l := range s.levels() {
				if !l.Floating && math.Abs(l.Volts-want[n].Volts) > 1e-6*(1+math.Abs(want[n].Volts)) {
					t.Errorf("circuit %d, %s: %s stands at %.9g V, Newton had %.9g", seed, how, o.Name(Node(n)), l.Volts, want[n].Volts)
				}
			}
		}
		if s.shrinkLeak() {
			leak++
			agree("shrinking leakage")
		}
		if s.raiseSources() {
			grown++
			agree("growing sources")
		}
	}
	if leak < tried*9/10 || grown < tried*9/10 {
		t.Errorf("of %d circuits %d were solved by shrinking leakage, %d by growing sources", tried, leak, grown)
	}
}

// TestSensitivityEverywhere compares adjoint derivatives with solving twice, on
// random circuits, for a resistor or a source.
func TestSensitivityEverywhere(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, s := random(t)
		k := rapid.IntRange(0, len(o.elements)-1).Draw(t, "element")
		var set func(u float64)
		switch e := o.elements[k].(type) {
		case *Resistor:
			nominal := e.Ohms
			set = func(u float64) { e.Ohms = nominal * (1 + 0.1*u) }
		case *Source:
			nominal := e.Volts
			set = func(u float64) { e.Volts = nominal * (1 + 0.1*u) }
		default:
			return
		}
		a, b := Node(rapid.IntRange(0, o.Len()-1).Draw(t, "a")), Node(rapid.IntRange(0, o.Len()-1).Draw(t, "b"))
		levels := s.levels()
		if levels[a].Floating || levels[b].Floating {
			return
		}
		out := []float64{0}
		s.Sensitivity(a, b, []Parameter{{Elements: []int{k}, Set: set}}, out)
		solved := func(u float64) float64 {
			set(u)
			if err := s.Solve(); err != nil {
				t.Fatal(err)
			}
			return s.Volts(a, b)
		}
		const h = 1e-5
		here, up, down := solved(0), solved(h), solved(-h)
		set(0)
		right, left := (up-here)/h, (here-down)/h
		if math.Abs(right-left) > 0.01*(math.Abs(right)+math.Abs(left))+1e-4 {
			return // a corner lies in between
		}
		if want := (up - down) / (2 * h); math.Abs(out[0]-want) > 1e-3*math.Abs(want)+1e-3 {
			t.Errorf("circuit %d: V(%s,%s) by %s: %.6g by the adjoint, %.6g by solving twice\n%s",
				o.seed, o.Name(a), o.Name(b), o.elements[k].label(), out[0], want, o.deck.String())
		}
	})
}

// TestIntervalsHoldTheirNodes: where a floating node comes to lie by leakage is
// inside its interval.
func TestIntervalsHoldTheirNodes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		b := build()
		n := rapid.IntRange(2, 6).Draw(t, "floating nodes")
		b.v("v5", "0", rapid.Float64Range(1, 12).Draw(t, "rail"))
		names := []string{"0", "v5"}
		for range n {
			names = append(names, string(rune('a'+len(names))))
		}
		pick := func(label string) string { return rapid.SampledFrom(names).Draw(t, label) }
		for range rapid.IntRange(1, 10).Draw(t, "junctions") {
			x, y := pick("x"), pick("y")
			if x != y {
				b.d(x, y, rapid.Float64Range(0.4, 0.8).Draw(t, "forward"))
			}
		}
		s := NewSolver(b.Circuit)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		levels, err := s.Levels()
		if err != nil {
			t.Fatal(err)
		}
		for n, l := range levels {
			if l.Low > l.High || (l.Floating && !s.alone(Node(n)) && (l.Volts < l.Low-1e-6 || l.Volts > l.High+1e-6)) {
				t.Errorf("%s: %+v", b.Name(Node(n)), l)
			}
		}
	})
}

// TestIslands: nodes that no element connects are islands of their own, each
// with its datum; the preferred one where there is one.
func TestIslands(t *testing.T) {
	t.Parallel()
	c := New()
	for _, n := range []string{"a", "b", "x", "y", "z", "lone"} {
		c.Node(n)
	}
	c.Add(&Resistor{A: 0, B: 1, Ohms: 1})
	c.Add(&Resistor{A: 2, B: 3, Ohms: 1})
	c.Add(&Capacitor{A: 1, B: 2, Farads: 1e-6})
	c.Add(NewJunction("D", 3, 4, 0.6))
	c.Datum(1, 4, 3)
	s := NewSolver(c)
	tests := []struct {
		a, b      Node
		connected bool
		zero      Node
	}{
		{0, 1, true, 1}, {0, 2, false, 1}, {2, 4, true, 4}, {3, 2, true, 4}, {5, 0, false, 5},
	}
	for _, tt := range tests {
		if got := s.Connected(tt.a, tt.b); got != tt.connected {
			t.Errorf("%s and %s connected: %t", c.Name(tt.a), c.Name(tt.b), got)
		}
		if got := s.Zero(tt.a); got != tt.zero {
			t.Errorf("%s is read against %s, want %s", c.Name(tt.a), c.Name(got), c.Name(tt.zero))
		}
	}
	tr := NewTransient(c)
	if !tr.Connected(0, 4) {
		t.Error("in time a capacitor connects")
	}
}

// TestRebuild: an element that is switched off or added counts after Rebuild.
func TestRebuild(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("s", "0", 10)
	r := b.r("s", "x", 1e3)
	b.r("x", "0", 1e3)
	s := mustSolve(t, b.Circuit)
	x := b.Node("x")
	if v := s.Volts(x, 0); !within(v, 5, 1e-9) {
		t.Errorf("%.6f V, want 5", v)
	}
	r.Off = true
	s.Rebuild()
	if err := s.Solve(); err != nil || s.Volts(x, 0) != 0 {
		t.Errorf("with the upper resistor off %.6f V %v", s.Volts(x, 0), err)
	}
	b.r("s", "x", 4e3)
	s.Rebuild()
	if err := s.Solve(); err != nil || !within(s.Volts(x, 0), 2, 1e-9) {
		t.Errorf("with another in its place %.6f V %v, want 2", s.Volts(x, 0), err)
	}
}

// TestNames: nodes keep their names, and a wrong one is no panic.
func TestNames(t *testing.T) {
	t.Parallel()
	c := New()
	if n := c.Node("a"); n != 0 || c.Node("a") != 0 || c.Node("b") != 1 || c.Len() != 2 {
		t.Error("nodes are numbered in order of first naming")
	}
	if _, ok := c.Find("c"); ok {
		t.Error("a node was found that nobody named")
	}
	if c.Name(1) != "b" || c.Name(9) != "node 9" || c.Name(-1) != "node -1" {
		t.Error(c.Name(1), c.Name(9), c.Name(-1))
	}
}

// TestSourceLimits: what a limited source gives and takes, alone and against
// another.
func TestSourceLimits(t *testing.T) {
	t.Parallel()
	solve := func(v1, l1, v2, l2 float64) (rail, i1, i2 float64) {
		b := build()
		s1, s2 := b.v("a", "0", v1), b.v("b", "0", v2)
		s1.Limit, s2.Limit = l1, l2
		b.r("a", "b", 0.5)
		s := mustSolve(t, b.Circuit)
		return b.at(t, s, "b", "0"), s.Amps(0), s.Amps(1)
	}
	tests := []struct {
		name           string
		v1, l1, v2, l2 float64
		rail, i1, i2   float64
	}{
		{"within", 5, 2, 4.5, 2, 4.5, 1, -1},
		{"the strong one gives its limit", 15, 2, 5, 3, 5, 2, -2},
		{"the weak one takes its limit", 15, 3, 5, 2, 14, 2, -2},
	}
	for _, tt := range tests {
		rail, i1, i2 := solve(tt.v1, tt.l1, tt.v2, tt.l2)
		if !within(rail, tt.rail, 1e-6) || !within(i1, tt.i1, 1e-6) || !within(i2, tt.i2, 1e-6) {
			t.Errorf("%s: %.4f V, %.4f A, %.4f A, want %g, %g, %g", tt.name, rail, i1, i2, tt.rail, tt.i1, tt.i2)
		}
	}
}
