package meter

import "ohmstead/internal/circuit"

// SettleResistance gives what one range shows at rising times, in seconds,
// after the probes are put on with every capacitor empty: first the capacitors
// charge through the range's reference resistor. A reading beyond the range's
// full scale is Over. The error is a *circuit.Unsolved.
func (m *Meter) SettleResistance(c *circuit.Circuit, red, black circuit.Node, rng int, times []float64) ([]Reading, error) {
	r := &m.Resistance
	tr := circuit.NewTransient(c)
	tr.Attach(circuit.Probe{Red: red, Black: black, Volts: r.OpenCircuit, Ohms: r.Ranges[rng].Reference})
	out := make([]Reading, 0, len(times))
	last := 0.0
	for _, t := range times {
		if err := tr.Step(t - last); err != nil {
			return nil, err
		}
		last = t
		got := r.read(rng, tr.Volts(red, black))
		if got.Value > r.Ranges[rng].FullScale {
			got.Over = true
		}
		out = append(out, got)
	}
	return out, nil
}
