package bench

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// taken makes a list of readings a minute apart, with keys of their own.
func taken(list ...evidence.Reading) []evidence.Reading {
	for i := range list {
		list[i].ID = uuid.New()
		list[i].TakenAt = time.Date(2026, 3, 4, 10, i, 0, 0, time.UTC)
		if list[i].Stage == "" {
			list[i].Stage = evidence.StageBefore
		}
		if list[i].State == "" {
			list[i].State = "cold"
		}
	}
	return list
}

// judged gives every reading a verdict and one band, as the engine would.
func judged(list []evidence.Reading, low, high float64, unit quantity.Unit, verdicts ...analysis.Verdict) *Judgement {
	j := &Judgement{Rows: map[uuid.UUID]*analysis.Row{}}
	for i, r := range list {
		if i < len(verdicts) && verdicts[i] != "" {
			j.Rows[r.ID] = &analysis.Row{Verdict: verdicts[i], Resolution: 10, Expected: &analysis.Band{Low: &low, High: &high, Unit: unit}}
		}
	}
	return j
}

func ohms(typed string) evidence.Reading {
	v, err := quantity.Parse(typed, quantity.Ohm)
	if err != nil {
		panic(err)
	}
	r := evidence.Reading{CheckKey: "k1", Measure: "resistance", Across: "R14", Typed: typed, OverRange: v.OverRange}
	if !v.OverRange {
		r.Value = &v.Number
	}
	return r
}

func after(r evidence.Reading) evidence.Reading {
	r.Stage = evidence.StageAfter
	return r
}

