package analysis

import (
	"strings"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// TestDiodeMode: what junctions read in diode mode where the profile says nothing of
// their drop: bridges 0.45 to 0.60 V, freewheel diodes 0.35 to 0.55, small-signal
// 0.55 to 0.65, optocouplers' LEDs 1.0 to 1.2, a controller's clamps 0.5 to 0.7, and
// over-range the other way round (common practice, no source).
func TestDiodeMode(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: junctions
ground: gnd
parts:
  BR1: {kind: bridge, pins: {ac1: l, ac2: n, plus: p, minus: gnd}}
  Q1: {kind: nmos, pins: {gate: g, drain: d, source: s}}
  D1: {kind: diode, pins: {anode: a, cathode: k}}
  U7: {kind: optocoupler, pins: {anode: oa, cathode: ok, collector: oc, emitter: gnd}}
  U1: {kind: input_pin, pins: {pin: pin, ground: gnd, supply: v5}, resistance: open}
checks:
  - {id: bridge, state: cold, measure: diode, red: l, black: p}
  - {id: body, state: cold, measure: diode, red: s, black: d}
  - {id: small, state: cold, measure: diode, red: a, black: k}
  - {id: led, state: cold, measure: diode, red: oa, black: ok}
  - {id: clamp, state: cold, measure: diode, red: pin, black: v5}
  - {id: small-back, state: cold, measure: diode, red: k, black: a}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	m := NewModel(p, meter.Default())
	for id, want := range map[string][2]float64{
		"bridge": {0.45, 0.60}, "body": {0.35, 0.55}, "small": {0.55, 0.65}, "led": {1.0, 1.2}, "clamp": {0.5, 0.7},
	} {
		c, _ := p.Check(id)
		_, e := expected(t, m, *c)
		// The middle lies inside; the file formats let a drop differ by 10 % and more
		// than that is not believed.
		if v := e.nominal.Value; v < want[0] || v > want[1] || e.low.Value < want[0]-0.06 || e.high.Value > want[1]+0.06 {
			t.Errorf("%s: %v, %v to %v, want about %v", id, v, e.low, e.high, want)
		}
	}
	c, _ := p.Check("small-back")
	if _, e := expected(t, m, *c); !e.nominal.Over || !e.low.OverRange {
		t.Errorf("backwards: %v, %v", e.nominal, e.low)
	}
}

// TestCodeNamesNoDirection: an indication may name only the channel: the same code
// for the upper and for the lower leg open (common practice, no source).
func TestCodeNamesNoDirection(t *testing.T) {
	t.Parallel()
	m := small(t, strings.Replace(divider, "below: 2 V}", "below: 2 V, above: 4 V}", 1))
	shown, quiet := m.weighed(t, "low"), m.weighed(t, "none")
	for _, part := range []string{"R1", "R3"} {
		if shown.chance(part) < 0.1 || shown.chance(part) < 3*quiet.chance(part) {
			t.Errorf("%s: %.3f with the code, %.3f with none", part, shown.chance(part), quiet.chance(part))
		}
	}
	// One reading turns the balance: open below it stands high, open above it at nothing.
	high, low := m.weighed(t, "low", "live-sense,5.58"), m.weighed(t, "low", "live-sense,0.000")
	if high.chance("R3") < 3*high.chance("R1") || low.chance("R1") < 3*low.chance("R3") {
		t.Errorf("5.58 V: R3 %.3f, R1 %.3f; 0 V: R1 %.3f, R3 %.3f", high.chance("R3"), high.chance("R1"), low.chance("R1"), low.chance("R3"))
	}
}
