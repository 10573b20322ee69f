package bench

import (
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
)

var noon = time.Date(2027, 1, 12, 12, 0, 0, 0, time.UTC)

// pump is the invented pump board seen through the default meter.
func pump(t testing.TB) *Model {
	t.Helper()
	m, err := NewModel(pumpProfile(t), DefaultMeter())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func pumpProfile(t testing.TB) shop.Profile {
	t.Helper()
	src, err := os.ReadFile("../../testdata/bench/pump-sense.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return shop.Profile{Key: "pump-sense", Flattened: src}
}

func newID(t testing.TB) string {
	t.Helper()
	id, err := uuid.NewV7()
	if err != nil {
		t.Fatal(err)
	}
	return id.String()
}

func num(x float64) *float64 { return &x }

func TestEntryBecomesReading(t *testing.T) {
	t.Parallel()
	m := pump(t)
	for _, c := range []struct {
		name  string
		entry Entry
		want  evidence.Reading
	}{
		{"a number", Entry{Check: "r17", Typed: " 6.78k "},
			evidence.Reading{CheckKey: "r17", State: "cold", Measure: "resistance", Across: "R17", Typed: "6.78k", Value: num(6780)}},
		{"decimal comma, letter code", Entry{Check: "r17", Typed: "6k78"},
			evidence.Reading{CheckKey: "r17", State: "cold", Measure: "resistance", Across: "R17", Typed: "6k78", Value: num(6780)}},
		{"over-range", Entry{Check: "r13", Typed: "OL"},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Typed: "OL", OverRange: true}},
		{"volts below zero", Entry{Check: "tp3", Typed: "-0.02"},
			evidence.Reading{CheckKey: "tp3", State: "live", Measure: "dc_volts", Red: "TP3", Typed: "-0.02", Value: num(-0.02)}},
		{"cannot be made", Entry{Check: "r13", NotPossible: true, Typed: "7"},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Typed: "-", NotPossible: true}},
		{"typed as the readings file says it", Entry{Check: "r13", Typed: "-"},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Typed: "-", NotPossible: true}},
		{"agrees with what the tablet showed", Entry{Check: "r13", Agrees: true, Band: &Range{num(100e3), num(108e3)}},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Agrees: true, BandLow: num(100e3), BandHigh: num(108e3)}},
		{"a number stands above agrees", Entry{Check: "r13", Agrees: true, Typed: "180k"},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Typed: "180k", Value: num(180e3)}},
		{"marks", Entry{Check: "r13", Typed: "3.1k", Moving: "up", Residue: "0.4", NotOnMetal: true},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Typed: "3.1k", Value: num(3100),
				Moving: "up", Residue: num(0.4), Condition: evidence.ConditionNotOnMetal}},
		{"swapped is the profile's other check", Entry{Check: "r17", Typed: "6.7k", Swapped: true},
			evidence.Reading{CheckKey: "r17x", State: "cold", Measure: "resistance", Across: "R17", Swapped: true, Typed: "6.7k", Value: num(6700)}},
		{"swapped twice is straight", Entry{Check: "r17x", Typed: "6.7k", Swapped: true},
			evidence.Reading{CheckKey: "r17", State: "cold", Measure: "resistance", Across: "R17", Typed: "6.7k", Value: num(6700)}},
		{"swapped where the profile has no such check", Entry{Check: "r12", Typed: "104k", Swapped: true},
			evidence.Reading{CheckKey: "R12 swapped", State: "cold", Measure: "resistance", Across: "R12", Swapped: true, Typed: "104k", Value: num(104e3)}},
		{"lifted is the profile's other check", Entry{Check: "r16", Typed: "120k", Lifted: true},
			evidence.Reading{CheckKey: "r16l", State: "cold", Measure: "resistance", Across: "R16", Lifted: true, Typed: "120k", Value: num(120e3)}},
		{"the removed part", Entry{Check: "r13", Typed: "OL", Subject: evidence.SubjectOld},
			evidence.Reading{CheckKey: "r13", State: "cold", Measure: "resistance", Across: "R13", Subject: evidence.SubjectOld, Typed: "OL", OverRange: true}},
		{"a place written out", Entry{State: "live", Place: Place{Measure: "dc_volts", Red: "a1", Black: "p"}, Typed: "53"},
			evidence.Reading{CheckKey: "a1 to p", State: "live", Measure: "dc_volts", Red: "a1", Black: "p", Typed: "53", Value: num(53)}},
		{"a place that is a check", Entry{State: "live", Place: Place{Measure: "dc_volts", Red: "vb"}, Typed: "3.03"},
			evidence.Reading{CheckKey: "tp3", State: "live", Measure: "dc_volts", Red: "vb", Typed: "3.03", Value: num(3.03)}},
	} {
		c.entry.ID = newID(t)
		got, err := m.Reading(c.entry, Sitting{Now: noon})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		c.want.ID, c.want.TakenAt, c.want.Stage = uuid.MustParse(c.entry.ID), noon, evidence.StageBefore
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if err := got.Check(); err != nil {
			t.Errorf("%s: the storage would not take it: %v", c.name, err)
		}
	}
}