func TestMeasuredSetsBeforeAndAfterBesideEachOther(t *testing.T) {
	t.Parallel()
	list := taken(ohms("6.78k"), ohms("OL"), after(ohms("6.7k")), after(ohms("6.71k")))
	j := judged(list, 6650, 6850, quantity.Ohm, analysis.Conforming, analysis.Nonconforming, analysis.Inconclusive, analysis.Conforming)
	want := []shop.Measured{{
		Place: "R14", How: "resistance, cold",
		Low: shop.Shown{Number: "6.65", Unit: "kΩ"}, High: shop.Shown{Number: "6.85", Unit: "kΩ"},
		Before: shop.Shown{Number: "OL", Verdict: "bad"},
		After:  shop.Shown{Number: "6.71", Unit: "kΩ", Verdict: "not bad"},
	}}
	if d := cmp.Diff(want, Measured(&shop.Story{Readings: list}, j)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestMeasuredLeavesOutWhatDoesNotCount(t *testing.T) {
	t.Parallel()
	struck, off, never := ohms("1k"), ohms("2k"), ohms("3k")
	struck.Struck = &evidence.Strike{Reason: "wrong leg"}
	off.Condition = evidence.ConditionNotOnMetal
	never.NotPossible = true
	if got := Measured(&shop.Story{Readings: taken(struck, off, never)}, nil); len(got) != 0 {
		t.Errorf("got %+v", got)
	}
}

func TestMeasuredChoosesTheTellingReadings(t *testing.T) {
	t.Parallel()
	const bad, fine = analysis.Nonconforming, analysis.Conforming
	cases := []struct {
		name          string
		list          []evidence.Reading
		verdicts      []analysis.Verdict
		before, after string
	}{
		{"only before", []evidence.Reading{ohms("1k"), ohms("2k")}, nil, "2.0 kΩ", ""},
		{"only after", []evidence.Reading{after(ohms("1.5k"))}, nil, "", "1.5 kΩ"},
		{"last bad one before", []evidence.Reading{ohms("1k"), ohms("2k"), ohms("3k")}, []analysis.Verdict{bad, bad, fine}, "2.0 kΩ", ""},
		{"a second fault found after the first was cured", []evidence.Reading{ohms("1k"), after(ohms("9k")), after(ohms("1k"))},
			[]analysis.Verdict{fine, bad, fine}, "9 kΩ", "1 kΩ"},
	}
	for _, c := range cases {
		list := taken(c.list...)
		got := Measured(&shop.Story{Readings: list}, judged(list, 1, 2, quantity.Ohm, c.verdicts...))
		if len(got) != 1 {
			t.Errorf("%s: %d lines", c.name, len(got))
			continue
		}
		if b, a := plain(got[0].Before), plain(got[0].After); number(b) != number(c.before) || number(a) != number(c.after) {
			t.Errorf("%s: before %q, after %q; want %q and %q", c.name, b, a, c.before, c.after)
		}
	}
}

func plain(s shop.Shown) string {
	if s.Empty() {
		return ""
	}
	return s.Number + " " + s.Unit
}

// number reads a shown value back, so that 2 kΩ and 2.0 kΩ are the same.
func number(text string) float64 {
	if text == "" {
		return -1
	}
	v, err := quantity.Parse(text, quantity.Ohm)
	if err != nil {
		panic(err)
	}
	return v.Number
}

func TestMeasuredKeepsDifferentMeasurementsApart(t *testing.T) {
	t.Parallel()
	swapped, lifted, old, fresh, free := ohms("1k"), ohms("1k"), ohms("OL"), ohms("120k"), ohms("0.58")
	swapped.Swapped, lifted.Lifted = true, true
	old.Subject, old.Across, fresh.Subject, fresh.Across = evidence.SubjectOld, "R13", evidence.SubjectNew, "R13"
	free.Measure, free.Across, free.Red, free.Black, free.CheckKey, free.State = "dc_volts", "", "ADV", "com", "ADV to com", "live"
	var got []string
	for _, m := range Measured(&shop.Story{Readings: taken(ohms("1k"), swapped, lifted, old, after(fresh), free)}, nil) {
		got = append(got, m.Place+" | "+m.How+" | "+plain(m.Before)+" | "+plain(m.After))
	}
	want := []string{
		"R14 | resistance, cold | 1 kΩ | ", "R14, probes swapped | resistance, cold | 1 kΩ | ",
		"R14, one leg lifted | resistance, cold | 1 kΩ | ", "R13 alone | resistance | OL  | 120 kΩ",
		"ADV to com | DC volts, live | 0.58 V | ",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestMeasuredTakesTheBandOfAnAgreeingReading(t *testing.T) {
	t.Parallel()
	low, high := 8100.0, 8300.0
	r := ohms("1k")
	r.Agrees, r.Typed, r.Value, r.BandLow, r.BandHigh = true, "", nil, &low, &high
	open := r
	open.CheckKey, open.BandLow, open.BandHigh = "k2", nil, nil
	got := Measured(&shop.Story{Readings: taken(r, open)}, nil)
	want := []shop.Measured{
		{Place: "R14", How: "resistance, cold", Low: shop.Shown{Number: "8.1", Unit: "kΩ"}, High: shop.Shown{Number: "8.3", Unit: "kΩ"}, Before: shop.Shown{Number: "agrees"}},
		{Place: "R14", How: "resistance, cold", Low: shop.Shown{Number: "OL"}, High: shop.Shown{Number: "OL"}, Before: shop.Shown{Number: "agrees"}},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// What decided the verdict is what the slip shows as good: the band narrowed by
// other readings, where there is one.
func TestMeasuredShowsTheBandThatDecided(t *testing.T) {
	t.Parallel()
	list := taken(ohms("1k"))
	j := judged(list, 1000, 9000, quantity.Ohm, analysis.Conforming)
	low, high := 2000.0, 2100.0
	j.Rows[list[0].ID].ExpectedHere = &analysis.Band{Low: &low, High: &high, Unit: quantity.Ohm}
	got := Measured(&shop.Story{Readings: list}, j)[0]
	if got.Low.Number != "2.00" || got.High.Number != "2.10" {
		t.Errorf("good is %v to %v", got.Low, got.High)
	}
}
