package circuit

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// TestOpamp: follower, inverting and difference stages, saturation at the
// headroom limits behind 10 Ω, and stuck outputs.
func TestOpamp(t *testing.T) {
	t.Parallel()
	stage := func(b *builder, plus, minus string) *Amplifier {
		a := &Amplifier{
			Name: "U", Plus: b.Node(plus), Minus: b.Node(minus), Out: b.Node("out"), SupplyPlus: b.Node("v5"), SupplyMinus: b.Node("0"),
			Gain: 1e5, OutOhms: 10, HeadroomHigh: 0.5, HeadroomLow: 0.1,
		}
		b.Add(a)
		return a
	}
	tests := []struct {
		name  string
		build func(b *builder)
		want  float64
	}{
		{"follower", func(b *builder) { b.v("in", "0", 2.5); stage(b, "in", "out") }, 2.5 * (1 - 1/1e5)},
		{"inverting about 2.5 V", func(b *builder) {
			b.v("in", "0", 2.35)
			b.v("ref", "0", 2.5)
			b.r("in", "m", 1e3)
			b.r("m", "out", 10e3)
			stage(b, "ref", "m")
		}, 4.0},
		{"saturated high", func(b *builder) { b.v("in", "0", 6); stage(b, "in", "out"); b.r("out", "0", 990) }, 4.5 * 0.99},
		{"saturated low", func(b *builder) { b.v("in", "0", -1); stage(b, "in", "out"); b.r("out", "v5", 990) }, 0.1 + 4.9*0.01},
		{"stuck high", func(b *builder) { b.v("in", "0", 1); stage(b, "in", "out").Stuck = 1 }, 4.5},
		{"stuck low", func(b *builder) { b.v("in", "0", 1); stage(b, "in", "out").Stuck = -1 }, 0.1},
	}
	for _, tt := range tests {
		b := build()
		b.v("v5", "0", 5)
		tt.build(b)
		b.r("out", "0", 1e6)
		if got := b.at(t, mustSolve(t, b.Circuit), "out", "0"); math.Abs(got-tt.want) > 2e-3 {
			t.Errorf("%s: %.5f V, want %.5f", tt.name, got, tt.want)
		}
	}
}

// TestDifferenceAmplifier: 2 kΩ / 200 kΩ gives a difference gain of 100, and
// with the worst 1 % parts a common-mode gain of 0.0404, 67.87 dB below it
// (Sedra and Smith, exercise; recomputed).
func TestDifferenceAmplifier(t *testing.T) {
	t.Parallel()
	gain := func(common, difference, error float64) float64 {
		b := build()
		b.v("vp", "0", 400)
		b.v("vn", "0", -400)
		b.v("a", "0", common-difference/2)
		b.v("b", "0", common+difference/2)
		b.r("a", "m", 2e3*(1+error))
		b.r("m", "out", 200e3*(1-error))
		b.r("b", "p", 2e3*(1-error))
		b.r("p", "0", 200e3*(1+error))
		b.Add(&Amplifier{Name: "U", Plus: b.Node("p"), Minus: b.Node("m"), Out: b.Node("out"),
			SupplyPlus: b.Node("vp"), SupplyMinus: b.Node("vn"), Gain: 1e9, OutOhms: 1e-3})
		return b.at(t, mustSolve(t, b.Circuit), "out", "0")
	}
	if got := gain(0, 0.1, 0) / 0.1; !within(got, 100, 1e-4) {
		t.Errorf("difference gain %.5f, want 100", got)
	}
	common := math.Abs(gain(10, 0, -0.01)-gain(0, 0, -0.01)) / 10
	if !within(common, 0.0404, 0.002) {
		t.Errorf("common-mode gain %.5f, want about 0.0404", common)
	}
	if db := 20 * math.Log10(100/common); math.Abs(db-67.87) > 0.01 {
		t.Errorf("rejection %.2f dB, want 67.87", db)
	}
}

