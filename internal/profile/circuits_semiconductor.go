package profile

import (
	"math"

	"ohmstead/internal/circuit"
)

// forwardTolerance is that of every forward and clamp volts which the file
// gives no tolerance of its own.
const forwardTolerance = 0.1

// diode adds a diode, an LED or a Zener diode.
func (a *assembly) diode(p *Part) {
	x, y := a.pin(p, "anode"), a.pin(p, "cathode")
	a.beside(p, x, y, ModeShort, ModeLeaky)
	forward := p.Param("forward")
	j, i := a.junction(p, x, y, forward, a.gone(p))
	tolerance := forwardTolerance
	switch p.Kind {
	case Diode, LED:
		tolerance = p.Param("tolerance")
	case Zener:
		volts := p.Param("zener")
		j.Breakdown = volts
		a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { j.Breakdown = volts * f }, i)
	}
	a.varyForward(p, forward, tolerance, []int{i}, j)
}

// bridge adds the four diodes of a rectifier; a defect concerns one of them.
func (a *assembly) bridge(p *Part) {
	ac1, ac2, plus, minus := a.pin(p, "ac1"), a.pin(p, "ac2"), a.pin(p, "plus"), a.pin(p, "minus")
	ends := [4][2]circuit.Node{{ac1, plus}, {ac2, plus}, {minus, ac1}, {minus, ac2}}
	var js []*circuit.Junction
	var elements []int
	for _, e := range ends {
		j, i := a.junction(p, e[0], e[1], p.Param("forward"), false)
		js, elements = append(js, j), append(elements, i)
	}
	for _, d := range a.defects[p.Ref] {
		js[d.Diode].Off = true
		if d.Mode == ModeShort {
			a.resistor(p.Ref, ends[d.Diode][0], ends[d.Diode][1], d.Size)
		}
	}
	a.varyForward(p, p.Param("forward"), p.Param("tolerance"), elements, js...)
}

func (a *assembly) bipolar(p *Part) {
	base, collector, emitter := a.pin(p, "base"), a.pin(p, "collector"), a.pin(p, "emitter")
	a.beside(p, collector, emitter, ModeShort)
	gain, forward := p.Param("gain"), p.Param("forward")
	t := circuit.NewTransistor(p.Ref, base, collector, emitter, gain, forward)
	t.PNP = p.Kind == PNP
	t.Off = a.gone(p)
	i := a.circuit.Add(t)
	g, f := gain, forward
	set := func() { t.Gain, t.Is = g, circuit.TransistorSaturation(f, g) }
	a.vary(p.Ref, "", p.Param("tolerance"), func(k float64) { g = gain * k; set() }, i)
	a.vary(p.Ref, "", forwardTolerance, func(k float64) { f = forward * k; set() }, i)
}

func (a *assembly) mosfet(p *Part) {
	gate, drain, source := a.pin(p, "gate"), a.pin(p, "drain"), a.pin(p, "source")
	a.beside(p, drain, source, ModeShort)
	threshold := p.Param("threshold")
	g := &circuit.Gate{
		Name: p.Ref, A: drain, B: source, Control: gate, Reference: source,
		Threshold: threshold, Ohms: p.Param("on_resistance"), Off: a.gone(p),
	}
	anode, cathode := source, drain
	if p.Kind == PMOS {
		g.Control, g.Reference = source, gate
		anode, cathode = drain, source
	}
	i := a.circuit.Add(g)
	a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { g.Threshold = threshold * f }, i)
	a.antiparallel(p, anode, cathode)
}

func (a *assembly) igbt(p *Part) {
	gate, collector, emitter := a.pin(p, "gate"), a.pin(p, "collector"), a.pin(p, "emitter")
	a.beside(p, collector, emitter, ModeShort)
	a.circuit.Add(&circuit.Gate{
		Name: p.Ref, A: collector, B: emitter, Control: gate, Reference: emitter,
		Threshold: p.Param("threshold"), Ohms: igbtOhms, Drop: p.Param("on_volts"), OneWay: true, Off: a.gone(p),
	})
	a.antiparallel(p, emitter, collector)
}

// antiparallel adds the diode that comes with a power transistor.
func (a *assembly) antiparallel(p *Part, anode, cathode circuit.Node) {
	j, i := a.junction(p, anode, cathode, p.Param("forward"), a.gone(p))
	a.varyForward(p, p.Param("forward"), forwardTolerance, []int{i}, j)
}

func (a *assembly) optocoupler(p *Part) {
	collector, emitter := a.pin(p, "collector"), a.pin(p, "emitter")
	a.beside(p, collector, emitter, ModeOutputShort)
	_, dark := a.defect(p, ModeLEDOpen)
	_, cut := a.defect(p, ModeOutputOpen)
	led, i := a.junction(p, a.pin(p, "anode"), a.pin(p, "cathode"), p.Param("forward"), dark)
	ratio := p.Param("ctr")
	if size, ok := a.defect(p, ModeWeak); ok {
		ratio /= size
	}
	c := &circuit.Coupler{Name: p.Ref, Collector: collector, Emitter: emitter, LED: led, Ratio: ratio, Off: cut}
	k := a.circuit.Add(c)
	a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { c.Ratio = ratio * f }, k)
	a.varyForward(p, p.Param("forward"), forwardTolerance, []int{i, k}, led)
}

// inputPin adds a controller's input: clamps to its rails and its resistance
// to ground, in every state.
func (a *assembly) inputPin(p *Part) {
	pin, ground, supply := a.pin(p, "pin"), a.pin(p, "ground"), a.pin(p, "supply")
	a.beside(p, pin, ground, ModeShort, ModeLeaky)
	if r := p.Param("resistance"); !isOpen(r) {
		a.resistor(p.Ref, pin, ground, r)
	}
	clamp := p.Param("clamp")
	if math.IsInf(clamp, 1) {
		return
	}
	low, i := a.junction(p, ground, pin, clamp, false)
	high, k := a.junction(p, pin, supply, clamp, false)
	a.varyForward(p, clamp, forwardTolerance, []int{i, k}, low, high)
}
