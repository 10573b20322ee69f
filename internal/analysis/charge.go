package analysis

import (
	"fmt"
	"math"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Charge left in the loop adds to the test voltage one way round and takes from
// it the other. With a resistance R and hidden volts E between the probes a
// range with reference r carries I = (U ∓ E)/(r + R), U being the open-circuit
// voltage, and shows D = U/I − r. Two readings D₁, D₂ of the same points, turned
// round, therefore give both:
//
//	R = (2U − I₁r₁ − I₂r₂)/(I₁ + I₂),  E = U − I₁(r₁ + R),  I = U/(D + r).
//
// OL one way only says that E is at least U; then R is taken as the expected one.

// leastCharge is the share of the test voltage from which hidden volts are
// worth a word.
const leastCharge = 0.02

// charge looks whether a good board with charge in its loop explains a cold
// resistance reading together with the last one of the same points turned
// round, and says so in a sentence with a leading space; empty when not.
func (m *Model) charge(r *Reading, a *assessment, all []Reading) string {
	if r.Check.Measure != profile.MeasureResistance || r.Check.Lifted || a.err != nil || a.typical.OverRange {
		return ""
	}
	turned := lastTurned(r, all)
	if turned == nil || r.Value.OverRange && turned.Value.OverRange {
		return ""
	}
	ohms, volts := m.hidden(r, turned, a.typical.Value)
	s := Shown{Value: ohms}
	if math.Abs(volts) < leastCharge*m.meter.Resistance.OpenCircuit || s.less(a.guardLow) || a.guardHigh.less(s) {
		return ""
	}
	return fmt.Sprintf("; both ways round together this fits a good %s with about %s left in its loop, so discharge it and read again",
		a.text(s, r.Check), quantity.Format(math.Round(math.Abs(volts)*100)/100, 0, quantity.Volt))
}

// lastTurned finds the last reading of the same points turned round.
func lastTurned(r *Reading, all []Reading) *Reading {
	want := r.Check.Key()
	want.Red, want.Black = want.Black, want.Red
	for i := len(all) - 1; i >= 0; i-- {
		if t := &all[i]; !t.Bare() && !t.NotPossible && t.Moving == Still && t.Check.Key() == want {
			return t
		}
	}
	return nil
}

// hidden gives the resistance and the hidden volts that explain two readings;
// where one is over-range, with the resistance taken as expected.
func (m *Model) hidden(one, two *Reading, expected float64) (ohms, volts float64) {
	u := m.meter.Resistance.OpenCircuit
	i1, r1 := m.flow(one)
	i2, r2 := m.flow(two)
	switch {
	case one.Value.OverRange:
		if volts = i2*(r2+expected) - u; volts < u*(1-leastCharge) {
			volts = 0 // it would not have been over-range
		}
		return expected, volts
	case two.Value.OverRange:
		if volts = u - i1*(r1+expected); -volts < u*(1-leastCharge) {
			volts = 0
		}
		return expected, volts
	}
	ohms = (2*u - i1*r1 - i2*r2) / (i1 + i2)
	return ohms, u - i1*(r1+ohms)
}

// flow gives the current of a reading and the reference resistor of its range.
func (m *Model) flow(r *Reading) (amps, reference float64) {
	ranges := m.meter.Resistance.Ranges
	reference = ranges[m.meter.Resistance.At(r.Value.Number).Range].Reference
	return m.meter.Resistance.OpenCircuit / (r.Value.Number + reference), reference
}