// TestGate: a switched path open and closed, one way only, and on its threshold
// where feedback puts it.
func TestGate(t *testing.T) {
	t.Parallel()
	solve := func(control float64, g Gate) (v, i float64) {
		b := build()
		b.v("v12", "0", 12)
		b.v("c", "0", control)
		b.r("v12", "x", 1e3)
		g.Name, g.A, g.B, g.Control, g.Reference = "Q", b.Node("x"), b.Node("0"), b.Node("c"), b.Node("0")
		k := b.Add(&g)
		s := mustSolve(t, b.Circuit)
		return b.at(t, s, "x", "0"), s.Amps(k)
	}
	tests := []struct {
		name    string
		control float64
		gate    Gate
		want    float64
	}{
		{"below threshold", 2.9, Gate{Threshold: 3, Ohms: 0.1}, 12},
		{"above threshold", 3.1, Gate{Threshold: 3, Ohms: 0.1}, 12 * 0.1 / 1000.1},
		{"with a drop", 6, Gate{Threshold: 5, Ohms: 0.1, Drop: 1.5, OneWay: true}, 1.5 + 10.5*0.1/1000.1},
		{"a drop higher than what there is", 6, Gate{Threshold: 5, Ohms: 0.1, Drop: 20, OneWay: true}, 12},
		{"stuck closed", 0, Gate{Threshold: 5, Ohms: 10, Stuck: 1}, 12 * 10 / 1010.0},
		{"stuck open", 9, Gate{Threshold: 5, Ohms: 10, Stuck: -1}, 12},
	}
	for _, tt := range tests {
		if v, i := solve(tt.control, tt.gate); !within(v, tt.want, 1e-6) || math.Abs(i-(12-v)/1e3) > 1e-9 {
			t.Errorf("%s: %.6f V and %.6f mA, want %.6f V", tt.name, v, 1e3*i, tt.want)
		}
	}
	// A MOSFET whose drain drives its own gate down through a divider stands on
	// its threshold: 3 V at the gate are 6 V at the drain.
	b := build()
	b.v("v12", "0", 12)
	b.r("v12", "d", 1e3)
	b.r("d", "g", 100e3)
	b.r("g", "0", 100e3)
	b.Add(&Gate{Name: "Q", A: b.Node("d"), B: b.Node("0"), Control: b.Node("g"), Reference: b.Node("0"), Threshold: 3, Ohms: 0.1})
	if got := b.at(t, mustSolve(t, b.Circuit), "d", "0"); !within(got, 6, 1e-6) {
		t.Errorf("on its threshold: %.6f V, want 6", got)
	}
}

// TestRegulator: regulating, dropping out, resting while something else holds
// its output, and at its limit.
func TestRegulator(t *testing.T) {
	t.Parallel()
	solve := func(in, load float64, other float64) float64 {
		b := build()
		b.v("in", "0", in)
		b.r("out", "0", load)
		if other > 0 {
			b.v("other", "0", other)
			b.r("other", "out", 1)
		}
		b.Add(&Regulator{Name: "U", In: b.Node("in"), Out: b.Node("out"), Ground: b.Node("0"), Volts: 5, Dropout: 2, Limit: 1})
		return b.at(t, mustSolve(t, b.Circuit), "out", "0")
	}
	tests := []struct {
		name            string
		in, load, other float64
		want            float64
	}{
		{"regulating", 12, 100, 0, 5},
		{"dropping out", 6, 100, 0, 4},
		{"resting", 12, 1e3, 8, 8 * 1e3 / 1001},
		{"limiting", 12, 2, 0, 2},
		{"without a load", 12, 1e12, 0, 5},
	}
	for _, tt := range tests {
		if got := solve(tt.in, tt.load, tt.other); math.Abs(got-tt.want) > 1e-5 {
			t.Errorf("%s: %.6f V, want %.6f", tt.name, got, tt.want)
		}
	}
}

// TestOptocoupler: ctr × LED current × tanh(Vce/0.1 V); dark it gives nothing.
func TestOptocoupler(t *testing.T) {
	t.Parallel()
	solve := func(led, pull float64) (vce, iled float64) {
		b := build()
		b.v("v", "0", 5)
		b.i("a", "k", led, 10)
		j := b.d("a", "k", 1.1)
		b.r("v", "c", pull)
		b.Add(&Coupler{Name: "U", Collector: b.Node("c"), Emitter: b.Node("0"), LED: j, Ratio: 0.8})
		s := mustSolve(t, b.Circuit)
		return b.at(t, s, "c", "0"), led
	}
	if vce, i := solve(1e-3, 1e3); math.Abs((5-vce)/1e3-0.8*i*math.Tanh(vce/0.1)) > 1e-9 || !within(vce, 4.2, 1e-6) {
		t.Errorf("active: %.6f V, want 4.2", vce)
	}
	if vce, i := solve(10e-3, 10e3); math.Abs((5-vce)/10e3-0.8*i*math.Tanh(vce/0.1)) > 1e-9 || vce > 0.02 {
		t.Errorf("saturated: %.6f V", vce)
	}
}

