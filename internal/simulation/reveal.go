package simulation

import (
	"math"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// revealed tells whether some offered check would read what no good board of
// this profile reads, and reads it for the planted defects: outside the guard
// band, and away from what this very board would read without them. It gives how
// many checks come before the first such one in the profile's order; −1: none.
func (b *Board) revealed(rows []analysis.Row) int {
	if len(b.defects) == 0 {
		return -1
	}
	good := *b
	good.defects = nil
	for i, row := range rows {
		if row.Expected == nil {
			continue
		}
		r, err := b.true(row.Measured)
		if err != nil || !outside(r, &row) {
			continue
		}
		if before, err := good.true(row.Measured); err == nil && (before.Over != r.Over || math.Abs(before.Value-r.Value) > r.Half) {
			return i
		}
	}
	return -1
}

// telling gives the parts whose fault some check would reveal if it were the only
// one on this board.
func (b *Board) telling(rows []analysis.Row) []string {
	var out []string
	alone := *b
	for _, d := range b.defects {
		alone.defects = []profile.Defect{d}
		if alone.revealed(rows) >= 0 {
			out = append(out, d.Part)
		}
	}
	return out
}

// outside tells whether a reading without error lies outside the guard band.
func outside(r meter.Reading, row *analysis.Row) bool {
	v, over := r.Show(0)
	low, high := row.Guard.Low, row.Guard.High
	switch {
	case over:
		return high != nil
	case low == nil:
		return true
	}
	return v < *low-1e-9*math.Abs(*low) || high != nil && v > *high+1e-9*math.Abs(*high)
}

// odd tells whether a reading that was made lies outside the guard band.
func odd(r analysis.Reading, row *analysis.Row) bool {
	if r.NotPossible || row == nil || row.Expected == nil {
		return false
	}
	return outside(meter.Reading{Value: r.Value.Number, Over: r.Value.OverRange, Most: math.Inf(1), Least: math.Inf(-1)}, row)
}
