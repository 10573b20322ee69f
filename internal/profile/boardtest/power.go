package boardtest

import (
	"math"
	"slices"
	"strings"

	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/profile"
)

// across gives the simulator's expression for the volts between two nodes of the
// board.
func (d *drawing) across(a, b string) string { return spicetest.Across(d.node(a), d.node(b)) }

// see watches what the condition of a part hinges on.
func (d *drawing) see(part string, judge func(v []float64) string, expressions ...string) {
	d.watches = append(d.watches, watch{part: part, judge: judge, see: expressions})
}

// supplyOhms is the load under which a chip's supply must stand to count: one
// that gives less than 0.1 µA at 2 V floats.
const supplyOhms = 20e6

// chip draws an op-amp, a comparator or a regulator: nothing while it sleeps. In
// a powered state it wakes once its supply stands at 2 V.
func (d *drawing) chip(p *profile.Part) {
	supply, ground := "supply_plus", "supply_minus"
	if p.Kind == profile.Regulator {
		supply, ground = "in", "ground"
	}
	upper, lower := d.pin(p, supply), d.pin(p, ground)
	switch {
	case d.has(p, profile.ModeDead), d.state.ID == profile.Cold, d.lifted != "":
	case !d.awake[p.Ref]:
		d.watches = append(d.watches, watch{part: p.Ref, wakes: true, see: []string{spicetest.Across(upper, lower)}, judge: func(v []float64) string {
			if v[0] >= 2 {
				return "awake"
			}
			return ""
		}})
		d.deck.Resistor(upper, lower, supplyOhms)
	case p.Kind == profile.Regulator:
		d.regulator(p)
	case p.Kind == profile.Opamp:
		d.opamp(p, upper, lower)
	default:
		d.comparator(p, lower)
	}
}

// opamp: within its limits, or at one of them. The simulator does not find its way
// through the corners when one op-amp drives another.
func (d *drawing) opamp(p *profile.Part, upper, lower string) {
	plus, minus, out := d.pin(p, "plus"), d.pin(p, "minus"), d.pin(p, "out")
	high, low := p.Param("headroom_high"), p.Param("headroom_low")
	mode := d.mode[p.Ref]
	switch {
	case d.has(p, profile.ModeStuckHigh):
		mode = "stuck high"
	case d.has(p, profile.ModeStuckLow):
		mode = "stuck low"
	default:
		d.see(p.Ref, func(v []float64) string {
			switch want := 1e5 * v[0]; { // from one limit to the other through the middle
			case want > v[1]-high && mode != "low":
				return "high"
			case want < low && mode != "high":
				return "low"
			}
			return ""
		}, spicetest.Across(plus, minus), spicetest.Across(upper, lower))
	}
	if mode == "" {
		d.deck.Working(plus, minus, out, upper, lower)
	} else {
		d.deck.Stuck(out, upper, lower, high, low, strings.HasSuffix(mode, "high"))
	}
}

// comparator: stuck high its output is released, stuck low it always pulls.
func (d *drawing) comparator(p *profile.Part, lower string) {
	out, plus, minus := d.pin(p, "out"), d.pin(p, "plus"), d.pin(p, "minus")
	threshold := 0.0
	switch {
	case d.has(p, profile.ModeStuckHigh):
		return
	case d.has(p, profile.ModeStuckLow):
		plus, minus, threshold = lower, lower, -1
	}
	d.deck.OneWay(out, lower, minus, plus, threshold, 0.1, 10)
}

// regulator: the lesser of its volts and what its input leaves; it only gives,
// and 1 A at most.
func (d *drawing) regulator(p *profile.Part) {
	in, out, ground := d.pin(p, "in"), d.pin(p, "out"), d.pin(p, "ground")
	volts, dropout := p.Param("volts"), p.Param("dropout")
	if by, ok := d.fails(p, profile.ModeHigh); ok { // up to in − 0.5 V
		volts, dropout = volts*by, math.Min(dropout, 0.5)
	}
	if by, ok := d.fails(p, profile.ModeLow); ok {
		volts /= by
	}
	above, from := spicetest.Across(out, ground), spicetest.Across(in, ground)
	stands := func(v []float64) bool { return v[0] >= math.Min(volts, v[1]-dropout)-1e-6 }
	switch d.mode[p.Ref] {
	case "":
		amps := d.deck.Regulator(in, out, ground, volts, dropout)
		d.see(p.Ref, func(v []float64) string {
			switch {
			case v[0] < -1e-9:
				return "rests"
			case v[0] > 1+1e-9:
				return "limits"
			}
			return ""
		}, amps)
	case "rests":
		d.deck.Join(in, out)
		d.see(p.Ref, func(v []float64) string {
			if stands(v) {
				return "rests"
			}
			return ""
		}, above, from)
	default:
		d.deck.Law(in, out, "1")
		d.see(p.Ref, func(v []float64) string {
			if stands(v) {
				return ""
			}
			return "limits"
		}, above, from)
	}
}

