package meter

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/circuit"
)

// TestSettleResistance: R beside an empty C behind the range's reference r. The
// volts rise as V·(1 − e^(−t/τ)), V = U·R/(R + r), τ = C·R·r/(R + r); what is shown
// is r·v/(U − v), and OL once that is beyond the range.
func TestSettleResistance(t *testing.T) {
	t.Parallel()
	m := Default()
	for _, tt := range []struct {
		ohms, farads float64
		rng          int
	}{{100e3, 100e-6, 3}, {4.7e3, 10e-6, 1}, {2e6, 1e-6, 3}} {
		c, n := two(t, "0", "a")
		c.Add(&circuit.Resistor{A: n[1], B: n[0], Ohms: tt.ohms})
		c.Add(&circuit.Capacitor{A: n[1], B: n[0], Farads: tt.farads})
		r, u := m.Resistance.Ranges[tt.rng].Reference, m.Resistance.OpenCircuit
		tau := tt.farads * tt.ohms * r / (tt.ohms + r)
		var times []float64
		for x := tau * 1e-3; x < 12*tau; x *= 1.05 {
			times = append(times, x)
		}
		got, err := m.SettleResistance(c, n[1], n[0], tt.rng, times)
		if err != nil || len(got) != len(times) {
			t.Fatalf("%d readings at %d times, %v", len(got), len(times), err)
		}
		for i, at := range times {
			v := u * tt.ohms / (tt.ohms + r) * -math.Expm1(-at/tau)
			want := r * v / (u - v)
			full := m.Resistance.Ranges[tt.rng].FullScale
			if off := math.Abs(got[i].Value - want); off > 0.01*want+0.002*r {
				t.Errorf("%g Ω beside %g F after %.3g s: %g Ω, want %g", tt.ohms, tt.farads, at, got[i].Value, want)
			}
			if got[i].Over != (want > full) && math.Abs(want-full) > 0.02*full {
				t.Errorf("%g Ω after %.3g s: OL %t on the range to %g", want, at, got[i].Over, full)
			}
		}
	}
}

// contradiction makes a circuit without a solution: two ideal sources disagree.
func contradiction(t *testing.T) (*circuit.Circuit, []circuit.Node) {
	t.Helper()
	c, n := two(t, "0", "rail", "pin")
	c.Add(&circuit.Source{Plus: n[1], Minus: n[0], Volts: 5})
	c.Add(&circuit.Source{Plus: n[1], Minus: n[0], Volts: 3.3})
	c.Add(&circuit.Resistor{A: n[1], B: n[2], Ohms: 1e3})
	c.Add(&circuit.Resistor{A: n[2], B: n[0], Ohms: 1e3})
	return c, n
}

// TestNoSolution: every function that has to solve a circuit without a solution
// says so, names the place, and shows no number.
func TestNoSolution(t *testing.T) {
	t.Parallel()
	m := Default()
	c, n := contradiction(t)
	for name, read := range map[string]func(*circuit.Solver, circuit.Node, circuit.Node) (Reading, error){
		"resistance": m.ReadResistance, "diode": m.ReadDiode, "DC volts": m.ReadDCVolts, "AC volts": m.ReadACVolts,
	} {
		r, err := read(circuit.NewSolver(c), n[2], n[0])
		var u *circuit.Unsolved
		if !errors.As(err, &u) || !strings.Contains(err.Error(), "rail") {
			t.Errorf("%s: %v", name, err)
		}
		if v, over := r.Show(0); !over {
			t.Errorf("%s shows %g", name, v)
		}
	}
	var u *circuit.Unsolved
	if r, err := m.SettleResistance(c, n[2], n[0], 2, []float64{1e-3, 1}); !errors.As(err, &u) || r != nil {
		t.Errorf("in time: %+v, %v", r, err)
	}
}

// TestOnePlace: both leads on one node are a short, whatever is connected.
func TestOnePlace(t *testing.T) {
	t.Parallel()
	m := Default()
	c, n := two(t, "0", "a")
	c.Add(&circuit.Source{Plus: n[1], Minus: n[0], Volts: 12, AC: 230, Hertz: 50, Ohms: 0.1})
	s := circuit.NewSolver(c)
	for name, read := range map[string]func(*circuit.Solver, circuit.Node, circuit.Node) (Reading, error){
		"resistance": m.ReadResistance, "diode": m.ReadDiode, "DC volts": m.ReadDCVolts, "AC volts": m.ReadACVolts, "ESR": m.ReadESR,
	} {
		r, err := read(s, n[1], n[1])
		if v, over := r.Show(0); err != nil || over || v != 0 {
			t.Errorf("%s: %g, OL %t, %v", name, v, over, err)
		}
	}
}

// TestRangesBetweenIslands: no range of the ohmmeter holds what is not connected.
func TestRangesBetweenIslands(t *testing.T) {
	t.Parallel()
	m := Default()
	c, n := two(t, "0", "a", "x", "y")
	c.Add(&circuit.Resistor{A: n[0], B: n[1], Ohms: 1e3})
	c.Add(&circuit.Resistor{A: n[2], B: n[3], Ohms: 1e3})
	s := circuit.NewSolver(c)
	for i, g := range m.Resistance.Ranges {
		got, err := m.ReadResistanceAt(s, n[1], n[2], i)
		want := Reading{Over: true, Range: i, Most: g.FullScale}
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Errorf("range %d: %v %s", i, err, d)
		}
	}
}

// TestVoltsBothWays: the range goes by the size of the volts, and beyond the last
// there is OL both ways.
func TestVoltsBothWays(t *testing.T) {
	t.Parallel()
	v := &Default().DCVolts
	for volts, want := range map[float64]int{0: 0, -5.9: 0, 6.1: 1, -59: 1, 61: 2, -601: 3} {
		if r := v.At(volts); r.Over || r.Range != want || r.Value != volts {
			t.Errorf("%g V: %+v, want range %d", volts, r, want)
		}
	}
	for _, volts := range []float64{1001, -1001} {
		if _, over := v.At(volts).Show(0); !over {
			t.Errorf("%g V is no OL", volts)
		}
	}
}

// TestRound: to the nearest step, with the binary value that the digits have.
func TestRound(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ value, resolution, want float64 }{
		{0.5804, 1e-3, 0.58}, {0.5806, 1e-3, 0.581}, {-0.5806, 1e-3, -0.581}, {6804, 10, 6800}, {6806, 10, 6810}, {4.7e-7, 1e-10, 4.7e-7}, {3.3, 0, 3.3},
	} {
		if got := Round(tt.value, tt.resolution); math.Abs(got-tt.want) > 1e-15*math.Abs(tt.want) {
			t.Errorf("%g in steps of %g: %v, want %v", tt.value, tt.resolution, got, tt.want)
		}
	}
}
