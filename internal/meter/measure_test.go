package meter

import (
	"math"
	"testing"

	"ohmstead/internal/circuit"
	"pgregory.net/rapid"
)

// two makes a circuit with nodes named as given; the first is the datum.
func two(t testing.TB, nodes ...string) (*circuit.Circuit, []circuit.Node) {
	t.Helper()
	c := circuit.New()
	var ns []circuit.Node
	for _, n := range nodes {
		ns = append(ns, c.Node(n))
	}
	c.Datum(ns[0])
	return c, ns
}

func within(got, want, rel float64) bool { return math.Abs(got-want) <= rel*math.Abs(want) }

// TestLoading: ten volts over two equal resistors, read across the lower one.
// The relative error of a divider under a meter is −R_Th/(R_Th + R_m).
func TestLoading(t *testing.T) {
	t.Parallel()
	tests := []struct {
		ohms, input, want, percent float64
	}{
		{10e3, 10e6, 4.997501, -0.049975},
		{100e3, 10e6, 4.975124, -0.497512},
		{470e3, 10e6, 4.885198, -2.296043},
		{1e6, 10e6, 4.761905, -4.761905},
		{10e6, 10e6, 3.333333, -33.333333},
		{1e6, 1e6, 3.333333, -33.333333},
	}
	for _, tt := range tests {
		c, n := two(t, "0", "top", "mid")
		c.Add(&circuit.Source{Plus: n[1], Minus: n[0], Volts: 10})
		c.Add(&circuit.Resistor{A: n[1], B: n[2], Ohms: tt.ohms})
		c.Add(&circuit.Resistor{A: n[2], B: n[0], Ohms: tt.ohms})
		m := *Default()
		m.DCVolts.InputResistance = tt.input
		r, err := m.ReadDCVolts(circuit.NewSolver(c), n[2], n[0])
		if err != nil || !within(r.Value, tt.want, 1e-6) || !within(100*(r.Value-5)/5, tt.percent, 1e-5) {
			t.Errorf("%g Ω, meter of %g Ω: %.6f V %v, want %.6f", tt.ohms, tt.input, r.Value, err, tt.want)
		}
	}
}

// TestThroughOpenGoingPart: behind a series part that goes open a 10 MΩ meter
// reads V·10/(10 + R/MΩ): 3.00 V behind 20 MΩ reads 1.00 V (common practice, no
// source; it is Ohm's law).
func TestThroughOpenGoingPart(t *testing.T) {
	t.Parallel()
	c, n := two(t, "0", "rail", "pin")
	c.Add(&circuit.Source{Plus: n[1], Minus: n[0], Volts: 3})
	c.Add(&circuit.Resistor{A: n[1], B: n[2], Ohms: 20e6})
	r, err := Default().ReadDCVolts(circuit.NewSolver(c), n[2], n[0])
	if v, over := r.Show(0); err != nil || over || v != 1 {
		t.Errorf("%v V %v, want 1.00", v, err)
	}
}

// TestTrueResistance: a network of resistors reads its true resistance whatever
// the range, turned round or not, on the first range that holds it.
func TestTrueResistance(t *testing.T) {
	t.Parallel()
	m := Default()
	rapid.Check(t, func(t *rapid.T) {
		c := circuit.New()
		a, b, mid := c.Node("a"), c.Node("b"), c.Node("mid")
		r1 := math.Pow(10, rapid.Float64Range(-1, 7.5).Draw(t, "r1"))
		r2 := math.Pow(10, rapid.Float64Range(-1, 7.5).Draw(t, "r2"))
		r3 := math.Pow(10, rapid.Float64Range(-1, 7.5).Draw(t, "r3"))
		c.Add(&circuit.Resistor{A: a, B: mid, Ohms: r1})
		c.Add(&circuit.Resistor{A: mid, B: b, Ohms: r2})
		c.Add(&circuit.Resistor{A: a, B: b, Ohms: r3})
		want := (r1 + r2) * r3 / (r1 + r2 + r3)
		s := circuit.NewSolver(c)
		for _, ends := range [][2]circuit.Node{{a, b}, {b, a}} {
			for from := range 6 {
				got, err := m.ReadResistanceFrom(s, ends[0], ends[1], from)
				if err != nil {
					t.Fatal(err)
				}
				if want > 60e6 {
					if !got.Over {
						t.Errorf("%g Ω reads %g, want OL", want, got.Value)
					}
					continue
				}
				if !within(got.Value, want, 1e-6) {
					t.Errorf("%g Ω reads %g from range %d", want, got.Value, from)
				}
				if full := m.Resistance.Ranges[got.Range].FullScale; got.Value > full ||
					(got.Range > 0 && got.Value <= m.Resistance.Ranges[got.Range-1].FullScale) {
					t.Errorf("%g Ω is read on the range to %g", want, full)
				}
			}
		}
	})
}

