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

// World is how the simulated boards and their technician are made.
type World struct {
	Mismatched bool    // not as the analysis supposes: see Board
	Codes      bool    // the technician looks what the board shows before reading anything
	Slips      float64 // the probability that a reading is a slip: see Board.slip
	Twice      bool    // the technician makes a reading that no good board shows a second time at once
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
	answers func(*Board, profile.Check) (meter.Reading, error) // what an instrument without error shows; a test asks another simulator
	at      map[tolerance]float64
	errs    map[profile.Measure]float64
	renewed map[string]int // how often a part was fitted
	slips   int            // readings so far that were slips
}

// tolerance names one tolerance of a board.
type tolerance struct {
	profile.Owner
	renewed int
	state   string
	nth     int
}

// NewBoard makes a board with planted defects.
func NewBoard(p *profile.Profile, m *meter.Meter, w World, rng *rand.Rand, defects ...profile.Defect) *Board {
	if w.Mismatched {
		p = leakier(p)
	}
	return &Board{profile: p, meter: m, world: w, defects: defects, rng: rng, answers: (*Board).true,
		at: map[tolerance]float64{}, errs: map[profile.Measure]float64{}, renewed: map[string]int{}}
}

// twin gives the board as it came, with these defects and an own course of
// chance: the same parts, sources and lasting errors, readings of its own.
func (b *Board) twin(rng *rand.Rand, defects ...profile.Defect) *Board {
	t := *b
	t.rng, t.defects, t.renewed, t.slips = rng, defects, map[string]int{}, 0
	return &t
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
	b.renewed[ref]++
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
		t := tolerance{Owner: owner, renewed: b.renewed[owner.Part], nth: seen[owner]}
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
	return readOn(b.meter, board, c, red, black)
}

// readOn makes a check with an instrument without error on a solved board.
func readOn(m *meter.Meter, board *profile.Board, c profile.Check, red, black circuit.Node) (meter.Reading, error) {
	switch s := board.Solver; c.Measure {
	case profile.MeasureResistance:
		return m.ReadResistance(s, red, black)
	case profile.MeasureDiode:
		return m.ReadDiode(s, red, black)
	case profile.MeasureACVolts:
		return m.ReadACVolts(s, red, black)
	case profile.MeasureCapacitance:
		return m.ReadCapacitance(s, red, black)
	case profile.MeasureESR:
		return m.ReadESR(s, red, black)
	default:
		return m.ReadDCVolts(s, red, black)
	}
}

// Read makes a check; now and then it is a slip. A board that cannot be solved
// cannot be measured.
func (b *Board) Read(c profile.Check) analysis.Reading {
	if b.world.Slips > 0 && b.rng.Float64() < b.world.Slips {
		b.slips++
		return b.slip(c)
	}
	return b.careful(c)
}

// careful is Read without slips.
func (b *Board) careful(c profile.Check) analysis.Reading {
	r, err := b.answers(b, c)
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