// TestFloatingLevels: what reverse junctions, clamps or nothing reach has an
// interval; what a forward junction holds has a value; chains of floating nodes
// add up their drops.
func TestFloatingLevels(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("v5", "0", 5)
	b.d("pin", "v5", 0.6) // an input pin
	b.d("0", "pin", 0.6)
	b.d("far", "pin", 0.5) // and a node behind it
	b.d("v5", "led", 1.8)  // a lit LED holds its node
	b.r("led", "0", 1e3)
	b.r("loose", "tail", 1e3) // two nodes that nothing holds
	b.d("0", "zener", 0.65).Breakdown = 3.3
	b.Node("alone")
	levels, err := mustSolve(t, b.Circuit).Levels()
	if err != nil {
		t.Fatal(err)
	}
	inf := math.Inf(1)
	tests := []struct {
		node      string
		low, high float64
		floats    bool
	}{
		{"v5", 5, 5, false},
		{"pin", -0.6, 5.6, true},
		{"far", -inf, 6.1, true},
		{"zener", -0.65, 3.3, true},
		{"alone", -inf, inf, true},
		{"0", 0, 0, false},
	}
	for _, tt := range tests {
		n, _ := b.Find(tt.node)
		l := levels[n]
		if l.Floating != tt.floats || !(l.Low == tt.low || math.Abs(l.Low-tt.low) < 1e-6) || !(l.High == tt.high || math.Abs(l.High-tt.high) < 1e-6) {
			t.Errorf("%s: %+v, want %g to %g, floating %t", tt.node, l, tt.low, tt.high, tt.floats)
		}
	}
	if n, _ := b.Find("led"); levels[n].Floating || levels[n].Volts < 2.9 || levels[n].Volts > 3.3 {
		t.Errorf("behind the LED: %+v", levels[n])
	}
}

// TestListenersFloat: an op-amp that listens to a floating node is uncertain
// from limit to limit, and so is what it drives.
func TestListenersFloat(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("v5", "0", 5)
	b.d("in", "v5", 0.6)
	b.d("0", "in", 0.6)
	b.Add(&Amplifier{Name: "U", Plus: b.Node("in"), Minus: b.Node("out"), Out: b.Node("out"), SupplyPlus: b.Node("v5"), SupplyMinus: b.Node("0"),
		Gain: 1e5, OutOhms: 10, HeadroomHigh: 0.02, HeadroomLow: 0.02})
	b.r("out", "half", 10e3)
	b.r("half", "0", 10e3)
	s := mustSolve(t, b.Circuit)
	levels, err := s.Levels()
	if err != nil {
		t.Fatal(err)
	}
	for node, want := range map[string][2]float64{"out": {0.02, 4.98}, "half": {0.01, 2.49}, "v5": {5, 5}} {
		n, _ := b.Find(node)
		if l := levels[n]; math.Abs(l.Low-want[0]) > 5e-3 || math.Abs(l.High-want[1]) > 5e-3 || l.Floating != (node != "v5") {
			t.Errorf("%s: %+v, want %v", node, l, want)
		}
	}
	if again, err := s.Levels(); err != nil || !cmp.Equal(levels, again) {
		t.Errorf("asking twice differs: %v", err)
	}
}

// TestSensitivity compares every adjoint derivative with solving twice.
func TestSensitivity(t *testing.T) {
	t.Parallel()
	b := build()
	supply := b.v("s", "0", 12)
	r1 := b.r("s", "a", 4.7e3)
	r2 := b.r("a", "0", 10e3)
	led := b.d("a", "k", 1.1)
	r3 := b.r("k", "0", 330)
	q := NewTransistor("Q", b.Node("a"), b.Node("c"), b.Node("0"), 120, 0.65)
	b.Add(q)
	b.r("s", "c", 2.2e3)
	opto := &Coupler{Name: "U", Collector: b.Node("o"), Emitter: b.Node("0"), LED: led, Ratio: 0.9}
	b.Add(opto)
	b.r("s", "o", 10e3)
	params := []Parameter{
		{Elements: []int{0}, Set: func(u float64) { supply.Volts = 12 * (1 + 0.1*u) }},
		{Elements: []int{1}, Set: func(u float64) { r1.Ohms = 4.7e3 * (1 + 0.05*u) }},
		{Elements: []int{2}, Set: func(u float64) { r2.Ohms = 10e3 * (1 + 0.05*u) }},
		{Elements: []int{3, 7}, Set: func(u float64) { led.Is = Saturation(1.1 * (1 + 0.1*u)) }},
		{Elements: []int{4}, Set: func(u float64) { r3.Ohms = 330 * (1 + 0.2*u) }},
		{Elements: []int{5}, Set: func(u float64) { q.Gain = 120 * (1 + 0.3*u) }},
		{Elements: []int{7}, Set: func(u float64) { opto.Ratio = 0.9 * (1 + 0.2*u) }},
	}
	s := mustSolve(t, b.Circuit)
	for _, pair := range [][2]string{{"a", "0"}, {"c", "0"}, {"o", "0"}, {"a", "k"}, {"c", "o"}} {
		red, black := b.Node(pair[0]), b.Node(pair[1])
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		got := make([]float64, len(params))
		s.Sensitivity(red, black, params, got)
		for i, p := range params {
			const h = 1e-4
			solved := func(u float64) float64 {
				p.Set(u)
				if err := s.Solve(); err != nil {
					t.Fatal(err)
				}
				return s.Volts(red, black)
			}
			want := (solved(h) - solved(-h)) / (2 * h)
			p.Set(0)
			if math.Abs(got[i]-want) > 1e-5*math.Abs(want)+1e-7 {
				t.Errorf("V(%s,%s) by parameter %d: %.9g by the adjoint, %.9g by solving twice", pair[0], pair[1], i, got[i], want)
			}
		}
	}
}

