package bench

import (
	"slices"
	"testing"
	"time"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/shop"
)

// What somebody rules out is no suspect; once it is taken back it is one again.
func TestRuledOutIsNoSuspect(t *testing.T) {
	t.Parallel()
	m := pump(t)
	story := about(t, m, "r17", "41.3k")
	leads := func() []string {
		j, err := m.Judge(t.Context(), story, nil, Known{})
		if err != nil {
			t.Fatal(err)
		}
		var parts []string
		for _, s := range j.Result.Suspects {
			for _, f := range s.Faults {
				parts = append(parts, f.Part)
			}
		}
		return parts
	}
	if !slices.Contains(leads(), "R17") {
		t.Fatal("41.3 k where 6.8 k belongs does not make R17 a suspect")
	}
	story.Overrules = []evidence.Overrule{{Part: "R17", Reason: "lifted, reads 6.8 k"}}
	if slices.Contains(leads(), "R17") {
		t.Error("R17 is ruled out and still a suspect")
	}
	gone := time.Now()
	story.Overrules[0].WithdrawnAt = &gone
	if !slices.Contains(leads(), "R17") {
		t.Error("R17 is no suspect though nobody rules it out any more")
	}
}

// A reading whose verdict is overruled keeps its row, says what the person says,
// and is weighed no more.
func TestAnOverruledReadingIsNotWeighed(t *testing.T) {
	t.Parallel()
	m := pump(t)
	r17, r18 := stored(t, m, "r17", "41.3k", time.Now()), stored(t, m, "r18", "1.000k", time.Now())
	story := &shop.Story{Readings: []evidence.Reading{r17, r18},
		Overrules: []evidence.Overrule{{ReadingID: &r17.ID, Verdict: evidence.RuledNotBad, Reason: "a later type has 39 k here"}}}
	j, err := m.Judge(t.Context(), story, nil, Known{})
	if err != nil {
		t.Fatal(err)
	}
	if row := j.Rows[r17.ID]; row == nil || row.Verdict != analysis.Nonconforming {
		t.Errorf("the profile's own verdict is lost: %+v", row)
	}
	if got := verdictOf(r17, j); got != analysis.Conforming {
		t.Errorf("on the slip it is %q", got)
	}
	if a := j.Result.Suspects[0].Account; a.Readings != 1 {
		t.Errorf("%d readings are weighed", a.Readings)
	}
	if row := j.Rows[r18.ID]; row != &j.Result.Table[0] {
		t.Error("the other reading has lost its row")
	}
}
