package profile

import "ohmstead/internal/circuit"

// opamp adds the output of an op-amp, asleep until its supply stands.
func (a *assembly) opamp(p *Part) {
	if _, dead := a.defect(p, ModeDead); dead {
		return
	}
	e := &circuit.Amplifier{
		Name: p.Ref, Plus: a.pin(p, "plus"), Minus: a.pin(p, "minus"), Out: a.pin(p, "out"),
		SupplyPlus: a.pin(p, "supply_plus"), SupplyMinus: a.pin(p, "supply_minus"),
		Gain: opampGain, OutOhms: chipOhms,
		HeadroomHigh: p.Param("headroom_high"), HeadroomLow: p.Param("headroom_low"),
		Stuck: a.stuck(p), Off: true,
	}
	a.circuit.Add(e)
	a.chips = append(a.chips, chip{supply: e.SupplyPlus, ground: e.SupplyMinus, out: -1, wake: func() { e.Off = false }})
}

// comparator adds an open-collector output, which pulls down while plus is
// below minus.
func (a *assembly) comparator(p *Part) {
	if _, dead := a.defect(p, ModeDead); dead {
		return
	}
	ground := a.pin(p, "supply_minus")
	e := &circuit.Gate{
		Name: p.Ref, A: a.pin(p, "out"), B: ground, Control: a.pin(p, "minus"), Reference: a.pin(p, "plus"),
		Ohms: chipOhms, Drop: pullVolts, OneWay: true, Stuck: -a.stuck(p), Off: true,
	}
	a.circuit.Add(e)
	a.chips = append(a.chips, chip{supply: a.pin(p, "supply_plus"), ground: ground, out: -1, wake: func() { e.Off = false }})
}

// stuck gives +1 for stuck_high, −1 for stuck_low, otherwise 0.
func (a *assembly) stuck(p *Part) int {
	if _, ok := a.defect(p, ModeStuckHigh); ok {
		return 1
	}
	if _, ok := a.defect(p, ModeStuckLow); ok {
		return -1
	}
	return 0
}

// regulator adds a linear regulator, asleep until its input stands.
func (a *assembly) regulator(p *Part) {
	if _, dead := a.defect(p, ModeDead); dead {
		return
	}
	volts := p.Param("volts")
	e := &circuit.Regulator{
		Name: p.Ref, In: a.pin(p, "in"), Out: a.pin(p, "out"), Ground: a.pin(p, "ground"),
		Dropout: p.Param("dropout"), Limit: regulatorA, Off: true,
	}
	if size, ok := a.defect(p, ModeHigh); ok {
		volts *= size
		e.Dropout = min(e.Dropout, leastVolts)
	}
	if size, ok := a.defect(p, ModeLow); ok {
		volts /= size
	}
	e.Volts = volts
	i := a.circuit.Add(e)
	a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { e.Volts = volts * f }, i)
	a.chips = append(a.chips, chip{supply: e.In, ground: e.Ground, out: e.Out, wake: func() { e.Off = false }})
}
