package circuit

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// background makes a circuit whose every part is at work: two islands, a junction,
// an alternating source, a capacitor, a floating pin.
func background() *builder {
	b := build()
	b.v("v12", "0", 12)
	b.r("v12", "a", 4.7e3)
	b.r("a", "0", 10e3)
	b.d("a", "k", 0.6)
	b.r("k", "0", 1e3)
	b.c("k", "0", 1e-6, 0.5)
	b.d("pin", "v12", 0.6)
	b.d("0", "pin", 0.6)
	s := b.v("x", "y", 0)
	s.AC, s.Hertz, s.Ohms = 24, 50, 0.1
	b.r("x", "y", 100)
	return b
}

// elements gives one of each kind between the nodes of background, off or with
// both ends on one node.
func elements(b *builder, off bool) map[string]Element {
	n := b.Node
	far := func(name string) Node { // where the element's second end is
		if off {
			return n(name)
		}
		return n("a")
	}
	led := NewJunction("LED", n("v12"), n("k"), 1.1)
	led.Off = true
	all := map[string]Element{
		"resistor":  &Resistor{Name: "X", A: n("a"), B: far("0"), Ohms: 10, Off: off},
		"capacitor": &Capacitor{Name: "X", A: n("a"), B: far("0"), Farads: 1e-3, Off: off},
		"junction":  &Junction{Name: "X", Anode: n("a"), Cathode: far("0"), Is: 1e-9, NVt: 0.05, Rs: 0.1, Breakdown: 3, Off: off},
		"varistor":  &Varistor{Name: "X", A: n("a"), B: far("0"), Volts: 2, Off: off},
		"source":    &Source{Name: "X", Plus: n("a"), Minus: far("0"), Volts: 3, Ohms: 1, AC: 5, Hertz: 50, Off: off},
		"gate":      &Gate{Name: "X", A: n("a"), B: far("0"), Control: n("v12"), Reference: n("0"), Threshold: 3, Ohms: 1, Off: off},
	}
	if off {
		t := NewTransistor("X", n("a"), n("v12"), n("0"), 100, 0.65)
		t.Off = true
		all["transistor"] = t
		all["op-amp"] = &Amplifier{Name: "X", Plus: n("v12"), Minus: n("a"), Out: n("a"), SupplyPlus: n("v12"), SupplyMinus: n("0"), Gain: 1e5, OutOhms: 10, Off: true}
		all["regulator"] = &Regulator{Name: "X", In: n("v12"), Out: n("a"), Ground: n("0"), Volts: 5, Dropout: 1, Limit: 1, Off: true}
		all["optocoupler that is cut"] = &Coupler{Name: "X", Collector: n("a"), Emitter: n("0"), LED: NewJunction("LED", n("v12"), n("k"), 1.1), Ratio: 1, Off: true}
		all["optocoupler that is dark"] = &Coupler{Name: "X", Collector: n("pin"), Emitter: n("a"), LED: led, Ratio: 1}
	}
	return all
}

// seen is what a circuit shows: volts, intervals, sine waves, impedance.
type seen struct {
	Levels   []Level
	AC       []float64
	Z        [2]float64
	Currents float64 // of the last element
}

func look(t *testing.T, b *builder) seen {
	t.Helper()
	s := mustSolve(t, b.Circuit)
	levels, err := s.Levels()
	if err != nil {
		t.Fatal(err)
	}
	out := seen{Levels: levels, Currents: s.Amps(len(b.elements) - 1)}
	for _, pair := range [][2]string{{"k", "0"}, {"x", "y"}, {"x", "0"}} {
		v, ok := s.ACVolts(b.Node(pair[0]), b.Node(pair[1]), 10e6)
		if !ok {
			t.Fatalf("no sine wave between %v", pair)
		}
		out.AC = append(out.AC, v)
	}
	z, ok := s.Impedance(b.Node("a"), b.Node("0"), 1e3)
	if !ok {
		t.Fatal("no impedance")
	}
	out.Z = [2]float64{real(z), imag(z)}
	return out
}

// TestOffIsAbsent: an element that is off, or whose ends are on one node, changes
// nothing: no volts, no interval, no sine wave, no impedance; it carries nothing.
func TestOffIsAbsent(t *testing.T) {
	t.Parallel()
	want := look(t, background())
	same := cmp.Comparer(func(a, b float64) bool {
		return a == b || math.Abs(a-b) <= 1e-9*(1+math.Max(math.Abs(a), math.Abs(b)))
	})
	floating := cmp.Transformer("held", func(l Level) [3]float64 { // the volts of a floating node mean nothing
		if l.Floating {
			return [3]float64{0, l.Low, l.High}
		}
		return [3]float64{l.Volts, l.Low, l.High}
	})
	for _, off := range []bool{true, false} {
		for name := range elements(background(), off) {
			b := background()
			b.Add(elements(b, off)[name])
			got := look(t, b)
			if d := cmp.Diff(want, got, same, floating); d != "" {
				t.Errorf("%s, off %t: (-without +with):\n%s", name, off, d)
			}
		}
	}
}

