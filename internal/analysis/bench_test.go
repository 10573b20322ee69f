package analysis

import (
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// load reads a shipped profile.
func load(t testing.TB, id string) *profile.Profile {
	t.Helper()
	p, err := profile.LoadFile("../../profiles/" + id + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// BenchmarkTable works out the whole expected-against-actual table of a board
// of 47 nodes, nothing remembered.
func BenchmarkTable(b *testing.B) {
	p := load(b, "sedge-d")
	for b.Loop() {
		if _, err := Diagnose(p, meter.Default(), nil, ""); err != nil {
			b.Fatal(err)
		}
	}
}
