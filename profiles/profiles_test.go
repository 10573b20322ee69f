package profiles

import (
	"testing"

	"ohmstead/internal/profile"
)

// Every shipped profile loads without an error or a doubt.
func TestShippedProfilesLoad(t *testing.T) {
	t.Parallel()
	lib := profile.NewLibrary(Files, "profiles")
	ids, err := lib.IDs()
	if err != nil || len(ids) == 0 {
		t.Fatalf("no profiles: %v", err)
	}
	for _, id := range ids {
		p, err := lib.Load(id)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		for _, w := range p.Warnings {
			if id != "hearth-3" || w.Text != "1097.3" { // PT1 is a sensor, not a chip
				t.Errorf("%v", w)
			}
		}
	}
}
