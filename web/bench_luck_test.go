package web

import (
	"testing"
	"time"
)

// When summer time ends, an hour comes twice; a proof typed in either of them is
// of the last minutes, not of an hour ago.
func TestNearestInTheRepeatedHour(t *testing.T) {
	t.Parallel()
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	for _, now := range []time.Time{
		time.Date(2026, 10, 25, 0, 35, 0, 0, time.UTC), // 01:35, summer time
		time.Date(2026, 10, 25, 1, 35, 0, 0, time.UTC), // 01:35 again
	} {
		y, m, d := now.In(dublin).Date()
		if got := nearest(time.Date(y, m, d, 1, 33, 0, 0, dublin), now); now.Sub(got) != 2*time.Minute {
			t.Errorf("at %v, 01:33 is taken for %v", now, got)
		}
	}
}

func TestEntryFromKeepsWhatDoesNotFit(t *testing.T) {
	t.Parallel()
	const id = "01a20ff5-32e7-78b4-9a5e-a5f41571167c"
	if e := entryFrom([]byte(`{"id":"` + id + `","typed":4.7}`)); e.ID != id || e.Typed == "" {
		t.Errorf("a reading with a number for its text: id %q, typed %q", e.ID, e.Typed)
	}
	if e := entryFrom([]byte(`{"id":"` + id + `","typed":"4.7k"}`)); e.ID != id || e.Typed != "4.7k" {
		t.Errorf("a good reading: id %q, typed %q", e.ID, e.Typed)
	}
	if e := entryFrom([]byte(`7`)); e.ID != "" {
		t.Errorf("a bare number: id %q", e.ID)
	}
}
