package bench

import (
	"fmt"
	"sync"
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// A question that was asked before is answered from memory, any other is not,
// and the memory is bounded.
func TestAnswersAreRemembered(t *testing.T) {
	t.Parallel()
	m := pump(t)
	check, _ := m.Profile.Check("r17")
	ask := func(change func(*analysis.Reading)) *analysis.Result {
		t.Helper()
		r := analysis.Reading{Check: *check, Value: quantity.Value{Typed: "5.66k", Number: 5660, Digit: 10}}
		change(&r)
		res, err := m.diagnose([]analysis.Reading{r}, "")
		if err != nil {
			t.Fatal(err)
		}
		return res
	}
	same := func(*analysis.Reading) {}
	first := ask(same)
	if ask(same) != first {
		t.Error("the same question was worked out twice")
	}
	for name, change := range map[string]func(*analysis.Reading){
		"value":    func(r *analysis.Reading) { r.Value.Number = 5670 },
		"digit":    func(r *analysis.Reading) { r.Value.Digit = 100 },
		"moving":   func(r *analysis.Reading) { r.Moving = analysis.MovingUp },
		"residue":  func(r *analysis.Reading) { r.Residue = num(0) },
		"residue2": func(r *analysis.Reading) { r.Residue = num(0.4) },
		"fitted":   func(r *analysis.Reading) { r.Fitted = "R17" },
	} {
		if ask(change) == first {
			t.Errorf("another %s, and the same answer", name)
		}
	}
	if res, _ := m.diagnose(nil, "2"); res == nil || res == first {
		t.Error("another indication, and the same answer")
	}
	for i := range 3 * mostAnswers {
		m.last.keep(question(nil, fmt.Sprint(i)), first)
	}
	if len(m.last.answers) != mostAnswers {
		t.Errorf("%d answers are kept, want %d", len(m.last.answers), mostAnswers)
	}
}

// One model serves many benches at once.
func TestJudgeAtOnce(t *testing.T) {
	t.Parallel()
	m := pump(t)
	var wg sync.WaitGroup
	for i := range 6 {
		wg.Go(func() {
			story := &shop.Story{}
			for n, typed := range []string{"5.66k", "OL", "104k"}[:1+i%3] {
				r, err := m.Reading(Entry{ID: uuid.Must(uuid.NewV7()).String(), Check: []string{"r17", "r13", "r12"}[n], Typed: typed, TakenAt: noon}, Sitting{})
				if err != nil {
					t.Error(err)
				}
				story.Readings = append(story.Readings, r)
			}
			j, err := m.Judge(story, nil)
			if err != nil || len(j.Rows) != len(story.Readings) {
				t.Errorf("%d readings, %v, %v", len(story.Readings), j, err)
			}
		})
	}
	wg.Wait()
}

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
	j, err := m.Judge(&shop.Story{Readings: []evidence.Reading{r}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if row := j.Rows[r.ID]; row == nil || row.Verdict == analysis.Nonconforming {
		t.Errorf("119.9 k of a 120 k: %+v", row)
	}
}
