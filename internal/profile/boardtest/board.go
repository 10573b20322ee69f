// Package boardtest draws boards of a profile, and a meter on them, for an
// independent simulator: ngspice. It goes by the formats alone: the table of
// kinds, their laws, the ways in which parts fail, and how a meter measures.
//
// It knows nothing of how this project makes a circuit of a profile and solves
// it, and only tests use it: its own, which compare every function of the meter on
// whole boards, and those of simulated repairs.
package boardtest

import (
	"testing"

	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Board is one board in one state before the simulator. Its parts and sources have
// the values of the profile: nothing varies within tolerance.
type Board struct {
	simulator spicetest.Simulator
	d         *drawing
}

// New puts a board with defects before the simulator in the state of a check, for
// a lifted one the part alone, and lets it come to rest: ok is false where it does
// not.
func New(t testing.TB, s spicetest.Simulator, p *profile.Profile, c profile.Check, defects ...profile.Defect) (b *Board, ok bool) {
	t.Helper()
	d := newDrawing(p, c.State, defects)
	if c.Lifted {
		d.lifted = c.Across
	}
	ask(t, s, []*question{{d: d, put: func() []spicetest.Ask { return nil }, judge: func([]spicetest.Answer) { ok = true }}})
	return &Board{s, d}, ok
}

// Read gives what a meter without error shows at a check of resistance, a junction
// or volts; ok is false where the simulator has no answer.
func (b *Board) Read(t testing.TB, m *meter.Meter, c profile.Check) (r meter.Reading, ok bool) {
	t.Helper()
	d, at := b.d.copy(false), place{c.RedNode, c.BlackNode}
	var put func() []spicetest.Ask
	var show func(a []spicetest.Answer, v string) meter.Reading
	switch c.Measure {
	case profile.MeasureResistance:
		put = func() []spicetest.Ask { return d.ohmmeter(&m.Resistance, at, 1) }
		show = func(a []spicetest.Answer, v string) meter.Reading { return ranged(&m.Resistance, a, v) }
	case profile.MeasureDiode:
		put = func() []spicetest.Ask { return d.diodeTest(&m.Diode, at) }
		show = func(a []spicetest.Answer, v string) meter.Reading { return junction(&m.Diode, real(a[0][v])) }
	case profile.MeasureDCVolts:
		put = func() []spicetest.Ask { return d.voltmeter(&m.DCVolts, at) }
		show = func(a []spicetest.Answer, v string) meter.Reading { return m.DCVolts.At(real(a[0][v])) }
	case profile.MeasureACVolts:
		put = func() []spicetest.Ask { return d.acVoltmeter(&m.ACVolts, at) }
		show = func(a []spicetest.Answer, v string) meter.Reading { return m.ACVolts.At(rms(a, v)) }
	default:
		t.Fatalf("%s is not asked of the simulator here", c.Measure)
	}
	ask(t, b.simulator, []*question{{d: d, put: put, judge: func(a []spicetest.Answer) {
		r, ok = show(a, d.across(at.red, at.black)), true
	}}})
	return r, ok
}

// ranged gives the display of the first range that holds the reading.
func ranged(m *meter.Resistance, a []spicetest.Answer, v string) meter.Reading {
	for i, g := range m.Ranges {
		volts := max(real(a[i][v]), 0)
		if ohms := g.Reference * volts / (m.OpenCircuit - volts); ohms >= 0 && ohms <= g.FullScale {
			return m.At(ohms)
		}
	}
	return meter.Reading{Over: true}
}

// junction gives the display of the diode check, OL where the current falls off.
func junction(m *meter.Diode, volts float64) meter.Reading {
	if volts >= m.Compliance*0.9999 {
		return meter.Reading{Over: true}
	}
	return m.At(volts)
}