// TestFloatTogether: what a resistor ties to a floating pin moves with it, and an
// op-amp or a transistor that listens to what nothing reaches may stand at either
// of its ends.
func TestFloatTogether(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("v5", "0", 5)
	b.d("pin", "v5", 0.6)
	b.d("0", "pin", 0.6)
	b.r("pin", "far", 10e3)
	b.d("far", "open", 0.3)
	b.Add(&Amplifier{Name: "U", Plus: b.Node("lost"), Minus: b.Node("out"), Out: b.Node("out"), SupplyPlus: b.Node("v5"), SupplyMinus: b.Node("0"),
		Gain: 1e5, OutOhms: 10, HeadroomHigh: 0.2, HeadroomLow: 0.1})
	b.r("out", "0", 1e6)
	b.r("v5", "drain", 9e3)
	b.Add(&Gate{Name: "Q", A: b.Node("drain"), B: b.Node("0"), Control: b.Node("cut"), Reference: b.Node("0"), Threshold: 3, Ohms: 1e3})
	levels, err := mustSolve(t, b.Circuit).Levels()
	if err != nil {
		t.Fatal(err)
	}
	for node, want := range map[string]Level{
		"pin": {Low: -0.6, High: 5.6}, "far": {Low: -0.6, High: 5.6}, "open": {Low: -0.9, High: math.Inf(1)},
		"lost": {Low: math.Inf(-1), High: math.Inf(1)}, "out": {Low: 0.1, High: 4.8},
		"drain": {Low: 0.5, High: 5},
	} {
		n, _ := b.Find(node)
		got := levels[n]
		off := func(x, y float64) bool { return x != y && math.Abs(x-y) > 1e-4 }
		if !got.Floating || off(got.Low, want.Low) || off(got.High, want.High) {
			t.Errorf("%s: %+v, want %g to %g", node, got, want.Low, want.High)
		}
	}
}

// TestEdgeIsLeft: a transistor that feedback held on its threshold opens when its
// supply sinks, and closes for good when even all it can carry does not keep the
// drain up.
func TestEdgeIsLeft(t *testing.T) {
	t.Parallel()
	b := build()
	supply := b.v("v", "0", 12)
	load := b.r("v", "d", 1e3)
	b.r("d", "g", 100e3)
	b.r("g", "0", 100e3)
	b.Add(&Gate{Name: "Q", A: b.Node("d"), B: b.Node("0"), Control: b.Node("g"), Reference: b.Node("0"), Threshold: 3, Ohms: 10})
	s := NewSolver(b.Circuit)
	for _, tt := range []struct{ volts, load, want float64 }{
		{12, 1e3, 6},                        // on the threshold
		{5, 1e3, 5 * 200e3 / 201e3},         // open
		{12, 1e3, 6},                        // and back
		{12, 5, 12 * 9.9995 / (5 + 9.9995)}, // closed: 10 Ω beside the divider
		{12, 1e3, 6},
	} {
		supply.Volts, load.Ohms = tt.volts, tt.load
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		if got := b.at(t, s, "d", "0"); !within(got, tt.want, 1e-4) {
			t.Errorf("%g V behind %g Ω: the drain stands at %.5f V, want %.5f", tt.volts, tt.load, got, tt.want)
		}
	}
}

// TestNothingBetween: between islands there are no volts, sine waves, derivatives
// or impedance, and from a node to itself there is none of either.
func TestNothingBetween(t *testing.T) {
	t.Parallel()
	b := background()
	s := mustSolve(t, b.Circuit)
	x, a := b.Node("x"), b.Node("a")
	out := []float64{7}
	r := b.elements[1].(*Resistor)
	s.Sensitivity(a, x, []Parameter{{Elements: []int{1}, Set: func(u float64) { r.Ohms = 4.7e3 * (1 + u) }}}, out)
	v, ok := s.ACVolts(x, a, 10e6)
	if out[0] != 0 || s.Volts(a, x) != 0 || v != 0 || !ok {
		t.Errorf("between islands: derivative %g, %g V, %g V AC %t", out[0], s.Volts(a, x), v, ok)
	}
	if z, ok := s.Impedance(x, a, 50); ok {
		t.Errorf("an impedance of %g between islands", z)
	}
	if z, ok := s.Impedance(a, a, 50); !ok || z != 0 {
		t.Errorf("an impedance of %g from a node to itself, %t", z, ok)
	}
	if v, ok := s.ACVolts(x, x, 50); !ok || v != 0 {
		t.Errorf("%g V AC from a node to itself, %t", v, ok)
	}
	if i := s.Amps(1); i != 0 {
		t.Errorf("a resistor's current is no unknown, and %g A", i)
	}
}

// TestUnsolvedNames: the error names the places where the currents do not balance,
// worst first and at most three, and what is left over there, also in time.
func TestUnsolvedNames(t *testing.T) {
	t.Parallel()
	b := build()
	for i, rail := range []string{"r1", "r2", "r3", "r4"} {
		b.v(rail, "0", 5)
		b.v(rail, "0", 3.3)
		b.r(rail, "0", math.Pow(10, float64(i)))
		b.d(rail, "0", 0.6)
	}
	for name, err := range map[string]error{"at rest": NewSolver(b.Circuit).Solve(), "in time": NewTransient(b.Circuit).Step(1e-3)} {
		var u *Unsolved
		if !errors.As(err, &u) {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(u.Nodes) != 3 || math.IsNaN(u.Residual) || u.Residual < 0 || slices.Contains(u.Nodes, "0") {
			t.Errorf("%s: %+v", name, u)
		}
		for _, n := range u.Nodes {
			if !strings.HasPrefix(n, "r") || !strings.Contains(u.Error(), n) {
				t.Errorf("%s: %v", name, u)
			}
		}
	}
}
