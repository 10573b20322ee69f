package analysis

import (
	"fmt"
	"math"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// model makes a model of a small profile with the default meter.
func model(t testing.TB, text string) *Model {
	t.Helper()
	head := "format: ohmstead/board-profile/1\nid: p\ntitle: small\nground: gnd\n"
	p, err := profile.Load("p.yaml", []byte(head+text), nil)
	if err != nil {
		t.Fatal(err)
	}
	return NewModel(p, meter.Default())
}

// assessed works out a check of a model.
func assessed(t testing.TB, m *Model, c profile.Check) *assessment {
	t.Helper()
	c, err := m.profile.Resolve(c)
	if err != nil {
		t.Fatal(err)
	}
	a := m.assess(c, nil)
	if a.err != nil {
		t.Fatal(a.err)
	}
	return a
}

// TestCanTell: which checks tell a good board from a bad one, worked out by hand.
func TestCanTell(t *testing.T) {
	t.Parallel()
	m := model(t, `
parts:
  R1: {kind: resistor, pins: [a, gnd], value: 10k, tolerance: 1 %}
  R2: {kind: resistor, pins: [b, gnd], value: 10k, tolerance: 1 %}
  R3: {kind: resistor, pins: [b, gnd], value: 100, tolerance: 1 %}
  R4: {kind: resistor, pins: [c, gnd], value: 10m, tolerance: 1 %}
  L1: {kind: inductor, pins: [d, gnd], resistance: 0.1}
  L2: {kind: inductor, pins: [e, gnd], resistance: 2}
  C1: {kind: capacitor, pins: [f, gnd], value: 1u}
  C2: {kind: capacitor, pins: [a, gnd], value: 1u}
  S1: {kind: switch, pins: [s, gnd]}
  D1: {kind: diode, pins: {anode: g, cathode: gnd}}
  R5: {kind: resistor, pins: [v5, h], value: 10k, tolerance: 1 %}
  R6: {kind: resistor, pins: [h, gnd], value: 10k, tolerance: 1 %}
  U1: {kind: input_pin, pins: {pin: h, ground: gnd, supply: v5}}
  U2: {kind: input_pin, pins: {pin: k, ground: gnd, supply: v5}}
states:
  on: {sources: [{name: s, plus: v5, minus: gnd, volts: 5 V, tolerance: 2 %}]}
`)
	tests := []struct {
		check profile.Check
		can   bool
		why   string
	}{
		{check("cold", "resistance", "R1", "", ""), true, "open reads OL"},
		{check("cold", "resistance", "R2", "", ""), true, "short reads nothing, although open hides behind R3"},
		{check("cold", "resistance", "R3", "", ""), true, "open reads 10 k"},
		{check("cold", "resistance", "R4", "", ""), true, "open reads OL, although short reads as much as good"},
		{check("cold", "resistance", "L1", "", ""), true, "open reads OL"},
		{check("cold", "resistance", "C1", "", ""), true, "short reads nothing"},
		{check("cold", "resistance", "S1", "", ""), false, "a switch has no modes"},
		{check("cold", "diode", "D1", "", ""), true, "open and short"},
		{check("on", "dc_volts", "", "h", ""), true, "R5 open, R6 open, R5 short, the pin shorted"},
		{check("on", "dc_volts", "", "v5", ""), false, "the supply holds it, no part is across it"},
		{check("on", "dc_volts", "", "k", ""), false, "only a pin with its resistance hangs there: it reads 0 whatever"},
		{check("cold", "resistance", "", "h", "v5"), true, "R5"},
		{check("cold", "resistance", "", "a", "b"), true, "in series with R1"},
	}
	for _, tt := range tests {
		a := assessed(t, m, tt.check)
		if a.canTell != tt.can {
			t.Errorf("%s %s%s: can tell %t, want %t (%s); band %v to %v, open %v, short %v, telling %v",
				tt.check.Measure, tt.check.Across, tt.check.Red, a.canTell, tt.can, tt.why, a.low, a.high, a.open, a.short, a.telling)
		}
	}
}

// TestBlindBeside: open hides where a small resistance lies beside and the part
// has no other mode that shows.
func TestBlindBeside(t *testing.T) {
	t.Parallel()
	m := model(t, `
parts:
  L1: {kind: inductor, pins: [a, gnd], resistance: 100}
  R1: {kind: resistor, pins: [a, gnd], value: 1, tolerance: 1 %}
  F1: {kind: fuse, pins: [b, gnd]}
  F2: {kind: fuse, pins: [b, gnd]}
`)
	for _, ref := range []string{"L1", "F1"} {
		a := assessed(t, m, check("cold", "resistance", ref, "", ""))
		if a.canTell || a.open == nil || a.short != nil {
			t.Errorf("%s: can tell %t, open %v, short %v; band %v to %v", ref, a.canTell, a.open, a.short, a.low, a.high)
		}
	}
}

// TestHalfOpen: an open that may be a clean break or a corroded joint must show
// in both: beside 2 MΩ a corroded 10 kΩ may pass for good.
func TestHalfOpen(t *testing.T) {
	t.Parallel()
	board := `
parts:
  R1: {kind: inductor, pins: [a, gnd], resistance: 10k}
  R2: {kind: resistor, pins: [a, gnd], value: %s, tolerance: 20 %%}
`
	clear := assessed(t, model(t, fmt.Sprintf(board, "2M")), check("cold", "resistance", "R1", "", ""))
	hidden := assessed(t, model(t, fmt.Sprintf(board, "50")), check("cold", "resistance", "R1", "", ""))
	if !clear.canTell || hidden.canTell {
		t.Errorf("beside 2 MΩ it can tell: %t; beside 50 Ω: %t", clear.canTell, hidden.canTell)
	}
}

// TestTelling: for a place the faults that would show are named, those at the
// probes first, with what they read.
func TestTelling(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	c, ok := m.profile.Check("live-vb")
	if !ok {
		t.Fatal("no such check")
	}
	a := assessed(t, m, *c)
	if len(a.telling) != maxTelling {
		t.Fatalf("%d faults named", len(a.telling))
	}
	reads := map[string]float64{}
	for _, f := range a.telling {
		reads[f.Fault.Part+" "+string(f.Fault.Mode)] = f.Shown.Value
	}
	if v, ok := reads["R16 open"]; !ok || v != 0 {
		t.Errorf("R16 open reads %g V (%v)", v, reads)
	}
	if v, ok := reads["R17 open"]; !ok || math.Abs(v-6) > 0.05 {
		t.Errorf("R17 open reads %g V, want 6.0 (%v)", v, reads)
	}
	for _, f := range a.telling[:2] {
		p, _ := m.profile.Part(f.Fault.Part)
		if away(p, *c) != 0 {
			t.Errorf("%s is not at the red probe and comes first", p.Ref)
		}
	}
}

// TestOtherPlaces: a check that the profile does not offer is worked out like
// one that it does.
func TestOtherPlaces(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	offered, ok := m.profile.Check("live-vb")
	if !ok {
		t.Fatal("no such check")
	}
	want := assessed(t, m, *offered)
	other := assessed(t, m, check("live", "dc_volts", "", "a5", ""))
	if !other.canTell || len(other.telling) == 0 || other.typical.Value < want.typical.Value {
		t.Errorf("%+v", other)
	}
}

// TestSizes: the shares of every mode's sizes sum to 1 and lie in the ranges of
// the formats.
func TestSizes(t *testing.T) {
	t.Parallel()
	limits := map[profile.Mode][2]float64{
		profile.ModeShort: {0.05, 1}, profile.ModeOutputShort: {0.05, 1}, profile.ModeLeaky: {1e3, 100e3}, profile.ModeWeak: {2, 50},
		profile.ModeTired: {1.3, 20}, profile.ModeHigh: {1.2, 100}, profile.ModeLow: {1.2, 20},
	}
	for _, id := range []string{"sedge-d", "hearth-2"} {
		p := shipped(t, id)
		for i := range p.Parts {
			part := &p.Parts[i]
			for _, mode := range part.Kind.Modes() {
				sum := 0.0
				for _, s := range sizes(part, mode) {
					sum += s.share
					l, ok := limits[mode]
					if part.Kind == profile.Regulator && (mode == profile.ModeHigh || mode == profile.ModeLow) {
						l = [2]float64{1.1, 1 / 0.3}
					}
					if ok && (s.Size < l[0] || s.Size > l[1]) {
						t.Errorf("%s %s has a size of %g", part.Ref, mode, s.Size)
					}
					if mode == profile.ModeOpen && !math.IsInf(s.Size, 1) && (s.Size < 100*part.Ohms() || s.Size > 1e9) {
						t.Errorf("%s is open at %g Ω", part.Ref, s.Size)
					}
				}
				if math.Abs(sum-1) > 1e-9 {
					t.Errorf("%s %s: shares sum to %g", part.Ref, mode, sum)
				}
			}
		}
	}
}

// TestSurelyOutside: where a fault's reading is called outside without its
// distribution, the distribution says the same.
func TestSurelyOutside(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	sure, unsure := 0, 0
	for _, id := range []string{"r17", "r11", "r34", "live-bus", "live-vb", "inj-vb", "v5"} {
		c, ok := m.profile.Check(id)
		if !ok {
			t.Fatalf("no check %s", id)
		}
		a := m.assess(*c, nil)
		for i := range m.profile.Parts {
			for _, d := range plainDefects(&m.profile.Parts[i]) {
				b, err := m.newBench(*c, nil, d)
				if err != nil {
					continue
				}
				r, err := b.read()
				if err != nil {
					continue
				}
				if !b.surelyOutside(r, a) {
					unsure++
					continue
				}
				sure++
				quick, _ := b.linearly(r)
				if out := quick.outside(a.low, a.high); out < 0.9999 {
					t.Errorf("%s with %s %s: %g outside", id, d.Part, d.Mode, out)
				}
			}
		}
	}
	if sure == 0 || unsure == 0 {
		t.Errorf("sure %d times, unsure %d: the test wants both", sure, unsure)
	}
}
