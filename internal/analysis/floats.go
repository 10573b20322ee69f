package analysis

import (
	"math"

	"ohmstead/internal/profile"
)

// A break may leave an input of an op-amp, a comparator or a transistor's gate with
// nothing that holds it. What is driven by it may then stand anywhere between two
// ends, and in practice mostly at one of them (common practice, no source: such an
// input drifts to a rail). The meter does not hold it either, unless it is at that
// input itself.

// interval is between which volts a reading may stand.
type interval struct{ low, high float64 }

// atAnEnd is the probability that what floats stands at a certain end. An end is
// known to endVolts, and as well as the supplies are (all choices).
const (
	atAnEnd   = 0.4
	endVolts  = 0.002
	endSupply = 0.01
)

// floats notes for the DC volts of a powered state what clean breaks leave afloat.
func (d *dictionary) floats(entries []*entry) {
	if len(entries) == 0 || entries[0].check.State == profile.Cold {
		return
	}
	breaks, anyway := d.breaks(), d.afloat(nil, entries)
	found := make([][]*interval, len(breaks)) // by break, then by entry
	parallel(len(breaks), func() func(int) {
		return func(i int) { found[i] = d.afloat([]profile.Defect{d.causes[breaks[i]].Defect}, entries) }
	})
	for i, id := range breaks {
		for k, s := range found[i] {
			if s != nil && anyway != nil && anyway[k] == nil {
				d.leaveAfloat(entries[k], id, s)
			}
		}
	}
}

// leaveAfloat notes that a check may stand anywhere in an interval with a break, in
// the part or in its joint.
func (d *dictionary) leaveAfloat(e *entry, id int, s *interval) {
	o := *e.of(id)
	o.floats, o.y, o.curve = s, (s.low+s.high)/2, (s.high-s.low)*(s.high-s.low)/12
	o.over, o.lost, o.pulls, o.alts = 0, false, nil, nil
	e.with[int32(id)] = &o
	for joint := id; joint < d.faults[d.causes[id].fault].to; joint++ {
		if d.causes[joint].joint && d.twin(joint) == id {
			same := o
			e.with[int32(joint)] = &same
		}
	}
}

// breaks lists the causes that take every path of a part away.
func (d *dictionary) breaks() []int {
	var out []int
	for id := range d.causes {
		c := &d.causes[id]
		if !c.joint && (c.Mode == profile.ModeOpen && math.IsInf(c.Size, 1) || c.Mode == profile.ModeDead) {
			out = append(out, id)
		}
	}
	return out
}

// afloat gives for each entry of one state between which volts it may stand with
// defects, nil where that is known; nil when no board can be solved.
func (d *dictionary) afloat(defects []profile.Defect, entries []*entry) []*interval {
	b, err := d.model.profile.Board(entries[0].check.State, defects...)
	if err != nil {
		return nil
	}
	levels, err := b.Solver.Levels()
	if err != nil {
		return nil
	}
	held := b.Solver.Held()
	out := make([]*interval, len(entries))
	for k, e := range entries {
		red, black, ok := b.Nodes(e.check.RedNode, e.check.BlackNode)
		if !ok || e.check.Measure != profile.MeasureDCVolts || !held[red] || !held[black] {
			continue // the meter itself holds what nothing else does
		}
		r, z := levels[red], levels[black]
		if r.Floating || z.Floating {
			out[k] = &interval{r.Low - z.High, r.High - z.Low}
		}
	}
	return out
}

// end is where what floats stands.
type end int

const (
	unsettled end = iota
	lowEnd
	highEnd
	between
)

// settle turns a forecast that may stand between two ends into that for where a
// reading shows it stands, and gives ln of the probability of standing there; 0 where
// the reading before showed the same: what floats on one board does not wander.
func (f *forecast) settle(y float64, before *end) float64 {
	at, log := between, math.Log(1-2*atAnEnd)
	for i, volts := range []float64{f.floats.low, f.floats.high} {
		off := endVolts + endSupply*math.Abs(volts)
		narrow := f.variance - f.curve + off*off
		if math.Abs(y-volts) < 4*math.Sqrt(narrow) {
			f.y, f.variance, f.curve = volts, narrow, 0
			at, log = lowEnd+end(i), math.Log(atAnEnd)
			break
		}
	}
	if at == *before {
		return 0
	}
	*before = at
	return log
}
