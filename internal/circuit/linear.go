package circuit

import "math"

// Resistor is a resistance; an infinite one, or Off, is open. Inductors, fuses
// and links are their resistance at direct current.
type Resistor struct {
	Name string
	A, B Node
	Ohms float64
	Off  bool
}

func (r *Resistor) open() bool    { return r.Off || math.IsInf(r.Ohms, 1) }
func (r *Resistor) label() string { return r.Name }
func (r *Resistor) branches() int { return 0 }
func (r *Resistor) linear() bool  { return true }

func (r *Resistor) edges(add func(a, b Node)) {
	if !r.open() {
		add(r.A, r.B)
	}
}

func (r *Resistor) stamp(w *work, s *state) {
	if !r.open() && r.A != r.B {
		p := s.across(w, r.A, r.B)
		w.conduct(p, p, 1/r.Ohms)
	}
}

func (r *Resistor) follow(*work, *state) bool { return true }

func (r *Resistor) reaches(_ *work, _ *state, add func(a, b Node)) {
	if !r.open() {
		add(r.A, r.B)
	}
}

func (r *Resistor) bounds(func(a, b Node, most float64)) {}

// Capacitor is open at direct current. In a time step it is a conductance with a
// current (see Transient), its ESR left out; in an alternating solution it is
// the admittance of C in series with ESR.
type Capacitor struct {
	Name   string
	A, B   Node
	Farads float64
	ESR    float64 // ohms
	Off    bool

	before, flow float64 // volts and current at the start of the time step
}

func (c *Capacitor) label() string { return c.Name }
func (c *Capacitor) branches() int { return 0 }
func (c *Capacitor) linear() bool  { return true }

func (c *Capacitor) edges(add func(a, b Node)) {
	if !c.Off {
		add(c.A, c.B)
	}
}

func (c *Capacitor) stamp(w *work, s *state) {
	if c.Off || w.dt == 0 || c.A == c.B {
		return
	}
	g := c.Farads / (w.theta * w.dt)
	p := s.across(w, c.A, c.B)
	w.conduct(p, p, g)
	w.current(p, -g*c.before-(1-w.theta)/w.theta*c.flow)
}

func (c *Capacitor) follow(*work, *state) bool { return true }

func (c *Capacitor) reaches(*work, *state, func(a, b Node)) {}

func (c *Capacitor) bounds(func(a, b Node, most float64)) {}

// NTC gives the resistance of a thermistor at a temperature in °C from its
// value at 25 °C and its beta in kelvin: R25·exp(β(1/T − 1/298.15)). It holds
// between the two temperatures for which beta is named.
func NTC(r25, beta, celsius float64) float64 {
	return r25 * math.Exp(beta*(1/(celsius+273.15)-1/298.15))
}
