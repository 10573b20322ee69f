package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// TestStrip draws SEDGE D's bus chain: nodes in order with the demo's volts, the
// readings at their places, and what the controller believes, full scale 534 V.
func TestStrip(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	bus := reading(t, m, check("live", "dc_volts", "", "TP1", ""), "323.6")
	pin := reading(t, m, check("live", "dc_volts", "", "adb", ""), "2.797")
	r := reading(t, m, check("cold", "resistance", "R13", "", ""), "OL")
	table := []Row{m.row(bus.Check, &bus, nil), m.row(pin.Check, &pin, nil), m.row(r.Check, &r, nil)}
	v, err := m.Strip("bus-sensing", "", table)
	if err != nil {
		t.Fatal(err)
	}
	if v.State.ID != "live" {
		t.Errorf("drawn in %s, want live", v.State.ID)
	}
	want := map[string]float64{"p": 323.6, "vb": 3.028, "adb": 3.028, "a3": 163.3}
	rows := 0
	for _, st := range v.Stages {
		rows += len(st.Rows)
		if w, ok := want[st.Node]; ok && math.Abs(st.Level.Typical-w) > 1e-3*w {
			t.Errorf("%s stands at %.4f V, want %g", st.Node, st.Level.Typical, w)
		}
		if (st.Part == nil) != (st.Node != "") {
			t.Errorf("stage %s is both or neither: %+v", st.Name, st)
		}
	}
	if rows != 3 {
		t.Errorf("%d rows on the strip, want 3", rows)
	}
	b := v.Believes
	if b == nil || b.Unit != quantity.Volt || math.Abs(b.FullScale-534) > 1 || math.Abs(b.Nominal-323.6) > 0.01 {
		t.Fatalf("believes %+v", b)
	}
	if b.Read == nil || math.Abs(b.Read.Value-299) > 0.5 || b.Read.FullScale || b.Actual == nil || *b.Actual != 323.6 {
		t.Errorf("at 2.797 V the controller believes %+v of %v, want 299 V", b.Read, b.Actual)
	}
	high := reading(t, m, check("live", "dc_volts", "", "adb", ""), "5.6")
	v, err = m.Strip("bus-sensing", "live", []Row{m.row(high.Check, &high, nil)})
	if err != nil || v.Believes.Read == nil || !v.Believes.Read.FullScale || math.Abs(v.Believes.Read.Value-534) > 1 {
		t.Errorf("at its clamp the controller believes %+v %v, want full scale", v.Believes.Read, err)
	}
	for _, bad := range [][2]string{{"nothing", ""}, {"bus-sensing", "nowhere"}} {
		if _, err := m.Strip(bad[0], bad[1], nil); fault.KindOf(err) != fault.NotFound {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

// TestLevelsOfIslands: the isolated 12 V side is read against its own minus, a
// floating pin has bounds and no value, and cold nothing stands anywhere.
func TestLevelsOfIslands(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	levels, err := m.Levels("live")
	if err != nil {
		t.Fatal(err)
	}
	if l := levels["o1"]; l.Zero != "ci" || math.Abs(l.Typical-12) > 1e-3 {
		t.Errorf("o1 %+v, want 12 V against ci", l)
	}
	if l := levels["u"]; !l.Floating || !math.IsNaN(l.Typical) || l.Low > 0 || l.High < 323 {
		t.Errorf("u %+v, want an interval across the bus", l)
	}
	cold, err := m.Levels(profile.Cold)
	if err != nil {
		t.Fatal(err)
	}
	for name, l := range cold {
		if !l.Floating && math.Abs(l.Typical) > 1e-9 {
			t.Errorf("%s stands at %g V on the unpowered board", name, l.Typical)
		}
	}
}

// TestFactsOfTheTrade, on SEDGE D: an amplifier for a signal of both signs rests
// at half the supply, 2.41 to 2.59 V with 1 % parts and a ±2–3 % rail; a series
// resistor into a controller's input carries no direct current, so both ends read
// the same within 10 mV (common practice, no source).
func TestFactsOfTheTrade(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	band := func(id string) expectation {
		c, ok := m.profile.Check(id)
		if !ok {
			t.Fatal(id)
		}
		_, e := expected(t, m, *c)
		return e
	}
	if oi := band("live-oi"); math.Abs(oi.low.Value-2.41) > 0.02 || math.Abs(oi.high.Value-2.59) > 0.02 {
		t.Errorf("the amplifier rests between %v and %v, want 2.41 to 2.59 V", oi.low, oi.high)
	}
	if vb, adb := band("live-vb").nominal.Value, band("live-adb").nominal.Value; math.Abs(vb-adb) > 0.01 {
		t.Errorf("%.4f V before and %.4f V behind the series resistor", vb, adb)
	}
}
