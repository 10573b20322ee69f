package bench

import (
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// Whatever is keyed in, either the reading is refused with a message at a
// field, or the storage takes it.
func TestAnyEntryIsRefusedOrStored(t *testing.T) {
	t.Parallel()
	m := pump(t)
	text := rapid.SampledFrom([]string{"", " ", "r17", "r16l", "tp3", "R17", "R99", "cold", "live", "injected", "resistance", "dc_volts", "diode", "esr",
		"TP3", "vb", "com", "p", "6.78k", "OL", "-", "-0.5", "4,7", "x", "0.02", "up", "down", "old", "new"})
	rapid.Check(t, func(t *rapid.T) {
		word := func(name string) string { return text.Draw(t, name) }
		flag := func(name string) bool { return rapid.Bool().Draw(t, name) }
		e := Entry{ID: uuid.Must(uuid.NewV7()).String(), Check: word("check"), State: word("state"), Typed: word("typed"), Residue: word("residue"),
			Place:  Place{Measure: word("measure"), Red: word("red"), Black: word("black"), Across: word("across")},
			Lifted: flag("lifted"), Swapped: flag("swapped"), NotOnMetal: flag("air"), Agrees: flag("agrees"), NotPossible: flag("never")}
		model := m
		if flag("unknown") {
			model = nil
		}
		r, err := model.Reading(e, Sitting{Now: noon})
		if err != nil {
			if fault.KindOf(err) != fault.Invalid || len(fault.Fields(err)) == 0 {
				t.Fatalf("%+v: %v says nothing at a field", e, err)
			}
			return
		}
		if err := r.Check(); err != nil {
			t.Fatalf("%+v was taken, and the storage says %v", e, err)
		}
		if model != nil && r.Condition == "" && r.Subject == "" {
			if _, why := m.weighable(r); why != "" {
				t.Fatalf("%+v was taken, and is not weighed: %s", e, why)
			}
		}
	})
}

// A stored number that its text no longer says, as in files from elsewhere,
// stands as a number.
func TestValueOf(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		r    evidence.Reading
		want quantity.Value
	}{
		{evidence.Reading{Measure: "resistance", Typed: "6.78k", Value: num(6780)}, quantity.Value{Typed: "6.78k", Number: 6780, Digit: 10}},
		{evidence.Reading{Measure: "resistance", Typed: "about 7 k", Value: num(7000)}, quantity.Value{Typed: "about 7 k", Number: 7000}},
		{evidence.Reading{Measure: "resistance", Typed: "6.78k", Value: num(6.78)}, quantity.Value{Typed: "6.78k", Number: 6.78}},
		{evidence.Reading{Measure: "resistance", Typed: "OL", OverRange: true}, quantity.Value{Typed: "OL", OverRange: true}},
		{evidence.Reading{Measure: "resistance", Agrees: true}, quantity.Value{Typed: Agreed, OverRange: true}},
		{evidence.Reading{Measure: "dc_volts", Agrees: true, BandLow: num(2), BandHigh: num(3)}, quantity.Value{Typed: Agreed, Number: 2.5, Digit: 1}},
	} {
		if got := valueOf(c.r); got != c.want {
			t.Errorf("%+v: %+v, want %+v", c.r, got, c.want)
		}
	}
}

// A removed part is judged as what it is: alone.
func TestARemovedPartIsMeasuredAlone(t *testing.T) {
	t.Parallel()
	m := pump(t)
	r := stored(t, m, "r16", "119.9k", noon)
	in, _ := m.measured(r)
	r.Subject = evidence.SubjectOld
	out, err := m.measured(r)
	if err != nil || in.Lifted || !out.Lifted || out.ID != "r16l" {
		t.Fatalf("%+v, %v", out, err)
	}
	j := m.Compare(&shop.Story{Readings: []evidence.Reading{r}}, nil)
	if row := j.Rows[r.ID]; row == nil || row.Verdict == analysis.Nonconforming {
		t.Errorf("119.9 k of a 120 k: %+v", row)
	}
}