// TestJunctionByOhmmeter: a junction reads what it lets through at the range's
// own test voltage: one number on each range, OL backwards.
func TestJunctionByOhmmeter(t *testing.T) {
	t.Parallel()
	c, n := two(t, "k", "a")
	j := circuit.NewJunction("D", n[1], n[0], 0.55)
	c.Add(j)
	s := circuit.NewSolver(c)
	m := Default()
	r, err := m.ReadResistance(s, n[1], n[0])
	if err != nil || r.Over {
		t.Fatalf("forwards: %+v %v", r, err)
	}
	// Ohm's law over the range's reference, by bisection.
	ref := m.Resistance.Ranges[r.Range].Reference
	low, high := 0.0, m.Resistance.OpenCircuit
	for range 100 {
		v := (low + high) / 2
		if i := j.Is * math.Expm1(v/j.NVt); i < (m.Resistance.OpenCircuit-v)/ref {
			low = v
		} else {
			high = v
		}
	}
	if want := ref * low / (m.Resistance.OpenCircuit - low); !within(r.Value, want, 1e-3) {
		t.Errorf("forwards %g Ω, want %g", r.Value, want)
	}
	other, err := m.ReadResistanceAt(s, n[1], n[0], r.Range+1)
	if err != nil || within(other.Value, r.Value, 0.2) {
		t.Errorf("the next range reads %g Ω, this one %g: a junction is no resistor", other.Value, r.Value)
	}
	back, err := m.ReadResistance(s, n[0], n[1])
	if err != nil || (!back.Over && back.Value < 10*r.Value) {
		t.Errorf("backwards %+v %v", back, err)
	}
}

// TestDiode: forward volts at the test current, OL at the compliance and
// between islands, negative where a source stands turned round.
func TestDiode(t *testing.T) {
	t.Parallel()
	m := Default()
	c, n := two(t, "k", "a", "r", "x", "y")
	c.Add(circuit.NewJunction("D", n[1], n[0], 0.58))
	c.Add(&circuit.Resistor{A: n[2], B: n[0], Ohms: 2200})
	c.Add(&circuit.Resistor{A: n[3], B: n[4], Ohms: 1e6})
	s := circuit.NewSolver(c)
	tests := []struct {
		name       string
		red, black circuit.Node
		want       float64
		over       bool
	}{
		{"forwards", n[1], n[0], 0.580, false},
		{"backwards", n[0], n[1], 0, true},
		{"2.2 kΩ", n[2], n[0], 2.2, false},
		{"1 MΩ", n[3], n[4], 0, true},
		{"two islands", n[1], n[3], 0, true},
		{"one place", n[1], n[1], 0, false},
	}
	for _, tt := range tests {
		r, err := m.ReadDiode(s, tt.red, tt.black)
		if v, over := r.Show(0); err != nil || over != tt.over || (!over && math.Abs(v-tt.want) > 1e-3) {
			t.Errorf("%s: %g over %t %v, want %g over %t", tt.name, v, over, err, tt.want, tt.over)
		}
	}
}

// TestIslands: between islands resistance reads OL and volts read 0.
func TestIslands(t *testing.T) {
	t.Parallel()
	m := Default()
	c, n := two(t, "0", "a", "x", "y")
	c.Add(&circuit.Source{Plus: n[1], Minus: n[0], Volts: 12})
	c.Add(&circuit.Resistor{A: n[2], B: n[3], Ohms: 1e3})
	s := circuit.NewSolver(c)
	if r, err := m.ReadResistance(s, n[2], n[0]); err != nil || !r.Over {
		t.Errorf("resistance %+v %v", r, err)
	}
	if r, err := m.ReadDCVolts(s, n[1], n[2]); err != nil || r.Over || r.Value != 0 {
		t.Errorf("volts %+v %v", r, err)
	}
	if r, err := m.ReadResistance(s, n[2], n[2]); err != nil || r.Over || r.Value != 0 {
		t.Errorf("one place %+v %v", r, err)
	}
}