// TestWarmAndColdAgree: solving after a change from the last solution gives what
// solving anew gives.
func TestWarmAndColdAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := newOracleCircuit(uint64(rapid.IntRange(0, 400).Draw(t, "circuit")))
		s := NewSolver(o.Circuit)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		var rs []*Resistor
		for _, e := range o.elements {
			if r, ok := e.(*Resistor); ok {
				rs = append(rs, r)
			}
		}
		r := rapid.SampledFrom(rs).Draw(t, "resistor")
		r.Ohms *= rapid.Float64Range(0.3, 3).Draw(t, "by")
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		warm, err := s.Levels()
		if err != nil {
			t.Fatal(err)
		}
		cold := NewSolver(o.Circuit)
		if err := cold.Solve(); err != nil {
			t.Fatal(err)
		}
		anew, err := cold.Levels()
		if err != nil {
			t.Fatal(err)
		}
		for n := range warm {
			if warm[n].Floating || anew[n].Floating {
				continue
			}
			if d := math.Abs(warm[n].Volts - anew[n].Volts); d > 1e-6*(1+math.Abs(anew[n].Volts)) {
				t.Errorf("circuit %d, node %s: %.9g V warm, %.9g V anew\n%s", o.seed, o.Name(Node(n)), warm[n].Volts, anew[n].Volts, o.deck.String())
			}
		}
	})
}

// TestWeakTies: a leakage of 1e-14 S is not lost beside a shunt of 1000 S, and a
// floating group does not disturb the rest.
func TestWeakTies(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("bus", "0", 400)
	b.d("g1", "bus", 0.46)
	b.d("0", "g2", 0.46)
	b.r("g1", "g2", 1e-3)
	b.r("g2", "g3", 1e6)
	b.r("bus", "n", 1e6)
	b.r("n", "0", 1e4)
	s := mustSolve(t, b.Circuit)
	if got, want := b.at(t, s, "n", "0"), 400*1e4/1.01e6; !within(got, want, 1e-9) {
		t.Errorf("the divider reads %.9f V, want %.9f", got, want)
	}
	if v := b.at(t, s, "g1", "g2"); math.Abs(v) > 1e-9 {
		t.Errorf("%g V across the shunt of a floating group", v)
	}
}

// board60 is about the size of a real board: sixty-two nodes, twenty-five
// junctions.
func board60() (*builder, *Resistor) { return boardOf(10) }

// boardOf makes a board of so many inputs, each of six nodes and two or three
// junctions, between a bus, a rail and ground. It gives one of its resistors too.
func boardOf(inputs int) (*builder, *Resistor) {
	b := build()
	b.v("v5", "0", 5)
	b.v("bus", "0", 325)
	var r *Resistor
	for i := range inputs {
		n := func(k int) string { return fmt.Sprintf("n%d.%d", i, k) }
		b.r("bus", n(0), 120e3)
		r = b.r(n(0), n(1), 120e3)
		b.r(n(1), n(2), 6.8e3)
		b.r(n(2), "0", 1e3)
		b.r(n(2), n(3), 1e3)
		b.d(n(3), "v5", 0.6)
		b.d("0", n(3), 0.6)
		b.r("v5", n(4), 10e3)
		if i%2 == 0 {
			b.d(n(4), n(5), 0.6)
		} else {
			b.r(n(4), n(5), 1e3)
		}
		b.r(n(5), "0", 2.2e3)
	}
	return b, r
}

