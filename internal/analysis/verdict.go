package analysis

import (
	"math"

	"ohmstead/internal/profile"
)

// residueLimit is the volts between the points beyond which a resistance
// reading means nothing.
const residueLimit = 0.1

// judge gives the verdict on a reading and the case it rests on.
func (a *assessment) judge(c profile.Check, r *Reading) (Verdict, reason) {
	if a.err != nil {
		return Inconclusive, noExpectation
	}
	if r.Residue != nil && math.Abs(*r.Residue) > residueLimit {
		return Inconclusive, chargeLeft
	}
	e := a.expectation
	if digits := a.coarse(r); digits > 0 {
		e.bands(e.spread.coarser(digits))
	}
	v := Shown{r.Value.Number, r.Value.OverRange}
	switch r.Moving {
	case MovingDown:
		return Inconclusive, stillMoving
	case MovingUp:
		if c.Measure == profile.MeasureResistance && e.guardHigh.less(v) {
			return Nonconforming, tooHigh
		}
		return Inconclusive, stillMoving
	}
	switch {
	case v.less(e.guardLow):
		return Nonconforming, tooLow
	case e.guardHigh.less(v):
		return Nonconforming, tooHigh
	case v.less(e.low) || e.high.less(v):
		return Inconclusive, atEdge
	case !a.canTell:
		return Inconclusive, blind
	}
	return Conforming, inside
}

// coarse gives half the last typed digit when that is coarser than the display.
func (a *assessment) coarse(r *Reading) float64 {
	if r.Value.OverRange {
		return 0
	}
	if shown := a.spread.at(r.Value.Number); shown.Over || r.Value.Digit <= shown.Resolution*(1+1e-9) {
		return 0
	}
	return r.Value.Digit / 2
}

// reason is what a verdict rests on.
type reason int

const (
	noExpectation reason = iota
	chargeLeft
	stillMoving
	tooLow
	tooHigh
	atEdge
	blind
	inside
)
