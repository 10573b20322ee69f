package circuit

import "math"

// Coupler is the output of an optocoupler: a current from Collector to Emitter
// of Ratio times the LED's current times tanh(Vce/0.1 V).
type Coupler struct {
	Name               string
	Collector, Emitter Node
	LED                *Junction
	Ratio              float64
	Off                bool
}

// kneeVolts is how soft the saturation of an optocoupler's output is.
const kneeVolts = 0.1

func (c *Coupler) label() string { return c.Name }
func (c *Coupler) branches() int { return 0 }
func (c *Coupler) linear() bool  { return false }

func (c *Coupler) edges(add func(a, b Node)) {
	if !c.Off {
		add(c.Collector, c.Emitter)
	}
}

// drive gives the LED's current and its slope at the LED's linearisation point,
// none when the LED does not conduct.
func (c *Coupler) drive(v float64) (i, g float64) {
	if c.LED.Off || v <= 0 {
		return 0, 0
	}
	return c.LED.at(v)
}

func (c *Coupler) stamp(w *work, s *state) {
	if c.Off {
		return
	}
	i, g := c.drive(s.v[1])
	knee := math.Tanh(s.v[0] / kneeVolts)
	slope := (1 - knee*knee) / kneeVolts
	out, led := w.pair(c.Collector, c.Emitter), w.pair(c.LED.Anode, c.LED.Cathode)
	s.i[0], s.g[0], s.i[1], s.g[1] = c.Ratio*i*knee, c.Ratio*i*slope, i, g
	w.conduct(&out, &out, s.g[0]+w.gmin)
	w.conduct(&out, &led, c.Ratio*g*knee)
	w.current(&out, s.i[0]-s.g[0]*s.v[0]-c.Ratio*g*knee*s.v[1])
}

func (c *Coupler) follow(w *work, s *state) bool {
	if c.Off {
		return true
	}
	out := hold(w.volts(c.Collector, c.Emitter), s.v[0], 5*kneeVolts)
	led := c.LED.limit(w.volts(c.LED.Anode, c.LED.Cathode), s.v[1], s.i[1], s.g[1])
	settled := s.move(w, 0, out, s.g[0])
	return s.move(w, 1, led, c.Ratio*s.g[1]) && settled
}

// hold keeps a step that crosses the knee from overshooting it.
func hold(v, old, knee float64) float64 {
	switch {
	case old > knee && v < -knee:
		return -knee / 5
	case old < -knee && v > knee:
		return knee / 5
	case math.Abs(old) > knee && math.Abs(v) < knee:
		return math.Copysign(math.Max(math.Abs(v), knee/5), v)
	}
	return v
}

func (c *Coupler) reaches(_ *work, s *state, add func(a, b Node)) {
	if !c.Off && math.Abs(s.i[0]) >= conducting {
		add(c.Collector, c.Emitter)
	}
}

func (c *Coupler) bounds(func(a, b Node, most float64)) {}
