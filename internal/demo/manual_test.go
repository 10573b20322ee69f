package demo

import (
	"os"
	"regexp"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/profiles"
)

// TestManualGivesTheBoardsReadings holds every reading that docs/manual.md tells
// the reader to type to what the simulated board of that ticket shows.
func TestManualGivesTheBoardsReadings(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../../docs/manual.md")
	if err != nil {
		t.Fatal(err)
	}
	src, err := profiles.Files.ReadFile("sedge-d.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := profile.Load("sedge-d.yaml", src, func(id string) ([]byte, error) { return profiles.Files.ReadFile(id + ".yaml") })
	if err != nil {
		t.Fatal(err)
	}
	line := regexp.MustCompile("(?m)^\\| (SD-[0-9]+) \\| (before|after) \\| `([a-z0-9-]+)` \\|[^|]*\\| `([^`]+)` \\|")
	rows := line.FindAllStringSubmatch(string(text), -1)
	if len(rows) < 10 {
		t.Fatalf("the manual has %d readings to type; the table was not found", len(rows))
	}
	for _, r := range rows {
		serial, stage, id, typed := r[1], r[2], r[3], r[4]
		b := specimen{profile: p, seed: serial}
		for _, j := range jobs {
			if j.serial == serial && stage == "before" {
				b.defects = j.plant
			}
		}
		c, ok := p.Check(id)
		if !ok {
			t.Errorf("%s: no check %q", serial, id)
			continue
		}
		got, err := b.read(meter.Default(), *c)
		if err != nil || got != typed {
			t.Errorf("%s %s %s: the manual says %q, the board shows %q (%v)", serial, stage, id, typed, got, err)
		}
	}
}
