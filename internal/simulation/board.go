// Package simulation repairs simulated boards: parts somewhere within tolerance,
// planted faults, a meter with its error, and a technician who makes the check
// that the analysis offers first until it concludes. It counts how often the
// analysis was right.
//
// It knows the truth about a board, which the analysis never sees. It knows no
// people and no history: those of the demo shop are made elsewhere.
package simulation

import (
	"math"
	"math/rand/v2"

	"ohmstead/internal/analysis"
	"ohmstead/internal/circuit"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// World is how the simulated boards are made.
type World struct {
	Mismatched bool // not as the analysis supposes: see Board
	Codes      bool // the technician looks what the board shows before reading anything
}

// Board is one simulated board. In a matched world parts and sources lie evenly
// within tolerance and the meter errs evenly within its accuracy, anew at each
// reading. In a mismatched one parts are normal (two deviations at the
// tolerance), the bench has 18 to 28 °C, every junction carries three times the
// current, and the meter errs the same way on every reading of a measure.
type Board struct {
	profile *profile.Profile
	meter   *meter.Meter
	world   World
	defects []profile.Defect
	rng     *rand.Rand
	at      map[tolerance]float64
	errs    map[profile.Measure]float64
}

// tolerance names one tolerance of a board.
type tolerance struct {
	profile.Owner
	state string
	nth   int
}

// NewBoard makes a board with planted defects.
func NewBoard(p *profile.Profile, m *meter.Meter, w World, rng *rand.Rand, defects ...profile.Defect) *Board {
	if w.Mismatched {
		p = leakier(p)
	}
	return &Board{profile: p, meter: m, world: w, defects: defects, rng: rng,
		at: map[tolerance]float64{}, errs: map[profile.Measure]float64{}}
}

// moreCurrent is how many times the current of the model a junction carries in a
// mismatched world.
const moreCurrent = 3

// leakier gives the profile with junctions that carry more current.
func leakier(p *profile.Profile) *profile.Profile {
	q := *p
	q.Parts = append([]profile.Part(nil), p.Parts...)
	drop := circuit.Ideality * circuit.ThermalVolts * math.Log(moreCurrent)
	for i := range q.Parts {
		params := map[string]float64{}
		for k, v := range q.Parts[i].Params {
			if (k == "forward" || k == "clamp") && !math.IsInf(v, 1) {
				v -= drop
			}
			params[k] = v
		}
		q.Parts[i].Params = params
	}
	return &q
}

// Fit takes a part's faults off the board and puts another part of its value in.
func (b *Board) Fit(ref string) {
	var kept []profile.Defect
	for _, d := range b.defects {
		if d.Part != ref {
			kept = append(kept, d)
		}
	}
	b.defects = kept
	for t := range b.at {
		if t.Part == ref {
			delete(b.at, t)
		}
	}
}

// Bad gives the parts that are still bad.
func (b *Board) Bad() []string {
	var out []string
	for _, d := range b.defects {
		out = append(out, d.Part)
	}
	return out
}

// solve makes the circuit of a check with this board's parts.
func (b *Board) solve(c profile.Check) (*profile.Board, error) {
	var board *profile.Board
	var err error
	if c.Lifted {
		board, err = b.profile.LiftedBoard(c.Across, b.defects...)
	} else {
		board, err = b.profile.Board(c.State, b.defects...)
	}
	if err != nil {
		return nil, err
	}
	seen := map[profile.Owner]int{}
	for i, owner := range board.Owners {
		t := tolerance{Owner: owner, nth: seen[owner]}
		seen[owner]++
		if owner.Source != "" {
			t.state = c.State
		}
		u, ok := b.at[t]
		if !ok {
			u = b.draw(owner)
			b.at[t] = u
		}
		board.Set(i, u)
	}
	return board, board.Solver.Solve()
}

// draw gives where a tolerance lies.
func (b *Board) draw(owner profile.Owner) float64 {
	switch {
	case !b.world.Mismatched:
		return 2*b.rng.Float64() - 1
	case owner == (profile.Owner{}):
		return (18 + 10*b.rng.Float64() - 25) / 5
	}
	return b.rng.NormFloat64() / 2
}

// true gives what an instrument without error would show.
func (b *Board) true(c profile.Check) (meter.Reading, error) {
	board, err := b.solve(c)
	if err != nil {
		return meter.Reading{}, err
	}
	red, black, ok := board.Nodes(c.RedNode, c.BlackNode)
	if !ok {
		return meter.Reading{Over: c.Measure != profile.MeasureDCVolts}, nil
	}
	switch s := board.Solver; c.Measure {
	case profile.MeasureResistance:
		return b.meter.ReadResistance(s, red, black)
	case profile.MeasureDiode:
		return b.meter.ReadDiode(s, red, black)
	case profile.MeasureACVolts:
		return b.meter.ReadACVolts(s, red, black)
	case profile.MeasureCapacitance:
		return b.meter.ReadCapacitance(s, red, black)
	case profile.MeasureESR:
		return b.meter.ReadESR(s, red, black)
	default:
		return b.meter.ReadDCVolts(s, red, black)
	}
}

// Read makes a check. A board that cannot be solved cannot be measured.
func (b *Board) Read(c profile.Check) analysis.Reading {
	r, err := b.true(c)
	if err != nil {
		return analysis.Reading{Check: c, NotPossible: true}
	}
	e := 2*b.rng.Float64() - 1
	if b.world.Mismatched {
		old, ok := b.errs[c.Measure]
		if !ok {
			old = e
			b.errs[c.Measure] = e
		}
		e = old
	}
	v, over := r.Show(e)
	if over {
		return analysis.Reading{Check: c, Value: quantity.Value{OverRange: true, Typed: "OL"}}
	}
	return analysis.Reading{Check: c, Value: quantity.Value{Number: v, Digit: r.Resolution}}
}

// Code gives what the board shows by itself: the first indication of which a
// limit is violated, "none" when there is none. A floating pin stands anywhere
// in its interval. Indications that are normal on a bench show half the time.
func (b *Board) Code() string {
	boards := map[string]*profile.Board{}
	for _, in := range b.profile.Indications {
		if in.NormalOnBench && b.rng.Float64() < 0.5 {
			continue
		}
		for _, l := range in.Limits {
			board, ok := boards[l.State]
			if !ok {
				board, _ = b.solve(profile.Check{State: l.State})
				boards[l.State] = board
			}
			if board != nil && b.violates(board, l) {
				return in.Code
			}
		}
	}
	return "none"
}

func (b *Board) violates(board *profile.Board, l profile.Limit) bool {
	n, zero, ok := board.Nodes(l.Node, l.To)
	levels, err := board.Solver.Levels()
	if !ok || err != nil {
		return false
	}
	at := board.Solver.Volts(n, zero)
	if levels[n].Floating {
		low, high := max(levels[n].Low, -1000), min(levels[n].High, 1000)
		at = low + (high-low)*b.rng.Float64() - levels[zero].Volts
	}
	return at < l.Below || at > l.Above
}

// revealed tells whether some offered check would read what no good board of
// this profile reads, and reads it for the planted defects: outside the guard
// band, and away from what this very board would read without them. It gives how
// many checks come before the first such one in the profile's order; −1: none.
func (b *Board) revealed(rows []analysis.Row) int {
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
