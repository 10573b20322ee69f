package meter

import (
	"math"

	"ohmstead/internal/circuit"
)

// ReadACVolts shows the rms volts between two nodes at the operating point with
// the meter's own input resistance between them; between islands, 0. The error
// is a *circuit.Unsolved.
func (m *Meter) ReadACVolts(s *circuit.Solver, red, black circuit.Node) (Reading, error) {
	v := &m.ACVolts
	if s.Connected(red, black) && red != black {
		s.Attach(circuit.Probe{Red: red, Black: black, Ohms: v.InputResistance})
	} else {
		s.Detach()
	}
	if err := s.Solve(); err != nil {
		return overRange, err
	}
	rms, ok := s.ACVolts(red, black, v.InputResistance)
	if !ok {
		return overRange, &circuit.Unsolved{}
	}
	r := v.At(rms)
	r.Least = 0
	return r, nil
}

// ReadCapacitance shows the series capacitance −1/(ω·Im Z) between two nodes of
// an unpowered circuit, junctions off; OL where nothing capacitive is seen, and
// 0 where nothing leads from one to the other.
func (m *Meter) ReadCapacitance(s *circuit.Solver, red, black circuit.Node) (Reading, error) {
	z, ok := s.Impedance(red, black, m.Capacitance.Frequency)
	omega := 2 * math.Pi * m.Capacitance.Frequency
	switch {
	case !ok:
		return m.Capacitance.At(0), nil
	case -imag(z) <= 1e-9*math.Abs(real(z)):
		return overRange, nil
	}
	return m.Capacitance.At(-1 / (omega * imag(z))), nil
}

// ReadESR shows Re Z between two nodes of an unpowered circuit, junctions off;
// OL where nothing leads from one to the other.
func (m *Meter) ReadESR(s *circuit.Solver, red, black circuit.Node) (Reading, error) {
	z, ok := s.Impedance(red, black, m.ESR.Frequency)
	if !ok {
		return overRange, nil
	}
	return m.ESR.At(real(z)), nil
}

// impedanceCounts is how many counts the ranges of a capacitance or ESR check
// have: 600 nF in steps of 0.1 nF, 6 µF in steps of 1 nF.
const impedanceCounts = 6000

// At gives the reading of a capacitance or a series resistance. Its ranges end
// at 6·10^k, each in 6000 steps.
func (i *Impedance) At(value float64) Reading {
	value = math.Max(value, 0)
	full := 6e-12
	if value > full {
		full = 6 * math.Pow(10, math.Ceil(math.Log10(value/6)-1e-12))
	}
	resolution := full / impedanceCounts
	return Reading{
		Value: value, Slope: 1, Resolution: resolution, Most: math.Inf(1),
		Half: i.Accuracy*value + i.Counts*resolution,
	}
}
