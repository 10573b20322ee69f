package bench

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
	"ohmstead/internal/shop"
)

func lowVoltage(t *testing.T) []byte {
	t.Helper()
	for _, id := range meter.ShippedIDs() {
		if id == meter.DefaultID {
			continue
		}
		src, err := meter.ShippedSource(id)
		if err != nil {
			t.Fatal(err)
		}
		return src
	}
	t.Fatal("no second meter is shipped")
	return nil
}

func TestMetersOf(t *testing.T) {
	t.Parallel()
	good, bad := uuid.New(), uuid.New()
	ms, err := MetersOf([]evidence.Instrument{
		{Name: "M-9", MeterVersionID: bad, MeterYAML: []byte("format: ohmstead/meter/9")},
		{Name: "M-2", MeterVersionID: good, MeterYAML: lowVoltage(t)},
	})
	if fault.KindOf(err) != fault.Invalid || ms.Of(&good) == nil || ms.Of(&bad) != nil {
		t.Errorf("%v, %v", ms, err)
	}
	if ms.Of(nil) != DefaultMeter() || Meters(nil).Of(nil) != DefaultMeter() {
		t.Error("a reading without a meter was not taken with the default one")
	}
}

// A reading counts through the meter that took it, and through no other.
func TestReadingsAreJudgedThroughTheirOwnMeter(t *testing.T) {
	t.Parallel()
	version, gone := uuid.New(), uuid.New()
	ms, err := MetersOf([]evidence.Instrument{{Name: "M-2", MeterVersionID: version, MeterYAML: lowVoltage(t)}})
	if err != nil {
		t.Fatal(err)
	}
	m := pump(t)
	story := &shop.Story{}
	for i, with := range []*uuid.UUID{nil, &version, &gone} {
		// Through the clamp of U1 and the loads, R17 reads lower with the meter
		// that tests with more volts.
		r := stored(t, m, "r17", "6.72k", noon.Add(time.Duration(i)*time.Minute))
		r.MeterVersionID = with
		story.Readings = append(story.Readings, r)
	}
	j := m.Compare(story, ms)
	ids := [3]uuid.UUID{story.Readings[0].ID, story.Readings[1].ID, story.Readings[2].ID}
	if len(j.Rows) != 1 || j.Rows[ids[0]] == nil || len(j.Others) != 1 || j.Left[ids[2]] == "" {
		t.Fatalf("rows %v, others %d, left %v", j.Rows, len(j.Others), j.Left)
	}
	second, err := NewModel(pumpProfile(t), j.Others[0])
	if err != nil {
		t.Fatal(err)
	}
	o := second.Compare(story, ms)
	weighed := len(j.Result.Table)
	j.Beside(o)
	if j.Rows[ids[1]] == nil || j.Left[ids[1]] != "" || j.Rows[ids[2]] != nil || len(j.Result.Table) != weighed {
		t.Errorf("beside: rows %v, left %v", j.Rows, j.Left)
	}
	if a, b := j.Rows[ids[0]].Expected, j.Rows[ids[1]].Expected; *a.Typical >= *b.Typical {
		t.Errorf("R17 reads %g with 0.5 V and %g with less: junctions should stay out", *a.Typical, *b.Typical)
	}
	if j.Rows[ids[1]].Verdict == analysis.NotRead {
		t.Error("the second meter's reading has no verdict")
	}
}
