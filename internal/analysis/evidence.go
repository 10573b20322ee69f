package analysis

import (
	"math"

	"ohmstead/internal/profile"
)

// shape is what a reading says: a number, or only on which side of one the
// display stood.
type shape int

const (
	aNumber shape = iota
	atLeast       // over-range, or still creeping up
	atMost        // a resistance too low for the display
)

// evidence is one reading, put on the scale of its measure.
type evidence struct {
	*entry
	reading *Reading
	row     int // of the reading in the table
	shape   shape
	y       float64 // the number, or the bound
	over    bool    // it showed over-range
	coarse  float64 // half the last typed digit, where that is coarser than the display
	logStep float64 // ln of the display's resolution
	logSlip float64 // ln of the probability of this display, given a slip
	fitted  map[int]bool
	rng     int     // of the ohmmeter, by what it showed
	charge  float64 // DC volts that stood between the points before; 0: none worth counting
}

// slipRate is the probability that a reading is a slip that nobody noticed: a probe
// beside the metal, k for M, a pair of points taken for another. An estimate: slips
// are more frequent, but a strange reading is usually made again before it is
// noted. Of slips so many show over-range, or nothing at all; the rest shows
// anything.
const (
	slipRate = 0.01
	slipOver = 0.5
	slipNone = 0.2
)

// collect makes evidence of readings. It leaves out what says nothing: checks
// that cannot be made, readings that creep down, or creep in powered states.
func (d *dictionary) collect(readings []Reading) []evidence {
	fitted := map[int]bool{}
	var kept []*Reading
	var rows []int
	var states []map[int]bool
	var checks []profile.Check
	row := -1
	for i := range readings {
		r := &readings[i]
		if r.Fitted != "" {
			fitted = with(fitted, d.partIndex(r.Fitted))
		}
		if r.Bare() || r.NotPossible {
			continue
		}
		row++
		if r.Moving == MovingDown || r.Moving == MovingUp && r.Check.Measure != profile.MeasureResistance {
			continue
		}
		kept, rows = append(kept, r), append(rows, row)
		states, checks = append(states, fitted), append(checks, r.Check)
	}
	var out []evidence
	for i, e := range d.ensure(checks) {
		if e.err == nil {
			ev := d.evidence(e, kept[i], states[i])
			ev.row = rows[i]
			out = append(out, ev)
		}
	}
	return out
}

// with gives a set with one more member.
func with(set map[int]bool, member int) map[int]bool {
	out := map[int]bool{member: true}
	for k := range set {
		out[k] = true
	}
	return out
}

// partIndex gives the index of a part, −1 when there is none.
func (d *dictionary) partIndex(ref string) int {
	for i := range d.model.profile.Parts {
		if d.model.profile.Parts[i].Ref == ref {
			return i
		}
	}
	return -1
}

func (d *dictionary) evidence(e *entry, r *Reading, fitted map[int]bool) evidence {
	v := evidence{entry: e, reading: r, fitted: fitted}
	measure := e.check.Measure
	if r.Residue != nil && math.Abs(*r.Residue) > residueLimit && measure == profile.MeasureResistance {
		v.charge = *r.Residue
	}
	if r.Value.OverRange {
		v.shape, v.y, v.over, v.logSlip = atLeast, e.most, true, math.Log(slipOver)
		return v
	}
	y, slope := onScale(measure, r.Value.Number)
	shown := d.model.shownAt(measure, r.Value.Number)
	step := shown.Resolution
	if r.Value.Digit > step*(1+1e-9) {
		v.coarse = slope * r.Value.Digit / 2
		step = r.Value.Digit
	}
	v.y, v.rng = y, shown.Range
	v.logStep = math.Log(slope * step)
	v.logSlip = v.logStep + math.Log((1-slipOver-slipNone)/e.breadth())
	switch {
	case r.Moving == MovingUp:
		v.shape = atLeast
	case shiftOf(measure) > 0 && r.Value.Number < step/2:
		v.shape = atMost
		v.y, _ = onScale(measure, step/2)
		v.logSlip = math.Log(slipNone)
	case shiftOf(measure) == 0 && measure != profile.MeasureDiode && math.Abs(r.Value.Number) < 0.02:
		v.logSlip = math.Log(slipNone)
	}
	return v
}

// breadth is how much of the scale a slip may show.
func (e *entry) breadth() float64 {
	switch e.check.Measure {
	case profile.MeasureResistance, profile.MeasureESR, profile.MeasureCapacitance:
		return 18 // from 1 Ω to the last range
	case profile.MeasureDiode:
		return 3
	}
	if e.healthy.over < 1 {
		return 2*math.Abs(e.healthy.y) + 10
	}
	return 50
}
