package journal

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// What is written into journals today has to be read for ever.
func TestChangesAreReadForEver(t *testing.T) {
	t.Parallel()
	id := uuid.MustParse("01a20fe5-73fe-7512-86e3-5c6bfd49dc93")
	for text, want := range map[string]Change{
		`{}`: {},
		`{"field":"state","old":"on_the_bench","new":"waiting_for_a_part","reason":"R12, Monday"}`: {
			Field: "state", Old: "on_the_bench", New: "waiting_for_a_part", Reason: "R12, Monday"},
		`{"note":"3 readings","subject":"01a20fe5-73fe-7512-86e3-5c6bfd49dc93"}`: {Note: "3 readings", Subject: &id},
	} {
		var got Change
		if err := json.Unmarshal([]byte(text), &got); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", text, diff)
		}
		back, err := json.Marshal(got)
		if err != nil || string(back) != text {
			t.Errorf("%s was written back as %s, %v", text, back, err)
		}
	}
}
