package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

const acBoard = `
format: ohmstead/board-profile/1
id: p
title: mains and bulk capacitors
ground: n
parts:
  C1: {kind: capacitor, pins: {plus: p, minus: n}, value: 330u, tolerance: 20 %, esr: 0.3}
  C2: {kind: capacitor, pins: {plus: p, minus: n}, value: 330u, tolerance: 20 %, esr: 0.3}
  C3: {kind: capacitor, pins: [x, n], value: 100n, tolerance: 10 %}
  R1: {kind: resistor, pins: [l, z], value: 33k, tolerance: 5 %}
  R2: {kind: resistor, pins: [z, n], value: 33k, tolerance: 5 %}
  R3: {kind: resistor, pins: [x, l], value: 100k, tolerance: 5 %}
  D1: {kind: diode, pins: {anode: n, cathode: p}}
states:
  live: {sources: [{name: mains, plus: l, minus: n, volts_ac: 230 V, frequency: 50 Hz, tolerance: 10 %}]}
checks:
  - {id: bulk, state: cold, measure: capacitance, across: C1}
  - {id: esr, state: cold, measure: esr, across: C1}
  - {id: esr3, state: cold, measure: esr, across: C3}
  - {id: alone, state: cold, measure: capacitance, across: C1, lifted: true}
  - {id: half, state: live, measure: ac_volts, red: z}
  - {id: dc, state: live, measure: dc_volts, red: z}
`

// TestAlternatingChecks: two capacitors side by side add, their ESR halves; an
// open one shows; AC volts on a divider; what is not known is not expected.
func TestAlternatingChecks(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(acBoard), nil)
	if err != nil {
		t.Fatal(err)
	}
	m := NewModel(p, meter.Default())
	r := diagnosed(t, m)
	rows := map[string]Row{}
	for _, row := range r.Table {
		rows[row.Check.ID] = row
	}
	tests := []struct {
		id      string
		typical float64
		within  float64
		can     bool
	}{
		{"bulk", 660e-6, 1e-6, true},
		{"esr", 0.15, 1e-3, false}, // open: 0.3 Ω, which is not short; short reads less
		{"alone", 330e-6, 1e-6, true},
		{"half", 115, 0.3, true},
		{"dc", 0, 1e-3, false},
	}
	for _, tt := range tests {
		row := rows[tt.id]
		if row.Expected == nil || row.Expected.Typical == nil || math.Abs(*row.Expected.Typical-tt.typical) > tt.within {
			t.Errorf("%s: expected %+v (%s), want %g", tt.id, row.Expected, row.Why, tt.typical)
			continue
		}
		if tt.id != "esr" && row.CanTell != tt.can {
			t.Errorf("%s: can tell %t (open %v, short %v, others %v)", tt.id, row.CanTell, row.Open, row.Short, row.Telling)
		}
	}
	if o := rows["bulk"].Open; o == nil || math.Abs(o.Value-330e-6) > 1e-6 {
		t.Errorf("with C1 open the bus would read %+v, want 330 µF", o)
	}
	if o := rows["esr"].Open; o == nil || math.Abs(o.Value-0.3) > 1e-3 {
		t.Errorf("with C1 open the ESR would read %+v, want 0.3 Ω", o)
	}
	if row := rows["esr3"]; row.Expected != nil {
		t.Errorf("an unknown series resistance is expected to be %+v", row.Expected)
	}
	mains := reading(t, m, check("live", "ac_volts", "", "l", "n"), "221.0")
	half := reading(t, m, check("live", "ac_volts", "", "z", "n"), "110.4")
	judged, err := m.Diagnose([]Reading{mains, half}, "")
	if err != nil {
		t.Fatal(err)
	}
	if here := judged.Table[1].ExpectedHere; here == nil || math.Abs(*here.Typical-110.3) > 0.2 || judged.Table[0].ExpectedHere != nil {
		t.Errorf("with the mains read at 221 V: %+v", here)
	}
	for _, id := range []string{"bulk", "alone", "half"} {
		c, _ := p.Check(id)
		b, e := expected(t, m, *c)
		verify(t, id, &e, simulate(t, b, &e, 3000, 5), 3000)
	}
}
