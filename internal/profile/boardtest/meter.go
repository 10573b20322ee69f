package boardtest

import (
	"fmt"
	"math"

	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/meter"
)

// place is where the probes are.
type place struct{ red, black string }

// ohmmeter draws the test voltage, of either sign, behind the reference resistor of
// each range in turn.
func (d *drawing) ohmmeter(m *meter.Resistance, at place, signs ...float64) (asks []spicetest.Ask) {
	red, black := d.node(at.red), d.node(at.black)
	d.deck.Line("vm mm %s DC %g\nrm mm %s %g", black, m.OpenCircuit, red, m.Ranges[0].Reference)
	d.deck.Join("mm", red, black)
	for _, sign := range signs {
		for _, g := range m.Ranges {
			asks = append(asks, spicetest.Ask{Solve: "op", Print: []string{d.across(at.red, at.black)},
				Alter: []string{fmt.Sprintf("vm dc = %g", sign*m.OpenCircuit), fmt.Sprintf("rm = %g", g.Reference)}})
		}
	}
	return asks
}

// diodeTest draws the test current, which falls off within 0.1 mV of the
// compliance.
func (d *drawing) diodeTest(m *meter.Diode, at place) []spicetest.Ask {
	v := d.across(at.red, at.black)
	d.deck.Law(d.node(at.black), d.node(at.red), "min(%g,(%g-%s)*%g)", m.Current, m.Compliance, v, m.Current/1e-4)
	return []spicetest.Ask{{Solve: "op", Print: []string{v}}}
}

// voltmeter draws the input resistance.
func (d *drawing) voltmeter(m *meter.Volts, at place) []spicetest.Ask {
	d.deck.Resistor(d.node(at.red), d.node(at.black), m.InputResistance)
	return []spicetest.Ask{{Solve: "op", Print: []string{d.across(at.red, at.black)}}}
}

// acVoltmeter draws the input resistance and asks for the phasors of each
// frequency alone.
func (d *drawing) acVoltmeter(m *meter.Volts, at place) (asks []spicetest.Ask) {
	d.deck.Resistor(d.node(at.red), d.node(at.black), m.InputResistance)
	for _, hertz := range d.frequencies() {
		ask := spicetest.Ask{Solve: fmt.Sprintf("ac lin 1 %g %g", hertz, hertz), Print: []string{d.across(at.red, at.black)}}
		for name, of := range d.mains {
			rms := 0.0
			if of.hertz == hertz {
				rms = of.rms
			}
			ask.Alter = append(ask.Alter, fmt.Sprintf("%s acmag = %g", name, rms))
		}
		asks = append(asks, ask)
	}
	return asks
}

// rms adds the phasors of all frequencies by their squares.
func rms(answers []spicetest.Answer, v string) float64 {
	sum := 0.0
	for _, a := range answers {
		sum += real(a[v])*real(a[v]) + imag(a[v])*imag(a[v])
	}
	return math.Sqrt(sum)
}
