package analysis

import (
	"math"
	"strings"
	"testing"

	"ohmstead/internal/circuit"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// charged reads a resistor with volts hidden in its loop, both ways round, by
// solving the loop.
func charged(t *testing.T, m *meter.Meter, ohms, volts float64) (one, two meter.Reading) {
	t.Helper()
	c := circuit.New()
	a, b, x := c.Node("a"), c.Node("b"), c.Node("x")
	c.Add(&circuit.Resistor{A: a, B: x, Ohms: ohms})
	c.Add(&circuit.Source{Name: "charge", Plus: x, Minus: b, Volts: volts})
	s := circuit.NewSolver(c)
	one, err := m.ReadResistance(s, a, b)
	if err != nil {
		t.Fatal(err)
	}
	if two, err = m.ReadResistance(s, b, a); err != nil {
		t.Fatal(err)
	}
	return one, two
}

// TestHiddenCharge: two readings of the same points, turned round, give back the
// resistance and the hidden volts that made them.
func TestHiddenCharge(t *testing.T) {
	t.Parallel()
	m := model(t, "parts:\n  R1: {kind: resistor, pins: [a, gnd], value: 680k, tolerance: 1 %}\n")
	for _, tt := range []struct{ ohms, volts float64 }{{680e3, 0.1}, {680e3, -0.1}, {680e3, 0.3}, {10e3, 0.05}, {3.3e6, 0.2}, {47e3, 0}} {
		one, two := charged(t, m.meter, tt.ohms, tt.volts)
		if one.Over || two.Over {
			t.Fatalf("%+v reads OL", tt)
		}
		as := func(r meter.Reading) *Reading { return &Reading{Value: quantity.Value{Number: r.Value}} }
		ohms, volts := m.hidden(as(one), as(two), 1)
		if math.Abs(ohms-tt.ohms) > 1e-6*tt.ohms || math.Abs(volts-tt.volts) > 1e-6 {
			t.Errorf("%+v: %.1f Ω and %.6f V from %.1f and %.1f Ω", tt, ohms, volts, one.Value, two.Value)
		}
	}
}

// TestChargeInWords: 1 V left on the bus makes a good 680 kΩ read OL one way
// round and far too low the other; the sentence under either says so. A part
// that is really open is not excused.
func TestChargeInWords(t *testing.T) {
	t.Parallel()
	m := model(t, "parts:\n  R1: {kind: resistor, pins: [a, gnd], value: 680k, tolerance: 1 %}\n")
	straight := check("cold", "resistance", "R1", "", "")
	turned := straight
	turned.Swapped = true
	typed := func(c profile.Check, r meter.Reading) Reading {
		text := "OL"
		if !r.Over {
			text = quantity.Format(r.Value, r.Resolution, quantity.Ohm)
		}
		return reading(t, m, c, text)
	}
	tests := []struct {
		name        string
		ohms, volts float64
		excused     bool
	}{
		{"a good part, 1 V", 680e3, 1, true},
		{"a good part, 1 V the other way", 680e3, -1, true},
		{"a good part, 0.2 V", 680e3, 0.2, true},
		{"a drifted part, 0.2 V", 900e3, 0.2, false},
		{"a drifted part", 900e3, 0, false},
	}
	for _, tt := range tests {
		one, two := charged(t, m.meter, tt.ohms, tt.volts)
		r, err := m.Diagnose([]Reading{typed(straight, one), typed(turned, two)}, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range r.Table[:2] {
			if row.Verdict != Nonconforming {
				t.Errorf("%s: %s", tt.name, row.Verdict)
			}
			if got := strings.Contains(row.Why, "both ways round together"); got != tt.excused {
				t.Errorf("%s: %s", tt.name, row.Why)
			}
		}
	}
	open := reading(t, m, straight, "OL")
	back := reading(t, m, turned, "OL")
	r, err := m.Diagnose([]Reading{open, back}, "")
	if err != nil || strings.Contains(r.Table[0].Why, "both ways round together") {
		t.Errorf("open both ways: %s %v", r.Table[0].Why, err)
	}
}
