package bench

import (
	"math"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/goodboard"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// GoodBoards is what known-good boards of a revision read at one check.
type GoodBoards struct {
	N     int             // boards
	Over  int             // of these, how many read OL
	Band  *goodboard.Band // of those with a number; nil where there is none
	Digit float64         // the coarsest last digit that was typed, base unit
	Next  bool            // Band says what the next good board is expected to read
}

// GoodBoards sorts what known-good boards of this revision read by the check that
// it is, one reading of a board each: the newest. Where boards read OL, no band is
// expected of the next one.
func (m *Model) GoodBoards(readings []evidence.Reading) map[profile.Key]GoodBoards {
	type place struct {
		board uuid.UUID // its ticket
		check profile.Key
	}
	newest := map[place]evidence.Reading{}
	for _, r := range readings {
		c, err := m.measured(r)
		if err != nil {
			continue // the profile does not know this place any more
		}
		at := place{r.TicketID, c.Key()}
		if old, known := newest[at]; !known || old.TakenAt.Before(r.TakenAt) {
			newest[at] = r
		}
	}
	values := map[profile.Key][]quantity.Value{}
	for at, r := range newest {
		values[at.check] = append(values[at.check], valueOf(r))
	}
	out := make(map[profile.Key]GoodBoards, len(values))
	for check, list := range values {
		out[check] = goodBoardsOf(check.Measure, list)
	}
	return out
}

// goodBoardsOf sums up what boards read at one check.
func goodBoardsOf(measure profile.Measure, list []quantity.Value) GoodBoards {
	g := GoodBoards{N: len(list)}
	var numbers []float64
	for _, v := range list {
		if v.OverRange {
			g.Over++
			continue
		}
		numbers = append(numbers, v.Number)
		g.Digit = math.Max(g.Digit, v.Digit)
	}
	if len(numbers) == 0 {
		return g
	}
	band, ok := goodboard.Expect(numbers, priorOf(measure))
	g.Band, g.Next = &band, ok && g.Over == 0
	return g
}

// priorOf is how good boards are assumed to spread in what a measure reads.
func priorOf(m profile.Measure) goodboard.Prior {
	switch m {
	case profile.MeasureResistance:
		return goodboard.Resistance
	case profile.MeasureCapacitance:
		return goodboard.Capacitance
	case profile.MeasureESR:
		return goodboard.ESR
	case profile.MeasureDiode:
		return goodboard.Junction
	}
	return goodboard.Volts
}
