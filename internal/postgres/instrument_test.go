package postgres

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
)

func TestMetersAreStoredOnceByContent(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a := must(w.AddMeter(t.Context(), w.bench, "M-1", []byte("a")))
	again := must(w.AddMeter(t.Context(), w.bench, "M-1", []byte("a")))
	b := must(w.AddMeter(t.Context(), w.bench, "M-2", []byte("b")))
	if a != again || a == b {
		t.Errorf("%s %s %s", a, again, b)
	}
	_, err := w.AddMeter(t.Context(), w.desk, "M-3", []byte("c"))
	wantKind(t, "by the desk", err, fault.Forbidden)
	_, err = w.AddMeter(t.Context(), w.bench, "", []byte("c"))
	wantField(t, "without a name", err, "name")
}

func TestInstruments(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a := must(w.AddMeter(t.Context(), w.bench, "first make", []byte("a")))
	b := must(w.AddMeter(t.Context(), w.bench, "second make", []byte("b")))
	until := time.Date(2027, 1, 31, 0, 0, 0, 0, time.UTC)
	m2 := must(w.SaveInstrument(t.Context(), w.bench, "M-2", a, nil))
	m1 := must(w.SaveInstrument(t.Context(), w.bench, "M-1", a, &until))
	changed := must(w.SaveInstrument(t.Context(), w.owner, "M-2", b, &until))
	want := []evidence.Instrument{
		{ID: m1.ID, Name: "M-1", MeterVersionID: a, MeterName: "first make", MeterYAML: []byte("a"), CalibratedUntil: &until},
		{ID: m2.ID, Name: "M-2", MeterVersionID: b, MeterName: "second make", MeterYAML: []byte("b"), CalibratedUntil: &until},
	}
	if diff := cmp.Diff(want, must(w.Instruments(t.Context(), w.desk))); diff != "" || changed.ID != m2.ID {
		t.Errorf("(-want +got):\n%s", diff)
	}
	_, err := w.SaveInstrument(t.Context(), w.bench, "M-3", uuid.New(), nil)
	wantField(t, "of no make", err, "meter")
	_, err = w.SaveInstrument(t.Context(), w.desk, "M-3", a, nil)
	wantKind(t, "by the desk", err, fault.Forbidden)
	stranger := w.owner
	stranger.Site = uuid.New()
	if got := must(w.Instruments(t.Context(), stranger)); len(got) != 0 {
		t.Errorf("another shop's meters: %+v", got)
	}
}