func TestEntryRefused(t *testing.T) {
	t.Parallel()
	m := pump(t)
	for _, c := range []struct {
		entry   Entry
		field   string
		message string
	}{
		{Entry{Check: "r17", Typed: "6.78kk"}, "typed", "“6.78kk”"},
		{Entry{Check: "r17", Typed: ""}, "typed", "Nothing is typed"},
		{Entry{Check: "r17", Typed: "-5k"}, "typed", "minus"},
		{Entry{Check: "tp3", Typed: "5k6"}, "typed", "volts such as"},
		{Entry{Check: "r17", Typed: "5k6", Residue: "OL"}, "residue", "0.02"},
		{Entry{Check: "r99", Typed: "5k6"}, "check", "r99"},
		{Entry{Typed: "5k6", State: "cold", Place: Place{Measure: "resistance", Across: "R99"}}, "across", "no such part"},
		{Entry{Typed: "5k6", State: "cold", Place: Place{Measure: "resistance", Red: "nowhere"}}, "red", "nowhere"},
		{Entry{Typed: "5k6", State: "warm", Place: Place{Measure: "resistance", Across: "R1"}}, "state", "warm"},
		{Entry{Typed: "5k6", State: "live", Place: Place{Measure: "resistance", Across: "R1"}}, "measure", "unpowered"},
		{Entry{Typed: "5", State: "live", Place: Place{Measure: "dc_volts"}}, "red", "red probe"},
		{Entry{Typed: "5", State: "cold", Place: Place{Measure: "resistance", Across: "R1", Red: "p"}}, "across", "not both"},
		{Entry{Typed: "5", State: "cold", Place: Place{Measure: "resistance", Red: "p"}, Lifted: true}, "across", "lifted"},
		{Entry{Typed: "5", Place: Place{Measure: "ohms"}}, "measure", "set to"},
		{Entry{Agrees: true, State: "cold", Place: Place{Measure: "capacitance", Across: "C18"}}, "typed", "Type what the meter shows"},
	} {
		c.entry.ID = newID(t)
		_, err := m.Reading(c.entry, Sitting{Now: noon})
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(fault.Fields(err)[c.field], c.message) {
			t.Errorf("%+v: %v, fields %v, want %q at %s", c.entry, err, fault.Fields(err), c.message, c.field)
		}
	}
	if _, err := m.Reading(Entry{ID: "seven", Check: "r17", Typed: "1k"}, Sitting{}); fault.Fields(err)["id"] == "" {
		t.Errorf("an id that is none: %v", err)
	}
}

// Without a profile the entry says everything itself.
func TestFreeEntry(t *testing.T) {
	t.Parallel()
	var none *Model
	e := Entry{ID: newID(t), State: "cold", Place: Place{Measure: "diode", Red: "pin 3", Black: "pin 8"}, Typed: "0.58"}
	r, err := none.Reading(e, Sitting{Now: noon})
	if err != nil || r.CheckKey != "pin 3 to pin 8" || *r.Value != 0.58 {
		t.Errorf("%+v, %v", r, err)
	}
	e.Typed, e.Agrees = "", true
	if _, err := none.Reading(e, Sitting{}); !strings.Contains(fault.Fields(err)["typed"], "Nothing is known") {
		t.Errorf("agrees with nothing: %v", err)
	}
}

