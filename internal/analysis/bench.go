package analysis

import (
	"errors"
	"math"

	"ohmstead/internal/circuit"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// errNoESR is why a series resistance has no expectation.
var errNoESR = errors.New("the profile does not know the series resistance")

// setting narrows what is known of a source: its value lies evenly within half
// of centre, both in its tolerance's own measure (−1 to 1).
type setting struct {
	source       string
	centre, half float64
}

// bench is one board with the probes of one check on it. It serves one
// goroutine.
type bench struct {
	meter      *meter.Meter
	check      profile.Check
	board      *profile.Board
	red, black circuit.Node
	apart      bool      // a probe is on a node that the board does not have
	centre     []float64 // of every tolerance
	half       []float64
	at         []float64 // where they are set now
	rng        int       // on which the ohmmeter stood last
}

// newBench builds the board of a check, with defects if there are any.
func (m *Model) newBench(c profile.Check, settings []setting, defects ...profile.Defect) (*bench, error) {
	var board *profile.Board
	var err error
	if c.Lifted {
		board, err = m.profile.LiftedBoard(c.Across, defects...)
	} else {
		board, err = m.profile.Board(c.State, defects...)
	}
	if err != nil {
		return nil, err
	}
	b := &bench{meter: m.meter, board: board}
	n := len(board.Params)
	b.centre, b.half, b.at = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range b.half {
		b.half[i] = 1
		for _, s := range settings {
			if s.source == board.Owners[i].Source && s.source != "" {
				b.centre[i], b.half[i] = s.centre, s.half
			}
		}
	}
	b.probe(c)
	b.set(nil)
	return b, nil
}

// probe puts the probes where a check has them.
func (b *bench) probe(c profile.Check) {
	b.check = c
	red, black, ok := b.board.Nodes(c.RedNode, c.BlackNode)
	b.red, b.black, b.apart = red, black, !ok
}

// set moves every tolerance to centre + half·ξ, to its centre when xi is nil.
func (b *bench) set(xi []float64) {
	for i := range b.at {
		u := b.centre[i]
		if xi != nil {
			u += b.half[i] * xi[i]
		}
		if u != b.at[i] {
			b.board.Set(i, u)
			b.at[i] = u
		}
	}
}

// read measures as the check says.
func (b *bench) read() (meter.Reading, error) {
	s, m := b.board.Solver, b.meter
	if b.apart {
		return b.nothing(), nil
	}
	switch b.check.Measure {
	case profile.MeasureResistance:
		got, err := m.ReadResistanceFrom(s, b.red, b.black, b.rng)
		b.rng = got.Range
		return got, err
	case profile.MeasureDiode:
		return m.ReadDiode(s, b.red, b.black)
	case profile.MeasureDCVolts:
		return m.ReadDCVolts(s, b.red, b.black)
	case profile.MeasureACVolts:
		return m.ReadACVolts(s, b.red, b.black)
	case profile.MeasureCapacitance:
		return m.ReadCapacitance(s, b.red, b.black)
	}
	return m.ReadESR(s, b.red, b.black)
}

// nothing is what a probe on a place that the board does not have reads.
func (b *bench) nothing() meter.Reading {
	switch b.check.Measure {
	case profile.MeasureDCVolts, profile.MeasureACVolts, profile.MeasureCapacitance:
		return b.showAt(0)
	}
	return meter.Reading{Over: true}
}

// index gives a smooth, rising measure of the reading that does not jump with
// the ranges: the logarithm of the resistance on one range, otherwise volts.
func (b *bench) index(rng int) (float64, error) {
	s := b.board.Solver
	if b.check.Measure != profile.MeasureResistance {
		r, err := b.read()
		if r.Over {
			return min(b.most(), 1e12), err
		}
		return r.Value, err
	}
	if _, err := b.meter.ReadResistanceAt(s, b.red, b.black, rng); err != nil {
		return 0, err
	}
	v := s.Volts(b.red, b.black) / b.meter.Resistance.OpenCircuit
	v = min(max(v, 1e-9), 1-1e-12)
	return math.Log(v / (1 - v)), nil
}

// slopes gives the derivative of the volts between the probes, or of what an
// alternating current shows, by every tolerance's ξ at the present solution.
func (b *bench) slopes() []float64 {
	out := make([]float64, len(b.half))
	if b.apart || b.red == b.black {
		return out
	}
	if alternating(b.check.Measure) {
		b.differences(out)
		return out
	}
	b.board.Solver.Sensitivity(b.red, b.black, b.board.Params, out)
	for i := range out {
		out[i] *= b.half[i]
	}
	return out
}

// alternating tells whether a measure uses an alternating current.
func alternating(m profile.Measure) bool {
	return m == profile.MeasureACVolts || m == profile.MeasureCapacitance || m == profile.MeasureESR
}

// differenceStep is how far a tolerance is moved to see its slope.
const differenceStep = 0.05

// differences fills out with slopes found by reading twice; a reading that
// fails on the way counts as no slope.
func (b *bench) differences(out []float64) {
	xi := make([]float64, len(out))
	defer b.set(nil)
	for i := range out {
		var v [2]float64
		for k, x := range []float64{differenceStep, -differenceStep} {
			xi[i] = x
			b.set(xi)
			if r, err := b.read(); err == nil && !r.Over {
				v[k] = r.Value
			}
		}
		xi[i] = 0
		out[i] = (v[0] - v[1]) / (2 * differenceStep)
	}
}

// showAt gives how the instrument shows a value.
func (b *bench) showAt(value float64) meter.Reading {
	switch b.check.Measure {
	case profile.MeasureResistance:
		return b.meter.Resistance.At(max(value, 0))
	case profile.MeasureDiode:
		return b.meter.Diode.At(value)
	case profile.MeasureCapacitance:
		return b.meter.Capacitance.At(value)
	case profile.MeasureESR:
		return b.meter.ESR.At(value)
	case profile.MeasureACVolts:
		r := b.meter.ACVolts.At(max(value, 0))
		r.Least = 0
		return r
	}
	return b.meter.DCVolts.At(value)
}

// most gives the greatest value that the instrument shows.
func (b *bench) most() float64 {
	switch b.check.Measure {
	case profile.MeasureResistance:
		r := b.meter.Resistance.Ranges
		return r[len(r)-1].FullScale
	case profile.MeasureDiode:
		return b.meter.Diode.Compliance
	case profile.MeasureCapacitance, profile.MeasureESR:
		return math.Inf(1)
	case profile.MeasureACVolts:
		steps := b.meter.ACVolts.Steps
		return steps[len(steps)-1].UpTo
	}
	steps := b.meter.DCVolts.Steps
	return steps[len(steps)-1].UpTo
}
