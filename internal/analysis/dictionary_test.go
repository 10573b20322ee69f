package analysis

import (
	"math"
	"math/rand/v2"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// The shares of every fault's causes sum to 1 and their cells cover the sizes of
// the formats.
func TestCausesCoverTheirSizes(t *testing.T) {
	t.Parallel()
	d := NewModel(shipped(t, "sedge-d"), meter.Default()).dictionary()
	for _, f := range d.faults {
		sum, low, high := 0.0, math.Inf(1), 0.0
		for _, c := range d.causes[f.from:f.to] {
			sum += c.share
			if c.width > 0 && c.Mode != profile.ModeOpen {
				low, high = min(low, c.Size*math.Exp(-c.width/2)), max(high, c.Size*math.Exp(c.width/2))
			}
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%s %s: shares sum to %g", f.part.Ref, f.mode, sum)
		}
		want := map[profile.Mode][2]float64{
			profile.ModeHigh: {1.2, 100}, profile.ModeLow: {1.2, 20}, profile.ModeLeaky: {1e3, 100e3},
			profile.ModeTired: {1.3, 20}, profile.ModeWeak: {2, 50},
		}[f.mode]
		if want[0] > 0 && (low > want[0]*1.001 || high < want[1]*0.999) {
			t.Errorf("%s %s covers %g to %g, want %v", f.part.Ref, f.mode, low, high, want)
		}
	}
}

// What the dictionary says of a cause is what a board built with that defect
// shows; what it leaves out shows as the healthy board does.
func TestDictionaryAgainstBoards(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "hearth-2"), meter.Default())
	d := m.dictionary()
	entries := d.ensure(m.profile.Checks)
	rng := rand.New(rand.NewPCG(1, 2))
	tried, differs := 0, 0
	for range 400 {
		e := entries[rng.IntN(len(entries))]
		id := rng.IntN(len(d.causes))
		if k := rng.IntN(3); k > 0 && len(e.with) > 0 { // mostly where it matters
			for id = range d.causes {
				if _, ok := e.with[int32(id)]; ok && rng.IntN(20) == 0 {
					break
				}
			}
		}
		if e.err != nil || d.causes[id].joint {
			continue
		}
		b, err := m.newBench(e.check, nil, d.causes[id].Defect)
		if err != nil {
			continue
		}
		r, err := b.read()
		if err != nil {
			continue
		}
		tried++
		o := e.of(id)
		if _, ok := e.with[int32(id)]; ok {
			differs++
		}
		y, _ := onScale(e.check.Measure, r.Value)
		switch healthy := o == &e.healthy; {
		case healthy && e.healthy.over > 0: // over-range on some boards only
		case r.Over != (o.over >= 1):
			t.Errorf("%s with %+v: over-range %t, the dictionary says %g", e.check.ID, d.causes[id].Defect, r.Over, o.over)
		case !r.Over && math.Abs(y-o.y) > 0.02*o.half+1e-6*math.Abs(y):
			t.Errorf("%s with %+v: %g on the scale, the dictionary says %g (instrument ±%g)", e.check.ID, d.causes[id].Defect, y, o.y, o.half)
		}
	}
	if tried < 200 || differs < 50 {
		t.Errorf("only %d tried, %d of them moved by the cause", tried, differs)
	}
}

// The slopes of an outcome are the derivatives of the reading.
func TestOutcomeSlopes(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	d := m.dictionary()
	for _, e := range d.ensure(m.profile.Checks) {
		b, err := m.newBench(e.check, nil)
		if err != nil {
			t.Fatal(err)
		}
		r, err := b.read()
		if err != nil {
			t.Fatal(err)
		}
		o := d.onRange(b, r)
		const step = 0.02
		for i := range b.at {
			var y [2]float64
			for k, u := range []float64{-step, step} {
				xi := make([]float64, len(b.at))
				xi[i] = u
				b.set(xi)
				got, err := b.read()
				if err != nil {
					t.Fatal(err)
				}
				y[k], _ = onScale(e.check.Measure, got.Value)
			}
			b.set(nil)
			slope, known := (y[1]-y[0])/(2*step), 0.0
			for _, p := range o.pulls {
				if p.param == d.loadOf(b, i) {
					known = float64(p.slope)
				}
			}
			if math.Abs(slope-known) > 0.05*math.Abs(slope)+2*leastLoad*o.half {
				t.Errorf("%s by tolerance %d: %g, the outcome says %g", e.check.ID, i, slope, known)
			}
		}
	}
}