func TestStage(t *testing.T) {
	t.Parallel()
	m := pump(t)
	s := Sitting{Now: noon, Fitted: []evidence.Fitted{{Part: "R13", TakenAt: noon.Add(-time.Hour)}}}
	for _, c := range []struct {
		at   time.Time
		want string
	}{{noon.Add(-2 * time.Hour), evidence.StageBefore}, {noon.Add(-time.Hour), evidence.StageAfter}, {time.Time{}, evidence.StageAfter}} {
		r, err := m.Reading(Entry{ID: newID(t), Check: "r13", Typed: "104k", TakenAt: c.at}, s)
		if err != nil || r.Stage != c.want {
			t.Errorf("taken at %v: stage %q, %v, want %q", c.at, r.Stage, err, c.want)
		}
	}
}

// A tablet with an empty clock battery wakes up in another year, another runs ahead:
// neither may date a reading before or after the part that it is to prove.
func TestAClockThatIsWrongDoesNotDateAReading(t *testing.T) {
	t.Parallel()
	m := pump(t)
	s := Sitting{Now: noon, Fitted: []evidence.Fitted{{Part: "R13", TakenAt: noon.Add(-time.Minute)}}}
	for _, c := range []struct{ said, want time.Time }{
		{time.Date(2000, 1, 1, 0, 0, 7, 0, time.UTC), noon},
		{noon.AddDate(80, 0, 0), noon},
		{noon.Add(6 * time.Minute), noon},
		{noon.Add(4 * time.Minute), noon.Add(4 * time.Minute)}, // a little ahead is no matter
		{noon.AddDate(0, 0, -20), noon.AddDate(0, 0, -20)},     // three weeks without the network
	} {
		r, err := m.Reading(Entry{ID: newID(t), Check: "r13", Typed: "120k", TakenAt: c.said}, s)
		if err != nil || !r.TakenAt.Equal(c.want) {
			t.Errorf("the device said %v: taken at %v, %v, want %v", c.said, r.TakenAt, err, c.want)
		}
	}
}

