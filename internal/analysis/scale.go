package analysis

import (
	"math"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Readings are compared on a scale of their measure on which spread hardly
// depends on the value: volts as they are, everything else by its logarithm,
// shifted so that 0 has a place.

// shiftOf gives what is added before the logarithm, 0 for volts.
func shiftOf(m profile.Measure) float64 {
	switch m {
	case profile.MeasureResistance, profile.MeasureESR:
		return 1 // ohm: about what the last digits of the lowest range are worth
	case profile.MeasureCapacitance:
		return 1e-12 // farad
	}
	return 0
}

// onScale gives a value on the scale of its measure and the scale's slope there.
func onScale(m profile.Measure, value float64) (y, slope float64) {
	shift := shiftOf(m)
	if shift == 0 {
		return value, 1
	}
	value = max(value, 0)
	return math.Log(value + shift), 1 / (value + shift)
}

// offScale gives the value at a place of the scale.
func offScale(m profile.Measure, y float64) float64 {
	shift := shiftOf(m)
	if shift == 0 {
		return y
	}
	return max(math.Exp(y)-shift, 0)
}

// shownAt gives how the meter shows a value of a measure.
func (m *Model) shownAt(measure profile.Measure, value float64) meter.Reading {
	b := bench{meter: m.meter, check: profile.Check{Measure: measure}}
	return b.showAt(value)
}
