package analysis

import (
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// shipped reads a shipped profile.
func shipped(t testing.TB, id string) *profile.Profile {
	t.Helper()
	p, err := profile.LoadFile("../../profiles/" + id + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// BenchmarkTable works out the whole expected-against-actual table of a board
// of 47 nodes, 114 checks, nothing remembered. Run it with -cpu 1.
func BenchmarkTable(b *testing.B) {
	p := shipped(b, "sedge-d")
	for b.Loop() {
		if rows := NewModel(p, meter.Default()).Table(nil); len(rows) != len(p.Checks) {
			b.Fatal(len(rows))
		}
	}
}

// BenchmarkTableAgain is BenchmarkTable with the same profile, state and meter
// seen before.
func BenchmarkTableAgain(b *testing.B) {
	m := NewModel(shipped(b, "sedge-d"), meter.Default())
	m.Table(nil)
	for b.Loop() {
		m.Table(nil)
	}
}

// BenchmarkReading measures one resistance on a warm board: 47 nodes, 27
// junctions, one tolerance moved a little each time.
func BenchmarkReading(b *testing.B) {
	m := NewModel(shipped(b, "sedge-d"), meter.Default())
	c, _ := m.profile.Check("r17")
	bench, err := m.newBench(*c, nil)
	if err != nil {
		b.Fatal(err)
	}
	for i := 0; b.Loop(); i++ {
		bench.board.Set(i%len(bench.at), draw(i, 0)/10)
		if _, err := bench.read(); err != nil {
			b.Fatal(err)
		}
	}
}
