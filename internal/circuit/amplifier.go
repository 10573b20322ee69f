package circuit

// Amplifier is a powered op-amp: its output wants to stand Gain·(Plus − Minus)
// above SupplyMinus, behind OutOhms, and saturates HeadroomHigh below
// SupplyPlus and HeadroomLow above SupplyMinus. Its inputs draw no current; what
// the output gives comes from SupplyPlus, what it takes goes to SupplyMinus.
type Amplifier struct {
	Name                      string
	Plus, Minus, Out          Node
	SupplyPlus, SupplyMinus   Node
	Gain                      float64
	OutOhms                   float64
	HeadroomHigh, HeadroomLow float64
	Stuck                     int // +1, −1: sits at its upper or lower limit whatever the inputs
	Off                       bool
}

func (a *Amplifier) label() string { return a.Name }
func (a *Amplifier) branches() int { return 1 }
func (a *Amplifier) linear() bool  { return false }

func (a *Amplifier) edges(add func(a, b Node)) {
	if !a.Off {
		add(a.Out, a.SupplyMinus)
		add(a.Out, a.SupplyPlus)
	}
}

// Sides of an amplifier's output current.
const (
	sinking int8 = iota
	sourcing
)

func (a *Amplifier) stamp(w *work, s *state) {
	k := s.branch
	if a.Off {
		w.lawCurrent(k, 1, 0)
		return
	}
	rail := a.SupplyMinus
	if s.side == sourcing {
		rail = a.SupplyPlus
	}
	w.carry(w.pair(rail, a.Out), k)
	mode := s.mode
	switch {
	case a.Stuck > 0:
		mode = levelTop
	case a.Stuck < 0:
		mode = levelBottom
	}
	switch mode {
	case levelTop:
		w.law(k, w.pair(a.Out, a.SupplyPlus), 1)
		w.lawCurrent(k, a.OutOhms, -a.HeadroomHigh*w.scale)
	case levelBottom:
		w.law(k, w.pair(a.Out, a.SupplyMinus), 1)
		w.lawCurrent(k, a.OutOhms, a.HeadroomLow*w.scale)
	default:
		w.law(k, w.pair(a.Out, a.SupplyMinus), 1)
		w.law(k, w.pair(a.Plus, a.Minus), -a.Gain)
		w.lawCurrent(k, a.OutOhms, 0)
	}
}

func (a *Amplifier) follow(w *work, s *state) bool {
	if a.Off {
		return true
	}
	settled := shift(&s.side, a.sideOf(s.side, w.x[s.branch]))
	if a.Stuck != 0 {
		return settled
	}
	top := w.volts(a.SupplyPlus, a.SupplyMinus) - a.HeadroomHigh*w.scale
	bottom := a.HeadroomLow * w.scale
	want := a.Gain * w.volts(a.Plus, a.Minus)
	return s.level(&s.mode, want, min(bottom, top), max(bottom, top)) && settled
}

// sideOf tells where the output's current comes from or goes to; without a
// current both sides are the same.
func (a *Amplifier) sideOf(now int8, amps float64) int8 {
	switch {
	case amps > 1e-12:
		return sourcing
	case amps < -1e-12:
		return sinking
	}
	return now
}

func (a *Amplifier) reaches(_ *work, _ *state, add func(a, b Node)) {
	if !a.Off {
		add(a.Out, a.SupplyMinus)
	}
}

func (a *Amplifier) bounds(func(a, b Node, most float64)) {}