// TestDisplay: digits by range, the ends of the ranges, OL beyond the last, and
// what the accuracy comes to.
func TestDisplay(t *testing.T) {
	t.Parallel()
	m := Default()
	tests := []struct {
		name       string
		reading    Reading
		want       float64
		over       bool
		half       float64
		resolution float64
	}{
		{"6.8 kΩ on 60 kΩ", m.Resistance.At(6804), 6800, false, 0.009*6804 + 50, 10},
		{"599.94 Ω", m.Resistance.At(599.94), 599.9, false, 0.009*599.94 + 0.5, 0.1},
		{"6 kΩ itself", m.Resistance.At(6000), 6000, false, 0.009*6000 + 5, 1},
		{"59.9 MΩ", m.Resistance.At(59.9e6), 59.9e6, false, 0.03*59.9e6 + 50e3, 10e3},
		{"61 MΩ", m.Resistance.At(61e6), 0, true, 0, 0},
		{"5.9994 V", m.DCVolts.At(5.9994), 5.999, false, 0.005*5.9994 + 3e-3, 1e-3},
		{"−12 V", m.DCVolts.At(-12), -12, false, 0.06 + 0.03, 1e-2},
		{"323.64 V", m.DCVolts.At(323.64), 323.6, false, 0.005*323.64 + 0.3, 0.1},
		{"1001 V", m.DCVolts.At(1001), 0, true, 0, 0},
		{"0.5801 V", m.Diode.At(0.5801), 0.580, false, 0.01*0.5801 + 3e-3, 1e-3},
		{"3 V", m.Diode.At(3), 0, true, 0, 0},
	}
	for _, tt := range tests {
		v, over := tt.reading.Show(0)
		if over != tt.over || (!over && (v != tt.want || !within(tt.reading.Half, tt.half, 1e-12) || tt.reading.Resolution != tt.resolution)) {
			t.Errorf("%s shows %v over %t, ±%g in steps of %g; want %v over %t, ±%g in %g",
				tt.name, v, over, tt.reading.Half, tt.reading.Resolution, tt.want, tt.over, tt.half, tt.resolution)
		}
	}
	low := m.Resistance.At(0.2)
	if v, over := low.Show(-1); v != 0 || over {
		t.Errorf("an error below nothing shows %v", v)
	}
	high := m.Resistance.At(59.95e6)
	if _, over := high.Show(1); !over {
		t.Error("an error beyond the last range must show OL")
	}
}

// TestSlope: the reading's slope by the volts at the probes is the derivative
// of what is shown.
func TestSlope(t *testing.T) {
	t.Parallel()
	r := &Default().Resistance
	for i := range r.Ranges {
		for _, v := range []float64{0.01, 0.2, 0.45} {
			const h = 1e-7
			want := (r.read(i, v+h).Value - r.read(i, v-h).Value) / (2 * h)
			if got := r.read(i, v).Slope; !within(got, want, 1e-6) {
				t.Errorf("range %d at %g V: slope %g, want %g", i, v, got, want)
			}
		}
	}
}

// TestNeverAboveThePart: at a fixed range, with junctions only beside it, a
// reading never exceeds the part across which it is taken.
func TestNeverAboveThePart(t *testing.T) {
	t.Parallel()
	m := Default()
	rapid.Check(t, func(t *rapid.T) {
		c := circuit.New()
		a, b := c.Node("a"), c.Node("b")
		ohms := math.Pow(10, rapid.Float64Range(0, 7).Draw(t, "ohms"))
		c.Add(&circuit.Resistor{A: a, B: b, Ohms: ohms})
		nodes := []circuit.Node{a, b, c.Node("c"), c.Node("d")}
		node := func(name string) circuit.Node { return nodes[rapid.IntRange(0, 3).Draw(t, name)] }
		for range rapid.IntRange(1, 8).Draw(t, "parts") {
			x, y := node("x"), node("y")
			switch {
			case x == y:
			case rapid.Bool().Draw(t, "junction"):
				c.Add(circuit.NewJunction("D", x, y, rapid.Float64Range(0.1, 0.9).Draw(t, "forward")))
			default:
				c.Add(&circuit.Resistor{A: x, B: y, Ohms: math.Pow(10, rapid.Float64Range(0, 7).Draw(t, "beside"))})
			}
		}
		i := rapid.IntRange(0, len(m.Resistance.Ranges)-1).Draw(t, "range")
		r, err := m.ReadResistanceAt(circuit.NewSolver(c), a, b, i)
		if err != nil {
			t.Fatal(err)
		}
		if r.Over || r.Value > ohms*(1+1e-6) {
			t.Errorf("%g Ω reads %+v", ohms, r)
		}
	})
}
