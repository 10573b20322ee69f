package circuit

import "math"

// Source is a supply: Volts behind Ohms, out of Plus through the circuit into
// Minus, giving and taking at most Limit amperes. Beyond the limit the current
// stays and the voltage moves. A current source is therefore a Source whose
// Limit is the current and whose Volts are the most it may reach.
//
// With Hold it is a regulated supply: it takes the voltage between 0 and Volts
// at which the held node stands at its value, or Volts if it cannot reach it.
type Source struct {
	Name        string
	Plus, Minus Node
	Volts       float64
	Ohms        float64
	Limit       float64 // amperes; 0 or infinite: none
	Hold        *Hold
	Off         bool

	// Alternating part, for Solver.Alternating: peak or rms as the caller
	// likes, the answer is in the same measure.
	AC    float64
	Hertz float64
}

// Hold is the node that a regulated supply keeps at a value.
type Hold struct {
	Node, Zero Node
	Volts      float64
}

// Conditions of a source: its current is free or at a limit (mode), its level
// is what it should be or, when it holds, at an end (side).
const (
	srcFree int8 = iota
	srcMost
	srcLeast
)

const (
	levelFree int8 = iota
	levelTop
	levelBottom
)

const (
	holdGain   = 1e7   // of a holding supply's loop: the held node is off by at most Volts/1e7
	limitSlope = 1e-12 // siemens: how far the current of a limited source still depends on its voltage
)

func (v *Source) label() string { return v.Name }
func (v *Source) branches() int { return 1 }
func (v *Source) linear() bool  { return false }

func (v *Source) edges(add func(a, b Node)) {
	if !v.Off {
		add(v.Plus, v.Minus)
	}
}

func (v *Source) unlimited() bool { return v.Limit == 0 || math.IsInf(v.Limit, 1) }

func (v *Source) stamp(w *work, s *state) {
	k := s.branch
	if v.Off || v.Plus == v.Minus {
		w.lawCurrent(k, 1, 0)
		return
	}
	out := w.pair(v.Minus, v.Plus) // the current leaves minus inside and enters plus
	w.carry(out, k)
	across := w.pair(v.Plus, v.Minus)
	most := v.Volts * w.scale
	switch s.mode {
	case srcMost:
		w.law(k, across, limitSlope)
		w.lawCurrent(k, 1, v.Limit*w.scale+limitSlope*most)
	case srcLeast:
		w.law(k, across, limitSlope)
		w.lawCurrent(k, 1, -v.Limit*w.scale+limitSlope*most)
	default:
		v.stampLevel(w, s, k, across, most)
	}
}

// stampLevel writes the law of a source within its limit.
func (v *Source) stampLevel(w *work, s *state, k int, across pair, most float64) {
	w.law(k, across, 1)
	switch {
	case v.Hold == nil || s.side == levelTop:
		w.lawCurrent(k, v.Ohms, most)
	case s.side == levelBottom:
		w.lawCurrent(k, v.Ohms, 0)
	default:
		w.law(k, w.pair(v.Hold.Node, v.Hold.Zero), holdGain)
		w.lawCurrent(k, v.Ohms, holdGain*v.Hold.Volts*w.scale)
	}
}

func (v *Source) follow(w *work, s *state) bool {
	if v.Off || v.Plus == v.Minus {
		return true
	}
	settled := true
	across, most := w.volts(v.Plus, v.Minus), v.Volts*w.scale
	if v.Hold != nil {
		want := holdGain * (v.Hold.Volts*w.scale - w.volts(v.Hold.Node, v.Hold.Zero))
		settled = s.level(&s.side, want, 0, most)
		if s.side == levelBottom {
			most = 0
		}
	}
	if v.unlimited() {
		return settled
	}
	i, limit, mode := w.x[s.branch], v.Limit*w.scale, s.mode
	switch {
	case mode == srcFree && i > limit*(1+1e-9):
		mode = srcMost
	case mode == srcFree && i < -limit*(1+1e-9):
		mode = srcLeast
	case mode == srcMost && across > most-v.Ohms*limit, mode == srcLeast && across < most+v.Ohms*limit:
		mode = srcFree
	}
	return shift(&s.mode, mode) && settled
}

// levelFlips is how often a level goes back and forth before it leaps, for as
// often again, from one end to the other.
const levelFlips = 4

// level moves the condition of a level that wants to be want between two ends,
// and reports whether it stayed. From one end it goes to the other through the
// middle, where most loops come to rest; one that feeds back on itself never
// rests there, and after a few vain trials leaps.
func (s *state) level(now *int8, want, bottom, top float64) bool {
	next := levelOf(*now, want, bottom, top, s.toggles/levelFlips%2 == 1)
	if next == *now {
		return true
	}
	s.toggles++
	*now = next
	return false
}

// levelOf gives the condition that agrees with what a level wants.
func levelOf(now int8, want, bottom, top float64, leap bool) int8 {
	switch {
	case want > top && (leap || now != levelBottom):
		return levelTop
	case want < bottom && (leap || now != levelTop):
		return levelBottom
	case now == levelTop && want <= top, now == levelBottom && want >= bottom:
		return levelFree
	}
	return now
}

// shift moves a condition and reports whether it stayed.
func shift(now *int8, next int8) bool {
	same := *now == next
	*now = next
	return same
}

func (v *Source) reaches(_ *work, s *state, add func(a, b Node)) {
	if !v.Off && s.mode == srcFree {
		add(v.Plus, v.Minus)
	}
}

func (v *Source) bounds(func(a, b Node, most float64)) {}
