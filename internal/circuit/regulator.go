package circuit

// Regulator is a powered linear regulator: Out stands at the lesser of Volts
// above Ground and Dropout below In. It only gives current, at most Limit, and
// takes from In what it gives; Ground carries none.
type Regulator struct {
	Name            string
	In, Out, Ground Node
	Volts           float64
	Dropout         float64
	Limit           float64 // amperes
	Off             bool
}

// Conditions of a regulator.
const (
	regulating int8 = iota
	dropping        // In − Dropout
	resting         // something else holds Out higher
	limiting
)

func (r *Regulator) label() string { return r.Name }
func (r *Regulator) branches() int { return 1 }
func (r *Regulator) linear() bool  { return false }

func (r *Regulator) edges(add func(a, b Node)) {
	if !r.Off {
		add(r.In, r.Out)
	}
}

// regulatorOhms stands in series with the output, so that two regulators, or a
// regulator and a source, on one rail share it instead of contradicting.
const regulatorOhms = 1e-6

func (r *Regulator) stamp(w *work, s *state) {
	k := s.branch
	if r.Off {
		w.lawCurrent(k, 1, 0)
		return
	}
	w.carry(w.pair(r.In, r.Out), k)
	switch s.mode {
	case regulating:
		w.law(k, w.pair(r.Out, r.Ground), 1)
		w.lawCurrent(k, regulatorOhms, r.Volts*w.scale)
	case dropping:
		w.law(k, w.pair(r.Out, r.In), 1)
		w.lawCurrent(k, regulatorOhms, -r.Dropout*w.scale)
	case resting:
		w.law(k, w.pair(r.In, r.Out), -w.gmin)
		w.lawCurrent(k, 1, 0)
	default:
		w.law(k, w.pair(r.In, r.Out), -limitSlope)
		w.lawCurrent(k, 1, r.Limit*w.scale)
	}
}

func (r *Regulator) follow(w *work, s *state) bool {
	if r.Off {
		return true
	}
	i := w.x[s.branch]
	out := w.volts(r.Out, r.Ground)
	could := w.volts(r.In, r.Ground) - r.Dropout*w.scale
	want := r.Volts * w.scale
	tight := 1e-9 * (want + 1)
	mode := s.mode
	switch mode {
	case regulating, dropping:
		switch {
		case i < 0:
			mode = resting
		case i > r.Limit*w.scale*(1+1e-9):
			mode = limiting
		case mode == regulating && could < want-tight:
			mode = dropping
		case mode == dropping && could > want+tight:
			mode = regulating
		}
	case resting:
		if out < min(want, could)-tight {
			mode = back(could, want)
		}
	case limiting:
		if out > min(want, could)+tight {
			mode = back(could, want)
		}
	}
	return shift(&s.mode, mode)
}

// back gives the working condition to which a regulator returns.
func back(could, want float64) int8 {
	if could < want {
		return dropping
	}
	return regulating
}

func (r *Regulator) reaches(_ *work, s *state, add func(a, b Node)) {
	if !r.Off && (s.mode == regulating || s.mode == dropping) {
		add(r.Out, r.Ground)
	}
}

func (r *Regulator) bounds(func(a, b Node, most float64)) {}