// fed tells whether a load at a node is powered: a source's plus or a working
// regulator's output is there.
func (d *drawing) fed(node string) bool {
	if d.state.ID == profile.Cold || d.lifted != "" {
		return false
	}
	for _, s := range d.state.Sources {
		if s.Plus == node {
			return true
		}
	}
	for i := range d.p.Parts {
		if p := &d.p.Parts[i]; p.Kind == profile.Regulator && d.awake[p.Ref] && p.Pin("out") == node {
			return true
		}
	}
	return false
}

// source draws a supply of the state: its volts or, beyond its limit, its limit.
func (d *drawing) source(s profile.Source) {
	plus, minus := d.node(s.Plus), d.node(s.Minus)
	key := "source " + s.Name
	switch s.Kind {
	case profile.VoltsSource:
		d.limited(key, plus, minus, s.Volts, s.Limit)
	case profile.ACSource:
		d.mains[d.deck.Mains(plus, minus, s.VoltsAC, 0.1)] = mains{s.VoltsAC, s.Frequency}
	case profile.AmpsSource:
		d.limited(key, plus, minus, s.AtMost, s.Amps)
	case profile.HoldsSource:
		d.holding(key, plus, minus, s)
	}
}

// mains is what an alternating supply gives.
type mains struct{ rms, hertz float64 }

// frequencies lists those of the alternating supplies, in order.
func (d *drawing) frequencies() []float64 {
	var all []float64
	for _, m := range d.mains {
		all = append(all, m.hertz)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// choose gives the condition yes where a value passes, otherwise no.
func choose(passes func(v float64) bool, yes, no string) func(v []float64) string {
	return func(v []float64) string {
		if passes(v[0]) {
			return yes
		}
		return no
	}
}

// limited draws a supply that gives and takes so many amperes at most: a source of
// current is one whose limit is that current.
func (d *drawing) limited(key, plus, minus string, volts, limit float64) {
	at := spicetest.Across(plus, minus)
	back := func(v float64) bool { return v > volts }
	switch d.mode[key] {
	case "gives":
		d.deck.Amps(plus, minus, limit)
		d.see(key, choose(back, "", "gives"), at)
	case "takes":
		d.deck.Amps(minus, plus, limit)
		d.see(key, choose(back, "takes", ""), at)
	default:
		name := d.deck.Volts(plus, minus, volts, 0)
		d.see(key, func(v []float64) string {
			switch {
			case -v[0] > limit*(1+1e-6):
				return "gives"
			case -v[0] < -limit*(1+1e-6):
				return "takes"
			}
			return ""
		}, "i("+name+")")
	}
}

// holding draws a supply that holds a node, or stands at one of its ends, 0 V and
// at_most.
func (d *drawing) holding(key, plus, minus string, s profile.Source) {
	node, at := spicetest.Across(d.node(s.Holds.Node), d.node(s.Holds.To)), spicetest.Across(plus, minus)
	switch d.mode[key] {
	case "full":
		name := d.deck.Volts(plus, minus, s.AtMost, 0)
		d.see(key, func(v []float64) string {
			switch {
			case -v[1] > s.Limit:
				return "gives"
			case v[0] > s.Holds.Volts:
				return ""
			}
			return "full"
		}, node, "i("+name+")")
	case "empty":
		d.deck.Volts(plus, minus, 0, 0)
		d.see(key, choose(func(v float64) bool { return v > s.Holds.Volts }, "empty", ""), node)
	case "gives":
		d.deck.Amps(plus, minus, s.Limit)
		d.see(key, func(v []float64) string {
			switch {
			case v[1] > s.AtMost:
				return "full"
			case v[0] > s.Holds.Volts:
				return ""
			}
			return "gives"
		}, node, at)
	default:
		name := d.deck.Holding(plus, minus, d.node(s.Holds.Node), d.node(s.Holds.To), s.Holds.Volts)
		d.see(key, func(v []float64) string {
			switch {
			case v[0] > s.AtMost:
				return "full"
			case v[0] < 0:
				return "empty"
			case -v[1] > s.Limit:
				return "gives"
			}
			return ""
		}, at, "i("+name+")")
	}
}

// next changes the conditions that an answer contradicts, of supplies first and
// then of what sleeps, and reports whether there were any. On a board with a
// meter nothing wakes any more.
func (d *drawing) next(a spicetest.Answer) bool {
	changed := false
	for _, wakes := range []bool{false, true} {
		if wakes && (changed || d.metered) {
			break
		}
		for _, w := range d.watches {
			if w.wakes != wakes {
				continue
			}
			v := make([]float64, len(w.see))
			for i, e := range w.see {
				v[i] = real(a[e])
			}
			switch now := w.judge(v); {
			case wakes && now != "":
				d.awake[w.part], changed = true, true
			case !wakes && now != d.mode[w.part]:
				d.mode[w.part], changed = now, true
			}
		}
	}
	return changed
}