// stored is a stored reading of a check.
func stored(t testing.TB, m *Model, check, typed string, at time.Time) evidence.Reading {
	t.Helper()
	r, err := m.Reading(Entry{ID: newID(t), Check: check, Typed: typed, TakenAt: at}, Sitting{Now: at})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestJudgeLeavesOutWhatDoesNotCount(t *testing.T) {
	t.Parallel()
	m := pump(t)
	at := func(i int) time.Time { return noon.Add(time.Duration(i) * time.Minute) }
	struck := stored(t, m, "r12", "OL", at(1))
	struck.Struck = &evidence.Strike{Reason: "slipped"}
	air := stored(t, m, "r12", "OL", at(2))
	air.Condition = evidence.ConditionNotOnMetal
	spare := stored(t, m, "r13", "119.8k", at(3))
	spare.Subject = evidence.SubjectNew
	lost := stored(t, m, "r13", "104k", at(4))
	lost.Across = "R99"
	counts := stored(t, m, "r12", "104.5k", at(5))
	never := stored(t, m, "r14", "-", at(6))
	story := &shop.Story{Readings: []evidence.Reading{struck, air, spare, lost, counts, never}}
	j := m.Compare(story, nil)
	if j.Rows[counts.ID] == nil || j.Rows[counts.ID].Verdict != analysis.Conforming {
		t.Errorf("R12 at 104.5 k beside the rest of the loop: %+v", j.Rows[counts.ID])
	}
	for _, r := range []evidence.Reading{struck, air, spare, lost} {
		if j.Left[r.ID] == "" || j.Rows[r.ID] != nil {
			t.Errorf("%s %s counts", r.CheckKey, r.Typed)
		}
	}
	c, _ := m.Profile.Check("r14")
	if !j.Impossible[c.Key()] {
		t.Error("R14 cannot be measured, and is still offered")
	}
}

// Each row of the result goes to its own reading, whatever stands between them.
func TestJudgeGivesEveryReadingItsRow(t *testing.T) {
	t.Parallel()
	m := pump(t)
	story := &shop.Story{Fitted: []evidence.Fitted{{Part: "R13", TakenAt: noon.Add(150 * time.Second)}, {Part: "no such part", TakenAt: noon}}}
	want := map[uuid.UUID]string{}
	for i, c := range [][2]string{{"r17", "5.66k"}, {"r14", "-"}, {"r13", "OL"}, {"r13", "104.5k"}, {"r17", "5.65k"}} {
		r := stored(t, m, c[0], c[1], noon.Add(time.Duration(i)*time.Minute))
		story.Readings = append(story.Readings, r)
		if c[1] != "-" {
			want[r.ID] = c[1]
		}
	}
	story.Readings[0], story.Readings[4] = story.Readings[4], story.Readings[0] // stored in another order
	j := m.Compare(story, nil)
	got := map[uuid.UUID]string{}
	for id, row := range j.Rows {
		got[id] = row.Reading.Value.Typed
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// "Agrees" claims the band and no more.
func TestAgreesIsTheBand(t *testing.T) {
	t.Parallel()
	m := pump(t)
	r, err := m.Reading(Entry{ID: newID(t), Check: "r12", Agrees: true}, Sitting{Now: noon})
	if err != nil {
		t.Fatal(err)
	}
	j := m.Compare(&shop.Story{Readings: []evidence.Reading{r}}, nil)
	row := j.Rows[r.ID]
	if row.Verdict != analysis.Conforming || row.Reading.Value.Typed != Agreed {
		t.Errorf("agrees is judged %q, %+v", row.Verdict, row.Reading.Value)
	}
	if got, want := row.Reading.Value.Digit, *row.Expected.High-*row.Expected.Low; got < 0.99*want || got > 1.01*want {
		t.Errorf("its last digit weighs %g, the band is %g wide", got, want)
	}
}

func TestCode(t *testing.T) {
	t.Parallel()
	m := pump(t)
	for written, want := range map[string]string{"2": "2", " Two blinks ": "2", "3: three": "3", "none": "none", "Nothing": "none",
		"": "", "red lamp": "", "22": ""} {
		if got := m.Code(written); got != want {
			t.Errorf("%q is code %q, want %q", written, got, want)
		}
	}
}

func TestNextWalksTheList(t *testing.T) {
	t.Parallel()
	m := pump(t)
	j := &Judgement{Result: &analysis.Result{}, Impossible: map[profile.Key]bool{}}
	if got := j.Next(m.Profile, "r17"); got != "r17x" {
		t.Errorf("after r17 comes %q", got)
	}
	if got := j.Next(m.Profile, "tp4"); got != "r17" {
		t.Errorf("after the last comes %q", got)
	}
	for _, c := range m.Profile.Checks {
		j.Impossible[c.Key()] = true
	}
	if got := j.Next(m.Profile, "r17"); got != "" {
		t.Errorf("nothing is left, and %q comes", got)
	}
	j.Result.Next = []analysis.Next{{}, {Check: analysis.CheckRef{ID: "tp3"}}}
	if got := j.Next(m.Profile, "r17"); got != "tp3" {
		t.Errorf("the engine proposes tp3, and %q comes", got)
	}
}

func TestModelsAreMadeOnceAndBounded(t *testing.T) {
	t.Parallel()
	ms := NewModels(2)
	p := pumpProfile(t)
	other := p
	other.Flattened = append([]byte("# another text\n"), p.Flattened...)
	third := p
	third.Flattened = append([]byte("# a third one\n"), p.Flattened...)
	var wg sync.WaitGroup
	got := make([]*Model, 8)
	for i := range got {
		wg.Go(func() {
			var err error
			if got[i], err = ms.Of(p, DefaultMeter()); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	for _, m := range got[1:] {
		if m != got[0] {
			t.Fatal("one profile has two models")
		}
	}
	for _, q := range []shop.Profile{other, p, third} {
		if _, err := ms.Of(q, DefaultMeter()); err != nil {
			t.Fatal(err)
		}
	}
	if len(ms.byKey) != 2 || ms.order.Len() != 2 {
		t.Errorf("%d models are kept, want 2", len(ms.byKey))
	}
	if m, _ := ms.Of(p, DefaultMeter()); m != got[0] {
		t.Error("the one that was used last was thrown away")
	}
	bad := shop.Profile{Key: "bad", Flattened: []byte("parts: 7")}
	if _, err := ms.Of(bad, DefaultMeter()); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a profile that cannot be read: %v", err)
	}
}