// TestWarmSolveAllocatesNothing: memory is kept.
func TestWarmSolveAllocatesNothing(t *testing.T) {
	b, r := board60()
	s := mustSolve(t, b.Circuit)
	i := 0
	if n := testing.AllocsPerRun(50, func() {
		i++
		r.Ohms = 120e3 + float64(i)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%g allocations in a warm solve", n)
	}
}

// TestStartFrom: a circuit with a part more or fewer than another, started from
// it, has the solution that it has anew.
func TestStartFrom(t *testing.T) {
	t.Parallel()
	for seed := range uint64(60) {
		o, p := newOracleCircuit(seed), newOracleCircuit(seed)
		red, black := Node(1+int(seed)%(o.Len()-1)), Node(0)
		first := NewSolver(o.Circuit)
		probe := Probe{Red: red, Black: black, Volts: 0.5, Ohms: 1e3}
		first.Attach(probe)
		if err := first.Solve(); err != nil {
			t.Fatal(err)
		}
		short := &Resistor{Name: "short", A: Node(int(seed+3) % p.Len()), B: Node(int(seed+5) % p.Len()), Ohms: 10}
		p.elements = slices.Insert(p.elements, len(p.elements)/2, Element(short))
		started, anew := NewSolver(p.Circuit), NewSolver(p.Circuit)
		started.StartFrom(first)
		anew.Attach(probe)
		if err := anew.Solve(); err != nil {
			continue // a short may leave nothing to solve
		}
		if err := started.Solve(); err != nil {
			t.Errorf("circuit %d: %v", seed, err)
			continue
		}
		held := anew.Held()
		if got, want := started.Volts(red, black), anew.Volts(red, black); held[red] && held[black] && math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
			t.Errorf("circuit %d: %.9g V started, %.9g V anew", seed, got, want)
		}
	}
}

// TestRanges: going back and forth between instruments of one place, each
// reading is the one that a fresh solver finds.
func TestRanges(t *testing.T) {
	t.Parallel()
	c, r := board60()
	s := mustSolve(t, c.Circuit)
	n, _ := c.Find("n3.2")
	for k := range 12 {
		r.Ohms = 120e3 * (1 + 0.01*float64(k))
		p := Probe{Red: n, Black: 0, Volts: 0.5, Ohms: []float64{1e3, 10e3, 100e3}[k%3]}
		fresh := NewSolver(c.Circuit)
		fresh.Attach(p)
		s.Attach(p)
		for _, v := range []*Solver{fresh, s} {
			if err := v.Solve(); err != nil {
				t.Fatal(err)
			}
		}
		if got, want := s.Volts(n, 0), fresh.Volts(n, 0); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Errorf("reading %d: %.12g V, fresh %.12g", k, got, want)
		}
	}
}

// TestUnsolvedReads: the error names nodes and what is left over.
func TestUnsolvedReads(t *testing.T) {
	t.Parallel()
	u := &Unsolved{Nodes: []string{"rail", "gate"}, Residual: 0.25}
	if s := u.Error(); !strings.Contains(s, "rail, gate") || !strings.Contains(s, "0.25 A") {
		t.Error(s)
	}
}

// BenchmarkSensitivity takes the derivatives by sixty resistors.
func BenchmarkSensitivity(b *testing.B) {
	c, _ := board60()
	s := NewSolver(c.Circuit)
	if err := s.Solve(); err != nil {
		b.Fatal(err)
	}
	var params []Parameter
	for i, e := range c.elements {
		if r, ok := e.(*Resistor); ok {
			nominal := r.Ohms
			params = append(params, Parameter{Elements: []int{i}, Set: func(u float64) { r.Ohms = nominal * (1 + 0.01*u) }})
		}
	}
	out := make([]float64, len(params))
	n, _ := c.Find("n3.2")
	for b.Loop() {
		s.Sensitivity(n, 0, params, out)
	}
}

// TestLatch: an op-amp that feeds back on itself rests at one of its limits,
// never in between, whichever its inputs ask for.
func TestLatch(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ plus, want float64 }{{4, 4.98}, {1, 0.02}} {
		b := build()
		b.v("v5", "0", 5)
		b.v("in", "0", tt.plus)
		b.v("ref", "0", 2.5)
		b.r("in", "p", 10e3)
		b.r("p", "out", 20e3)
		b.Add(&Amplifier{Name: "U", Plus: b.Node("p"), Minus: b.Node("ref"), Out: b.Node("out"), SupplyPlus: b.Node("v5"), SupplyMinus: b.Node("0"),
			Gain: 1e5, OutOhms: 10, HeadroomHigh: 0.02, HeadroomLow: 0.02})
		if got := b.at(t, mustSolve(t, b.Circuit), "out", "0"); math.Abs(got-tt.want) > 5e-3 {
			t.Errorf("asked for by %g V: %.4f V, want %g", tt.plus, got, tt.want)
		}
	}
}
