package meter

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ohmstead/internal/circuit"
)

// junctions draws a small network of resistors and junctions between two probes.
func junctions(t *rapid.T) (*circuit.Solver, circuit.Node, circuit.Node) {
	c := circuit.New()
	nodes := []circuit.Node{c.Node("a"), c.Node("b"), c.Node("c"), c.Node("d")}
	node := func() circuit.Node { return rapid.SampledFrom(nodes).Draw(t, "node") }
	ohms := func() float64 { return math.Pow(10, rapid.Float64Range(-1, 7.5).Draw(t, "ohms")) }
	for _, n := range nodes[1:] {
		c.Add(&circuit.Resistor{A: nodes[0], B: n, Ohms: ohms()})
	}
	for range rapid.IntRange(0, 5).Draw(t, "more") {
		x, y := node(), node()
		switch {
		case x == y:
		case rapid.Bool().Draw(t, "junction"):
			c.Add(circuit.NewJunction("D", x, y, rapid.Float64Range(0.1, 0.8).Draw(t, "forward")))
		default:
			c.Add(&circuit.Resistor{A: x, B: y, Ohms: ohms()})
		}
	}
	return circuit.NewSolver(c), nodes[0], nodes[1]
}

// shipped draws one of the shipped meters.
func shipped(t *rapid.T) *Meter {
	m, err := Shipped(rapid.SampledFrom(ShippedIDs()).Draw(t, "meter"))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestRangeFromAnywhere: wherever the search begins, the first range that holds
// the reading shows it, and that is what every lower range says.
func TestRangeFromAnywhere(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := shipped(t)
		s, a, b := junctions(t)
		first := len(m.Resistance.Ranges)
		for i := first - 1; i >= 0; i-- {
			r, err := m.ReadResistanceAt(s, a, b, i)
			if err != nil {
				t.Fatal(err)
			}
			if full := m.Resistance.Ranges[i].FullScale; math.Abs(r.Value-full) < 1e-6*full {
				return // either
			} else if !r.Over && r.Value <= full {
				first = i
			}
		}
		for from := -1; from <= len(m.Resistance.Ranges); from++ {
			r, err := m.ReadResistanceFrom(s, a, b, from)
			if err != nil {
				t.Fatal(err)
			}
			if over := first == len(m.Resistance.Ranges); r.Over != over || !over && r.Range != first {
				t.Errorf("from range %d: %+v, want range %d", from, r, first)
			}
		}
	})
}

// TestShowIsWithin: what is shown lies on a step of the display, no further from
// the reading than its error and half a step, and grows with the error.
func TestShowIsWithin(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := shipped(t)
		size := math.Pow(10, rapid.Float64Range(-3, 8).Draw(t, "size"))
		r := rapid.SampledFrom([]Reading{
			m.Resistance.At(size), m.Diode.At(size / 1e3), m.DCVolts.At(size), m.DCVolts.At(-size), m.ACVolts.At(size),
			m.Capacitance.At(size * 1e-9), m.ESR.At(size),
		}).Draw(t, "reading")
		last := math.Inf(-1)
		for e := -1.0; e <= 1; e += 0.125 {
			v, over := r.Show(e)
			if over {
				v = math.Inf(1)
			} else if off := math.Abs(v - r.Value - e*r.Half); off > 0.5*r.Resolution*(1+1e-6) && v != r.Least {
				t.Errorf("%+v at %g of its error shows %g, off by %g", r, e, v, off)
			} else if steps := v / r.Resolution; math.Abs(steps-math.Round(steps)) > 1e-6*math.Max(1, math.Abs(steps)) {
				t.Errorf("%+v shows %g, between two steps", r, v)
			}
			if v < last {
				t.Errorf("%+v shows %g at an error of %g, less than %g before", r, v, e, last)
			}
			last = v
		}
	})
}

// TestVoltmeterLoads: behind any network of resistors and a source, the meter reads
// the open volts times R/(R + R_Th) (Thévenin); both are found with two other
// meters.
func TestVoltmeterLoads(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := circuit.New()
		n := []circuit.Node{c.Node("0"), c.Node("s"), c.Node("x"), c.Node("y")}
		c.Add(&circuit.Source{Name: "V", Plus: n[1], Minus: n[0], Volts: rapid.Float64Range(-400, 400).Draw(t, "volts")})
		for i, a := range n {
			for _, b := range n[:i] {
				c.Add(&circuit.Resistor{A: a, B: b, Ohms: math.Pow(10, rapid.Float64Range(1, 7.5).Draw(t, "ohms"))})
			}
		}
		s := circuit.NewSolver(c)
		with := func(ohms float64) float64 {
			m := *Default()
			m.DCVolts = Volts{InputResistance: ohms, Steps: []Step{{UpTo: 1e9, Resolution: 1e-3}}}
			r, err := m.ReadDCVolts(s, n[2], n[3])
			if err != nil || r.Over {
				t.Fatal(r, err)
			}
			return r.Value
		}
		open, half := with(1e15), with(1e5)
		if math.Abs(open) < 1e-3 {
			return
		}
		thevenin := 1e5 * (open/half - 1)
		if got, want := with(10e6), open*10e6/(10e6+thevenin); math.Abs(got-want) > 1e-6*math.Abs(open) {
			t.Errorf("%g V behind %g Ω read %g V, want %g", open, thevenin, got, want)
		}
	})
}

// TestFullScales: the shipped meters have as many counts as their names say, and a
// reading at the end of a range leaves it only upward.
func TestFullScales(t *testing.T) {
	t.Parallel()
	for id, counts := range map[string]float64{"handheld-6000": 6000, "handheld-low-ohms": 4000} {
		m, err := Shipped(id)
		if err != nil {
			t.Fatal(err)
		}
		for i, g := range m.Resistance.Ranges {
			if got := g.FullScale / g.Resolution; math.Abs(got-counts) > 1e-6*counts {
				t.Errorf("%s: range %d has %g counts, want %g", id, i, got, counts)
			}
			at, beyond := m.Resistance.At(g.FullScale), m.Resistance.At(g.FullScale*(1+1e-9))
			if at.Range != i || !beyond.Over && beyond.Range != i+1 || beyond.Over && i+1 < len(m.Resistance.Ranges) {
				t.Errorf("%s: the end of range %d is shown on %d, beyond it on %d, OL %t", id, i, at.Range, beyond.Range, beyond.Over)
			}
		}
	}
}
