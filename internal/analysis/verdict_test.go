package analysis

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// sense is the example profile of the formats: a bus divider and its pin.
func sense(t testing.TB) *Model {
	t.Helper()
	p, err := profile.LoadFile("../profile/testdata/demo-sense-a.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return NewModel(p, meter.Default())
}

// reading takes a check of the profile as it was typed.
func reading(t testing.TB, m *Model, c profile.Check, typed string) Reading {
	t.Helper()
	c, err := m.profile.Resolve(c)
	if err != nil {
		t.Fatal(err)
	}
	v, err := quantity.Parse(typed, c.Measure.Unit())
	if err != nil {
		t.Fatal(err)
	}
	return Reading{Check: c, Value: v}
}

func check(state string, measure profile.Measure, across, red, black string) profile.Check {
	return profile.Check{State: state, Measure: measure, Across: across, Red: red, Black: black}
}

func first(t testing.TB, m *Model, readings ...Reading) Row {
	t.Helper()
	r, err := m.Diagnose(readings, "")
	if err != nil {
		t.Fatal(err)
	}
	return r.Table[0]
}

// TestExampleOfTheFormats: R3, 6.8 kΩ at 1 %, on the 60 kΩ range: 1 % and
// 0.9 % + 5 counts of 10 Ω give 6630 to 6960 Ω, as the formats print it.
func TestExampleOfTheFormats(t *testing.T) {
	t.Parallel()
	m := sense(t)
	row := first(t, m, reading(t, m, check("cold", "resistance", "R3", "", ""), "41.3k"))
	if *row.Expected.Low != 6630 || *row.Expected.High != 6960 || math.Abs(*row.Expected.Typical-6800) > 10 {
		t.Errorf("expected %g, %g, %g; want 6630, 6800, 6960", *row.Expected.Low, *row.Expected.Typical, *row.Expected.High)
	}
	if row.Verdict != Nonconforming || !row.CanTell || *row.Actual != 41300 {
		t.Errorf("%+v", row)
	}
	got, err := json.Marshal(row)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"check":{"id":"k1","state":"cold","measure":"resistance","across":"R3"},` +
		`"expected":{"low":6630,"typical":6790,"high":6960,"unit":"Ω"},"can_tell":true,"actual":41300,"over_range":false,"verdict":"nonconforming","why":`
	if !strings.HasPrefix(string(got), want) {
		t.Errorf("JSON %s", got)
	}
}

// TestVerdicts: one reading each, the verdict and a word of the reason.
func TestVerdicts(t *testing.T) {
	t.Parallel()
	m := sense(t)
	r3 := check("cold", "resistance", "R3", "", "")
	lifted := r3
	lifted.Lifted = true
	residue := 0.4
	small := 0.05
	tests := []struct {
		name  string
		check profile.Check
		typed string
		with  func(*Reading)
		want  Verdict
		why   string
	}{
		{"typical", r3, "6.80k", nil, Conforming, "A good board reads"},
		{"at the band's end", r3, "6.96k", nil, Conforming, "with R3 open"},
		{"the guard", r3, "6.97k", nil, Inconclusive, "Just outside"},
		{"beyond the guard", r3, "7.00k", nil, Nonconforming, "More than R3 itself can read"},
		{"ceiling", r3, "41.3k", nil, Nonconforming, "nothing beside it"},
		{"over-range", r3, "OL", nil, Nonconforming, "open or high"},
		{"below", r3, "5.1k", nil, Nonconforming, "low, leaky or shorted"},
		{"coarse digits", r3, "7k", nil, Conforming, ""},
		{"fine digits", r3, "7000", nil, Nonconforming, ""},
		{"charge left", r3, "41.3k", func(r *Reading) { r.Residue = &residue }, Inconclusive, "0.4 V still stood"},
		{"little charge", r3, "41.3k", func(r *Reading) { r.Residue = &small }, Nonconforming, ""},
		{"creeping up, still low", r3, "3k", func(r *Reading) { r.Moving = MovingUp }, Inconclusive, "creeping"},
		{"creeping up, already too high", r3, "41.3k", func(r *Reading) { r.Moving = MovingUp }, Nonconforming, ""},
		{"creeping down", r3, "6.80k", func(r *Reading) { r.Moving = MovingDown }, Inconclusive, "creeping"},
		{"lifted and good", lifted, "6.80k", nil, Conforming, ""},
		{"lifted and open", lifted, "OL", nil, Nonconforming, "R3 alone"},
		{"lifted and low", lifted, "5.1k", nil, Nonconforming, "R3 alone"},
		{"blind", check("cold", "resistance", "C10", "", ""), "667k", nil, Conforming, "shorted"},
		{"a clamp says nothing of R4", check("cold", "diode", "", "adc", "v5"), "0.58", nil, Inconclusive, "cannot tell"},
		{"powered, low", check("live", "dc_volts", "", "TP3", ""), "0.2", nil, Nonconforming, "Lower than"},
		{"between islands", check("cold", "resistance", "", "v5", "bus_p"), "OL", nil, Inconclusive, ""},
	}
	for _, tt := range tests {
		r := reading(t, m, tt.check, tt.typed)
		if tt.with != nil {
			tt.with(&r)
		}
		row := first(t, m, r)
		if row.Verdict != tt.want || !strings.Contains(row.Why, tt.why) {
			t.Errorf("%s: %s is %s (%s), want %s (…%s…)", tt.name, tt.typed, row.Verdict, row.Why, tt.want, tt.why)
		}
		if row.Why == "" || !strings.HasSuffix(row.Why, ".") {
			t.Errorf("%s: no sentence: %q", tt.name, row.Why)
		}
	}
}

// TestPolarityDecides: a resistor beside a junction reads differently each way
// round, and one way may be blind where the other is not.
func TestPolarityDecides(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: one diode beside a resistor
ground: gnd
parts:
  R1: {kind: resistor, pins: [a, gnd], value: 10k, tolerance: 1 %}
  D1: {kind: diode, pins: {anode: gnd, cathode: a}, forward: 0.25 V}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	m := NewModel(p, meter.Default())
	forward := check("cold", "resistance", "R1", "", "")
	backward := forward
	backward.Swapped = true
	f := first(t, m, reading(t, m, forward, "9.8k"))
	b := first(t, m, reading(t, m, backward, "1.2k"))
	if !f.CanTell || *f.Expected.Low < 2*(*b.Expected.High) {
		t.Errorf("forward %v to %v, backward %v to %v", *f.Expected.Low, *f.Expected.High, *b.Expected.Low, *b.Expected.High)
	}
	if b.CanTell && b.Short == nil {
		t.Errorf("backward: %+v", b)
	}
	if f.Open == nil || f.Short == nil || f.Short.Value > 1 {
		t.Errorf("what a fault reads: open %+v, short %+v", f.Open, f.Short)
	}
}

// TestSourceNarrows: with the bus read at 311 V everything else is expected at
// 311 V; the row of the bus itself is not, and `expected` never moves.
func TestSourceNarrows(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	bus := reading(t, m, check("live", "dc_volts", "", "TP1", ""), "311.0")
	vb := reading(t, m, check("live", "dc_volts", "", "TP3", ""), "2.91")
	r, err := m.Diagnose([]Reading{bus, vb}, "")
	if err != nil {
		t.Fatal(err)
	}
	if r.Table[0].ExpectedHere != nil || r.Table[0].Verdict != Conforming {
		t.Errorf("the bus: %+v", r.Table[0])
	}
	row := r.Table[1]
	plain := first(t, m, vb)
	if d := cmp.Diff(plain.Expected, row.Expected); d != "" {
		t.Errorf("expected depends on another reading: %s", d)
	}
	// 311 V · 6.8/726.8 = 2.9098 V, less the clamps' leakage and the meter's 10 MΩ.
	if row.ExpectedHere == nil || math.Abs(*row.ExpectedHere.Typical-2.908) > 0.003 {
		t.Fatalf("expected here %+v", row.ExpectedHere)
	}
	wide, narrow := *row.Expected.High-*row.Expected.Low, *row.ExpectedHere.High-*row.ExpectedHere.Low
	if narrow > wide/4 {
		t.Errorf("%.3f V wide at the bus that was read, %.3f V otherwise", narrow, wide)
	}
	low := first(t, m, reading(t, m, check("live", "dc_volts", "", "TP3", ""), "2.78"))
	if low.Verdict != Conforming {
		t.Errorf("2.78 V with the bus unknown is %s", low.Verdict)
	}
	r, err = m.Diagnose([]Reading{reading(t, m, check("live", "dc_volts", "", "TP3", ""), "2.78"), bus}, "")
	if err != nil || r.Table[0].Verdict != Nonconforming {
		t.Errorf("2.78 V at a bus of 311 V is %s", r.Table[0].Verdict)
	}
}

// TestSiblingsNeedTheBus: 750 kΩ over 6.2 kΩ at 320 V gives 2.624 V, a sibling
// with 900 kΩ 2.189 V (common practice, no source). Bus unknown to ±10 %, the
// bands nearly touch; with the bus read they are far apart.
func TestSiblingsNeedTheBus(t *testing.T) {
	t.Parallel()
	band := func(top string, settings bool) *Band {
		p, err := profile.Load("p.yaml", []byte(strings.ReplaceAll(`
format: ohmstead/board-profile/1
id: p
title: divider
ground: gnd
parts:
  R1: {kind: resistor, pins: [bus, n], value: TOP, tolerance: 1 %}
  R2: {kind: resistor, pins: [n, gnd], value: 6.2k, tolerance: 1 %}
states:
  live: {sources: [{name: mains, plus: bus, minus: gnd, volts: 320 V, tolerance: 10 %}]}
`, "TOP", top)), nil)
		if err != nil {
			t.Fatal(err)
		}
		m := NewModel(p, meter.Default())
		readings := []Reading{reading(t, m, check("live", "dc_volts", "", "n", ""), "2.5")}
		if settings {
			readings = append(readings, reading(t, m, check("live", "dc_volts", "", "bus", ""), "320.0"))
		}
		row := first(t, m, readings...)
		if settings {
			return row.ExpectedHere
		}
		return row.Expected
	}
	one, two := band("750k", true), band("900k", true)
	if math.Abs(*one.Typical-2.624) > 0.003 || math.Abs(*two.Typical-2.189) > 0.003 {
		t.Errorf("typical %.3f and %.3f V, want 2.624 and 2.189", *one.Typical, *two.Typical)
	}
	if *two.High > *one.Low-0.3 {
		t.Errorf("with the bus read the bands %.3f and %.3f must be far apart", *two.High, *one.Low)
	}
	if one, two := band("750k", false), band("900k", false); *two.High < *one.Low-0.05 {
		t.Errorf("with the bus unknown the bands %.3f and %.3f nearly touch", *two.High, *one.Low)
	}
}

// TestHeldNode: a regulated node that reads its value proves nothing of its
// divider; the output does.
func TestHeldNode(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: boost feedback
ground: gnd
parts:
  R1: {kind: resistor, pins: [bus, fb], value: 1M, tolerance: 1 %}
  R2: {kind: resistor, pins: [fb, gnd], value: 6.5k, tolerance: 1 %}
states:
  live: {sources: [{name: boost, plus: bus, minus: gnd, holds: {node: fb, volts: 2.5 V}, at_most: 450 V}]}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	m := NewModel(p, meter.Default())
	bus := first(t, m, reading(t, m, check("live", "dc_volts", "", "bus", ""), "423"))
	if bus.Verdict != Nonconforming {
		t.Errorf("the output at 423 V, expected %v to %v: %s", *bus.Expected.Low, *bus.Expected.High, bus.Verdict)
	}
	if name, ok := m.heldBy(bus.Measured); ok {
		t.Errorf("the output is held by %s", name)
	}
	fb := reading(t, m, check("live", "dc_volts", "", "fb", ""), "2.50")
	if name, ok := m.heldBy(fb.Check); !ok || name != "boost" {
		t.Errorf("the feedback node is held by %q", name)
	}
	if row := first(t, m, fb); row.Verdict == Nonconforming {
		t.Errorf("2.50 V at the held node is %s", row.Verdict)
	}
}

// TestTableOrder: one row per reading in order, none for `-` and bare fitted
// rows; then the profile's checks that were not read, without verdicts; a
// swapped reading is another check.
func TestTableOrder(t *testing.T) {
	t.Parallel()
	m := sense(t)
	k4, _ := m.profile.Check("k4")
	swapped := check("cold", "resistance", "R3", "", "")
	swapped.Swapped = true
	readings := []Reading{
		reading(t, m, check("live", "dc_volts", "", "TP3", ""), "3.3"),
		{Fitted: "R1"},
		{Check: *k4, NotPossible: true},
		reading(t, m, swapped, "6.8k"),
	}
	r, err := m.Diagnose(readings, "2")
	if err != nil {
		t.Fatal(err)
	}
	type line struct {
		ID      string
		Read    bool
		Verdict Verdict
	}
	var got []line
	for _, row := range r.Table {
		got = append(got, line{row.Check.ID, row.Reading != nil, row.Verdict})
	}
	want := []line{{"k3", true, Conforming}, {"", true, Conforming}, {"k1", false, NotRead}, {"k2", false, NotRead}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("rows: %s", d)
	}
}

// TestUnknownCode: an indication that the profile does not have is a wrong input.
func TestUnknownCode(t *testing.T) {
	t.Parallel()
	m := sense(t)
	for code, ok := range map[string]bool{"": true, "none": true, "2": true, "9": false} {
		if _, err := m.Diagnose(nil, code); (err == nil) != ok || (err != nil && fault.KindOf(err) != fault.Invalid) {
			t.Errorf("code %q: %v", code, err)
		}
	}
}

// TestWithoutParts: a profile that lists no parts expects nothing by itself and
// says so; its table still has its rows.
func TestWithoutParts(t *testing.T) {
	t.Parallel()
	p, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: no schematic
checks:
  - {id: a, state: cold, measure: resistance, red: pin 3, black: shield}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	m := NewModel(p, meter.Default())
	row := first(t, m, reading(t, m, p.Checks[0], "4.7k"))
	if row.Expected != nil || row.CanTell || row.Verdict != Inconclusive || !strings.Contains(row.Why, "learned") {
		t.Errorf("%+v", row)
	}
}

// TestConformityProbability: the probability that a spread lies within a limit,
// Φ((T − y)/u), at one limit and at two (JCGM 106:2012, Table 1 and § 8; the
// Zener diode of § 7; guard bands of ILAC-G8:09/2019, Table 1), with a normal
// made of 600 uniforms.
func TestConformityProbability(t *testing.T) {
	t.Parallel()
	halves := make([]float64, 600)
	for i := range halves {
		halves[i] = math.Sqrt(3.0 / 600)
	}
	normal := spreadOf(halves...)
	within := func(low, high float64) float64 { return normal.below(high) - normal.below(low) }
	tests := []struct {
		name      string
		got, want float64
	}{
		{"at the limit", within(-9, 0), 0.5},
		{"one deviation off", within(-9, 1), 0.8413},
		{"1.645 off", within(-9, 1.645), 0.95},
		{"two off", within(-9, 2), 0.9772},
		{"three off", within(-9, 3), 0.9987},
		{"C_m 1 at 0.05", within(-0.2, 3.8), 0.5792},
		{"C_m 1 at 0.25", within(-1, 3), 0.8400},
		{"C_m 1 in the middle", within(-2, 2), 0.9545},
		{"C_m 4 at 0.10", within(-1.6, 14.4), 0.9452},
		{"Zener −5.47 V, at most −5.40 V, u 0.05 V", within(-9, 0.07/0.05), 0.91924},
		{"guard band of U", 1 - within(-9, 2), 0.0228},
		{"guard band of 0.83 U", 1 - within(-9, 1.66), 0.0485},
		{"guard band of 1.5 U", 1 - within(-9, 3), 0.00135},
	}
	for _, tt := range tests {
		if math.Abs(tt.got-tt.want) > 2e-4 {
			t.Errorf("%s: %.5f, want %.4f", tt.name, tt.got, tt.want)
		}
	}
}

// TestConcurrent: many at once get the answers that one gets.
func TestConcurrent(t *testing.T) {
	t.Parallel()
	want, err := json.Marshal(diagnosed(t, sense(t)))
	if err != nil {
		t.Fatal(err)
	}
	m := sense(t)
	got := make(chan string)
	const n = 8
	for range n {
		go func() {
			r, err := m.Diagnose(nil, "")
			if err != nil {
				got <- err.Error()
				return
			}
			b, _ := json.Marshal(r)
			got <- string(b)
		}()
	}
	for range n {
		if s := <-got; s != string(want) {
			t.Errorf("%s", cmp.Diff(string(want), s))
		}
	}
}

func diagnosed(t *testing.T, m *Model) *Result {
	t.Helper()
	r, err := m.Diagnose(nil, "")
	if err != nil {
		t.Fatal(err)
	}
	return r
}
