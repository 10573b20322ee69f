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

// Every part that can fail belongs to a block and every block is a way of the
// signal or a set of parts, so that an indication leads to parts and a strip
// can be drawn.
func TestShippedBlocks(t *testing.T) {
	t.Parallel()
	lib := profile.NewLibrary(Files, "profiles")
	ids, err := lib.IDs()
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		p, err := lib.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		inBlock := map[string]bool{}
		for _, b := range p.Blocks {
			if len(b.Parts) == 0 || b.Title == "" {
				t.Errorf("%s: block %s has no parts or no title", id, b.ID)
			}
			for _, ref := range b.Parts {
				inBlock[ref] = true
			}
		}
		for _, part := range p.Parts {
			if len(part.Kind.Modes()) > 0 && !inBlock[part.Ref] {
				t.Errorf("%s: %s is in no block", id, part.Ref)
			}
		}
		for _, in := range p.Indications {
			if in.Shows == "" || in.Meaning == "" || len(in.Blocks) == 0 {
				t.Errorf("%s: indication %s says too little", id, in.Code)
			}
		}
		for _, s := range p.States {
			if s.Title == "" || s.ID != profile.Cold && s.SetupMinutes == 0 {
				t.Errorf("%s: state %s has no title or no set-up time", id, s.ID)
			}
		}
	}
}

// Two revisions of a family are siblings of each other, and of nobody else.
func TestShippedSiblings(t *testing.T) {
	t.Parallel()
	lib := profile.NewLibrary(Files, "profiles")
	for id, want := range map[string]string{
		"sedge-d": "sedge-f", "sedge-f": "sedge-d", "hearth-2": "hearth-3", "hearth-3": "hearth-2",
		"packhorse-a": "packhorse-c", "packhorse-c": "packhorse-a",
	} {
		p, err := lib.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		siblings := lib.Siblings(p)
		if len(siblings) != 1 || siblings[0].ID != want || siblings[0].Family != p.Family {
			t.Errorf("siblings of %s: %v", id, siblings)
		}
	}
}

// On every healthy board the lamp is dark but for what is normal on a bench.
func TestShippedIndicationsAreDark(t *testing.T) {
	t.Parallel()
	lib := profile.NewLibrary(Files, "profiles")
	ids, err := lib.IDs()
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		p, err := lib.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, in := range p.Indications {
			for _, l := range in.Limits {
				v := level(t, p, l.State, l.Node).Volts - level(t, p, l.State, l.To).Volts
				if shown := v < l.Below || v > l.Above; shown != in.NormalOnBench {
					t.Errorf("%s: with %v V at %s, %s is shown: %v", id, v, l.Place, in.Code, shown)
				}
			}
		}
	}
}
