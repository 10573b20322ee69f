package analysis

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// sections makes a board of n parts: dividers from a bus, each with a series
// resistor into a controller's pin, and as many checks as parts.
func sections(n int) string {
	var parts, checks strings.Builder
	for i := range n / 5 {
		fmt.Fprintf(&parts, "  A%d: {kind: resistor, pins: [bus, m%d], value: 100k, tolerance: 1 %%}\n", i, i)
		fmt.Fprintf(&parts, "  B%d: {kind: resistor, pins: [m%d, s%d], value: 100k, tolerance: 1 %%}\n", i, i, i)
		fmt.Fprintf(&parts, "  C%d: {kind: resistor, pins: [s%d, gnd], value: 10k, tolerance: 1 %%}\n", i, i)
		fmt.Fprintf(&parts, "  D%d: {kind: resistor, pins: [s%d, p%d], value: 1k, tolerance: 5 %%}\n", i, i, i)
		fmt.Fprintf(&parts, "  U%d: {kind: input_pin, pins: {pin: p%d, ground: gnd, supply: v5}}\n", i, i)
		for _, ref := range []string{"A", "B", "C"} {
			fmt.Fprintf(&checks, "  - {id: %s%d, state: cold, measure: resistance, across: %s%d}\n", strings.ToLower(ref), i, ref, i)
		}
		fmt.Fprintf(&checks, "  - {id: s%d, state: live, measure: dc_volts, red: s%d}\n", i, i)
		fmt.Fprintf(&checks, "  - {id: p%d, state: live, measure: dc_volts, red: p%d}\n", i, i)
	}
	return "format: ohmstead/board-profile/1\nid: divider\ntitle: Sections\nground: gnd\nparts:\n" + parts.String() +
		"states:\n  live:\n    sources:\n      - {name: mains, plus: bus, minus: gnd, volts: 60, tolerance: 10 %}\n" +
		"      - {name: v5, plus: v5, minus: gnd, volts: 5, tolerance: 2 %}\nchecks:\n" + checks.String()
}

// asked makes n readings that the analysis asks for on a board with a defect, at
// nominal values.
func asked(b testing.TB, m *Model, n int, d profile.Defect) []Reading {
	b.Helper()
	var readings []Reading
	for range n {
		r, err := m.Weigh(Case{Readings: readings})
		if err != nil {
			b.Fatal(err)
		}
		if len(r.Next) == 0 {
			break
		}
		c := r.Next[0].Measured
		s := m.shownWith(c, nil, d)
		readings = append(readings, Reading{Check: c, Value: quantity.Value{Number: s.Value, OverRange: s.OverRange, Digit: 1e-9}})
	}
	return readings
}

// BenchmarkWeigh is what one more reading costs on a model in use: suspects,
// single and in pairs, next checks and conclusion. It goes through the first ten
// readings that the analysis asks for, again and again; ms-worst is the dearest of
// them, MB-live what the model holds afterwards. Run it with -cpu 1.
func BenchmarkWeigh(b *testing.B) {
	for _, n := range []int{20, 40, 60, 80, 160} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			benchmarkWeigh(b, func() *Model { return small(b, sections(n)) }, profile.Defect{Part: "C1", Mode: profile.ModeHigh, Size: 1.6})
		})
	}
	b.Run("sedge-d", func(b *testing.B) {
		benchmarkWeigh(b, func() *Model { return NewModel(shipped(b, "sedge-d"), meter.Default()) }, profile.Defect{Part: "RBV", Mode: profile.ModeHigh, Size: 40})
	})
}

func benchmarkWeigh(b *testing.B, model func() *Model, d profile.Defect) {
	before := live()
	m := model()
	readings := asked(b, m, 10, d)
	if len(readings) == 0 {
		b.Fatal("nothing was asked for")
	}
	worst := time.Duration(0)
	n := 0
	for b.Loop() {
		start := time.Now()
		if _, err := m.Weigh(Case{Readings: readings[:1+n%len(readings)]}); err != nil {
			b.Fatal(err)
		}
		worst = max(worst, time.Since(start))
		n++
	}
	b.ReportMetric(float64(len(readings)), "readings")
	b.ReportMetric(float64(worst.Microseconds())/1000, "ms-worst")
	b.ReportMetric((live()-before)/1e6, "MB-live")
	runtime.KeepAlive(m)
}

// live gives the bytes that are in use.
func live() float64 {
	runtime.GC()
	var s runtime.MemStats
	runtime.ReadMemStats(&s)
	return float64(s.HeapAlloc)
}

// BenchmarkDictionary fills the dictionary of the largest shipped profile.
func BenchmarkDictionary(b *testing.B) {
	p := shipped(b, "sedge-d")
	for b.Loop() {
		m := NewModel(p, meter.Default())
		m.dictionary().ensure(p.Checks)
	}
}
