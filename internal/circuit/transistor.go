package circuit

import "math"

// Transistor is a bipolar transistor in Ebers–Moll transport form, NPN unless
// PNP is set, with forward gain Gain and reverse gain 1:
//
//	transport  Is·(exp(Vbe/NVt) − exp(Vbc/NVt))  from collector to emitter
//	base       Is/Gain·(exp(Vbe/NVt) − 1) to the emitter, Is·(exp(Vbc/NVt) − 1) to the collector
type Transistor struct {
	Name                     string
	Base, Collector, Emitter Node
	PNP                      bool
	Gain                     float64
	Is, NVt                  float64
	Off                      bool
}

// NewTransistor makes a transistor whose base–emitter junction drops forward
// volts at 1 mA with the collector open. In that case the collector carries
// nothing, which puts exp(Vbc/NVt) half-way between 1 and exp(Vbe/NVt), so the
// base current is Is·(1/Gain + 1/2)·(exp(Vbe/NVt) − 1).
func NewTransistor(name string, base, collector, emitter Node, gain, forward float64) *Transistor {
	return &Transistor{
		Name: name, Base: base, Collector: collector, Emitter: emitter, Gain: gain,
		Is: TransistorSaturation(forward, gain), NVt: Ideality * ThermalVolts,
	}
}

// TransistorSaturation gives the Is of NewTransistor.
func TransistorSaturation(forward, gain float64) float64 {
	return Saturation(forward) / (1/gain + 0.5)
}

func (t *Transistor) label() string { return t.Name }
func (t *Transistor) branches() int { return 0 }
func (t *Transistor) linear() bool  { return false }

func (t *Transistor) edges(add func(a, b Node)) {
	if !t.Off {
		add(t.Base, t.Emitter)
		add(t.Base, t.Collector)
	}
}

// pairs gives the differences in which the equations are those of an NPN.
func (t *Transistor) pairs(w *work) (be, bc, ce pair) {
	if t.PNP {
		return w.pair(t.Emitter, t.Base), w.pair(t.Collector, t.Base), w.pair(t.Emitter, t.Collector)
	}
	return w.pair(t.Base, t.Emitter), w.pair(t.Base, t.Collector), w.pair(t.Collector, t.Emitter)
}

func (t *Transistor) stamp(w *work, s *state) {
	if t.Off {
		return
	}
	be, bc, ce := t.pairs(w)
	for k := range 2 {
		s.i[k], s.g[k] = exponential(s.v[k], t.Is, t.NVt, 0)
		s.i[k] -= t.Is
	}
	bent(w, &be, s.v[0], s.i[0]/t.Gain, s.g[0]/t.Gain)
	bent(w, &bc, s.v[1], s.i[1], s.g[1])
	w.conduct(&ce, &be, s.g[0])
	w.conduct(&ce, &bc, -s.g[1])
	w.current(&ce, s.i[0]-s.g[0]*s.v[0]-(s.i[1]-s.g[1]*s.v[1]))
}

func (t *Transistor) follow(w *work, s *state) bool {
	if t.Off {
		return true
	}
	be, bc, _ := t.pairs(w)
	j := Junction{Is: t.Is, NVt: t.NVt}
	forward := s.move(w, 0, j.limit(be.of(w.x), s.v[0], s.i[0], s.g[0]), s.g[0])
	return s.move(w, 1, j.limit(bc.of(w.x), s.v[1], s.i[1], s.g[1]), s.g[1]) && forward
}

func (t *Transistor) reaches(_ *work, s *state, add func(a, b Node)) {
	if t.Off {
		return
	}
	if math.Abs(s.i[0])/t.Gain >= conducting {
		add(t.Base, t.Emitter)
	}
	if math.Abs(s.i[1]) >= conducting {
		add(t.Base, t.Collector)
	}
	if math.Abs(s.i[0]-s.i[1]) >= conducting {
		add(t.Collector, t.Emitter)
	}
}

func (t *Transistor) bounds(add func(a, b Node, most float64)) {
	if t.Off {
		return
	}
	forward := t.NVt * math.Log1p(TestAmps/(t.Is*(1/t.Gain+0.5)))
	for _, other := range []Node{t.Emitter, t.Collector} {
		if t.PNP {
			add(other, t.Base, forward)
		} else {
			add(t.Base, other, forward)
		}
	}
}