// Two causes at once are solved anew: in a chain the sum of what each does alone
// would be wrong.
func TestTogether(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	d := m.dictionary()
	c, _ := m.profile.Check("live-sense")
	e := d.ensure([]profile.Check{*c})[0]
	var places []place
	for _, ref := range []string{"R1", "R3"} {
		for id, c := range d.causes {
			if c.Part == ref && c.Mode == profile.ModeHigh && c.Size > 40 && len(places) < 2 && (len(places) == 0 || d.causes[places[0].cause].Part != ref) {
				places = append(places, place{cause: id, part: 1})
			}
		}
	}
	v := &view{d: d, worked: newWorked()}
	v.solver().solve([]*entry{e}, places)
	b, err := m.newBench(e.check, nil, d.defects(places)...)
	if err != nil {
		t.Fatal(err)
	}
	r, err := b.read()
	if err != nil {
		t.Fatal(err)
	}
	if got := v.foresee(e, places); math.Abs(got.y-r.Value) > 1e-6 {
		t.Errorf("%g V, want %g V", got.y, r.Value)
	}
}

// The scale of every measure rises, and comes back.
func TestScale(t *testing.T) {
	t.Parallel()
	for _, m := range []profile.Measure{profile.MeasureResistance, profile.MeasureDCVolts, profile.MeasureDiode, profile.MeasureCapacitance, profile.MeasureESR} {
		last := math.Inf(-1)
		for _, v := range []float64{0, 1e-9, 0.5, 3, 1e3, 5e7} {
			y, slope := onScale(m, v)
			if y < last || slope <= 0 {
				t.Errorf("%s: %g is at %g, slope %g", m, v, y, slope)
			}
			if back := offScale(m, y); math.Abs(back-v) > 1e-9*(1+v) {
				t.Errorf("%s: %g comes back as %g", m, v, back)
			}
			last = y
		}
	}
}

// Nothing that moves a reading is left out: every resistance of a board with
// shunts and fuses, taken away by hand, moves what the dictionary says it moves.
func TestNothingIsLeftOut(t *testing.T) {
	t.Parallel()
	m := sedgeF()
	d := m.dictionary()
	moves := 0
	for _, e := range d.ensure(m.profile.Checks) {
		if e.err != nil || e.check.Lifted || alternating(e.check.Measure) {
			continue
		}
		b := d.board(e)
		for _, f := range d.faults {
			if f.mode != profile.ModeOpen || !resistive(f.part) {
				continue
			}
			b.board.Resize(f.part.Ref, cleanBreak)
			r, err := b.read()
			b.board.Resize(f.part.Ref, 0)
			if err != nil {
				continue
			}
			o := e.of(f.from)
			if r.Over != (o.over > 0.5) {
				t.Errorf("%s with %s open: over-range is %v, in the dictionary %g", e.check.ID, f.part.Ref, r.Over, o.over)
				continue
			}
			if y, _ := onScale(e.check.Measure, r.Value); !r.Over && math.Abs(y-o.y) > 0.02*o.half+1e-6 {
				t.Errorf("%s with %s open: %g, in the dictionary %g", e.check.ID, f.part.Ref, y, o.y)
			}
			if o != &e.healthy {
				moves++
			}
		}
	}
	if moves < 250 {
		t.Errorf("only %d pairs of a check and a break that move", moves)
	}
}
