package meter

import (
	"math"
	"testing"

	"ohmstead/internal/circuit"
)

// TestCapacitance: the series capacitance of what lies between the probes at
// the meter's frequency, and its digits; a resistor beside it shows, by the
// closed form C·(1 + 1/(ωRC)²).
func TestCapacitance(t *testing.T) {
	t.Parallel()
	m := Default()
	omega := 2 * math.Pi * m.Capacitance.Frequency
	tests := []struct {
		name             string
		farads, beside   float64
		want, resolution float64
		over             bool
	}{
		{"470 nF", 470e-9, math.Inf(1), 470e-9, 0.1e-9, false},
		{"990 µF", 990e-6, math.Inf(1), 990e-6, 1e-6, false},
		{"100 nF beside 6.8 kΩ", 100e-9, 6.8e3, 100e-9 * (1 + 1/math.Pow(omega*6.8e3*100e-9, 2)), 1e-9, false},
		{"a resistor alone", 0, 6.8e3, 0, 0, true},
		{"nothing", 0, math.Inf(1), 0, 1e-15, false},
	}
	for _, tt := range tests {
		c, n := two(t, "0", "a")
		c.Add(&circuit.Capacitor{A: n[1], B: n[0], Farads: tt.farads, Off: tt.farads == 0})
		c.Add(&circuit.Resistor{A: n[1], B: n[0], Ohms: tt.beside})
		s := circuit.NewSolver(c)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		r, err := m.ReadCapacitance(s, n[1], n[0])
		if err != nil || r.Over != tt.over || math.Abs(r.Value-tt.want) > 1e-6*tt.want {
			t.Errorf("%s: %+v %v, want %g", tt.name, r, err, tt.want)
		}
		if !tt.over && math.Abs(r.Resolution-tt.resolution) > 1e-9*tt.resolution {
			t.Errorf("%s: steps of %g, want %g", tt.name, r.Resolution, tt.resolution)
		}
	}
}

// TestESR: three capacitors of 0.3 Ω in parallel read 0.1 Ω at 100 kHz, and one
// alone what it has; nothing between the probes reads OL.
func TestESR(t *testing.T) {
	t.Parallel()
	m := Default()
	for n, want := range map[int]float64{0: -1, 1: 0.3, 3: 0.1} {
		c, nodes := two(t, "0", "a")
		for range n {
			c.Add(&circuit.Capacitor{A: nodes[1], B: nodes[0], Farads: 330e-6, ESR: 0.3})
		}
		s := circuit.NewSolver(c)
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		r, err := m.ReadESR(s, nodes[1], nodes[0])
		if err != nil || r.Over != (want < 0) || (!r.Over && math.Abs(r.Value-want) > 1e-6) {
			t.Errorf("%d capacitors: %+v %v, want %g", n, r, err, want)
		}
	}
}

// TestACVolts: half the mains over two equal resistors, loaded by the meter;
// nothing between islands.
func TestACVolts(t *testing.T) {
	t.Parallel()
	m := Default()
	c, n := two(t, "n", "l", "mid", "apart")
	c.Add(&circuit.Source{Plus: n[1], Minus: n[0], AC: 230, Hertz: 50, Ohms: 0.1})
	c.Add(&circuit.Resistor{A: n[1], B: n[2], Ohms: 1e6})
	c.Add(&circuit.Resistor{A: n[2], B: n[0], Ohms: 1e6})
	s := circuit.NewSolver(c)
	for _, tt := range []struct {
		red, black circuit.Node
		want       float64
	}{{n[1], n[0], 230}, {n[2], n[0], 230 * 10.0 / 21}, {n[0], n[2], 230 * 10.0 / 21}, {n[1], n[3], 0}} {
		r, err := m.ReadACVolts(s, tt.red, tt.black)
		if err != nil || r.Over || math.Abs(r.Value-tt.want) > 1e-3 {
			t.Errorf("%+v %v, want %g", r, err, tt.want)
		}
	}
}
