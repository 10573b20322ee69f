package analysis

import (
	"math"
	"strings"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// TestCreep: across a high-value part in a loop with a large empty capacitor the
// reading starts near nothing and creeps up with τ = C·(R ∥ the range's reference
// resistor): 1 MΩ, 680 µF, reference 1 MΩ: 340 s (common practice, no source;
// the closed form is exact). An open one creeps with C·R_ref = 680 s.
func TestCreep(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: a bleeder on an empty bus
ground: n
parts:
  R1: {kind: resistor, pins: [p, n], value: 1M, tolerance: 1 %}
  C1: {kind: capacitor, pins: [p, n], value: 680u}
  R2: {kind: resistor, pins: [x, n], value: 10k, tolerance: 1 %}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	m := NewModel(p, meter.Default())
	r := diagnosed(t, m)
	rows := map[string]Row{}
	for _, row := range r.Table {
		rows[row.Check.ID] = row
	}
	if rows["cold:R2"].Settling != nil {
		t.Errorf("R2 has nothing to wait for: %+v", rows["cold:R2"].Settling)
	}
	s := rows["cold:R1"].Settling
	if s == nil {
		t.Fatal("R1 settles at once")
	}
	const ref, oc = 1e6, 0.5
	shown := func(v float64) float64 { return ref * v / (oc - v) }
	good := func(t float64) float64 { return shown(oc / 2 * -math.Expm1(-t/340)) }
	open := func(t float64) float64 { return shown(oc * -math.Expm1(-t/680)) }
	half := func(x float64) float64 { return 0.015*x + 5e3 }
	if s.Settled.Value != 1e6 || math.Abs(s.First.Value-good(1)) > 600 {
		t.Errorf("first %v, want %.0f; settled %v", s.First, good(1), s.Settled)
	}
	settles, apart := 0.0, 0.0
	for x := 1.0; x < 1e5; x *= 1.001 {
		if math.Abs(good(x)-1e6) > half(1e6) {
			settles = x
		}
		if open(x) < 6e6 && math.Abs(good(x)-open(x)) <= half(good(x))+half(open(x)) {
			apart = x
		}
	}
	// Times are looked at every 10 %.
	if s.Seconds < settles*0.99 || s.Seconds > settles*1.12 {
		t.Errorf("settles after %.0f s, want %.0f", s.Seconds, settles)
	}
	if s.TellBy < apart*0.99 || s.TellBy > apart*1.12 {
		t.Errorf("good and open differ after %.0f s, want %.0f", s.TellBy, apart)
	}
	c := check("cold", "resistance", "R1", "", "")
	moving := reading(t, m, c, "300k")
	moving.Moving = MovingUp
	if row := first(t, m, moving); row.Verdict != Inconclusive || !strings.Contains(row.Why, "min") {
		t.Errorf("%s: %s", row.Verdict, row.Why)
	}
	if row := first(t, m, reading(t, m, c, "300k")); row.Verdict != Nonconforming || !strings.Contains(row.Why, "before it stood still") {
		t.Errorf("%s: %s", row.Verdict, row.Why)
	}
	if s := rows["cold:C1"].Settling; s == nil || s.Settled.Value != 1e6 {
		t.Errorf("across the capacitor itself: %+v", s)
	}
}

// TestCreepToOverRange: across a capacitor with nothing beside it the reading
// creeps to OL.
func TestCreepToOverRange(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: a capacitor
ground: n
parts:
  C1: {kind: capacitor, pins: [p, n], value: 1u}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	row := diagnosed(t, NewModel(p, meter.Default())).Table[0]
	s := row.Settling
	// On the last range, 10 MΩ: OL from V = 6/7 of the test voltage, τ·ln 7.
	if want := 10 * math.Log(7); s == nil || !s.Settled.OverRange || s.Seconds < want*0.99 || s.Seconds > want*1.12 {
		t.Errorf("%+v, want OL after %.1f s", s, 10*math.Log(7))
	}
}

// TestSpan: times as one says them.
func TestSpan(t *testing.T) {
	t.Parallel()
	for seconds, want := range map[float64]string{1.2: "2 s", 89: "89 s", 340: "6 min", 7200: "2.0 h", 1e6: "days"} {
		if got := span(seconds); got != want {
			t.Errorf("%g s is %q, want %q", seconds, got, want)
		}
	}
}
