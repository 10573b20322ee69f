package analysis

import (
	"math"
	"runtime"
	"sync"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// dictionary is what every check shows with every cause, one at a time: a fault
// dictionary (simulation before test, in the words of Bandler and Salama, Proc.
// IEEE 73 (1985) 1279–1325), but with the way each reading follows the board's
// tolerances, so that nothing has to be told apart by nominal values alone.
//
// It is filled check by check, as they are asked for. Most causes do not move
// most checks; those are not kept, the healthy board's outcome stands for them.
type dictionary struct {
	model  *Model
	faults []faultOf
	causes []cause

	mu        sync.Mutex
	entries   map[string]*entry
	loads     map[loadKey]int32 // numbers of the board's tolerances
	combined  map[combination]*outcome
	besides   map[pairKey]map[int32]*outcome
	fine      map[finePlace]*outcome
	glanced   map[string]*entry // healthy outcomes only
	showing   *shows
	shownWith map[combination][]float64
}

// entry is one check.
type entry struct {
	check             profile.Check
	err               error // why nothing can be foreseen
	healthy           outcome
	with              map[int32]*outcome // by cause; absent: as healthy
	bentLow, bentHigh float64            // variance on the scale beyond the tangent's, below and above
	most              float64            // the greatest reading, on the scale
	ceiling           float64            // what the resistance across which it is taken reads by itself, on the scale; 0: no such part
	own               int32              // the number of that part's tolerance

	measured sync.Once
	aparts   []apart // see distances
}

// outcome is what a check shows on one board, on the scale of its measure.
type outcome struct {
	y     float64
	over  float64 // probability of over-range; 1: it is
	half  float64 // of the instrument's error
	pulls []pull  // how it follows the tolerances
	curve float64 // variance for how junctions bend it away from its tangent
	lost  bool    // the board could not be solved: anything may show

	floats *interval // between which volts it may stand; nil: it is known

	below, above float64 // how far it moves across its cell, by its neighbours there

	rng  int       // on which the ohmmeter reads it
	alts []outcome // as other ranges would read it, where junctions make them differ
}

// pull is the derivative of a reading by one tolerance, in units of its half
// width: the tolerance is uniform from −1 to 1.
type pull struct {
	param int32
	slope float32
}

// loadKey names a tolerance: whose it is, and which of that owner's. Sources are
// those of one state: bench supplies are set anew.
type loadKey struct {
	profile.Owner
	state string
	nth   int
}

// newDictionary lists the causes of a profile.
func newDictionary(m *Model) *dictionary {
	d := &dictionary{model: m, entries: map[string]*entry{}, glanced: map[string]*entry{}, loads: map[loadKey]int32{}, combined: map[combination]*outcome{}, besides: map[pairKey]map[int32]*outcome{}, fine: map[finePlace]*outcome{},
		shownWith: map[combination][]float64{}}
	d.faults, d.causes = listCauses(m.profile, m.profile.MostVolts())
	return d
}

// ensure fills the entries of checks and gives them in the same order.
func (d *dictionary) ensure(checks []profile.Check) []*entry {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := make([]*entry, len(checks))
	fresh := map[string][]*entry{} // by state; the lifted each by itself
	for i, c := range checks {
		key := cacheKey(c, nil)
		e, ok := d.entries[key]
		if !ok {
			e = &entry{check: c, with: map[int32]*outcome{}, ceiling: d.ceiling(c)}
			d.entries[key] = e
			group := c.State
			if c.Lifted {
				group = key
			}
			fresh[group] = append(fresh[group], e)
		}
		out[i] = e
	}
	for _, entries := range fresh {
		d.fill(entries)
	}
	return out
}

// ownLoad gives the number of the tolerance of the part across which a check is
// taken, −1 when there is none.
func (d *dictionary) ownLoad(c profile.Check) int32 {
	loadMu.Lock()
	defer loadMu.Unlock()
	if n, ok := d.loads[loadKey{Owner: profile.Owner{Part: c.Across}}]; ok && c.Across != "" {
		return n
	}
	return -1
}

// ceiling gives what the resistance across which a check is taken reads by itself,
// on the scale.
func (d *dictionary) ceiling(c profile.Check) float64 {
	p, ok := d.model.profile.Part(c.Across)
	if !ok || c.Measure != profile.MeasureResistance || !resistive(p) || p.Kind == profile.Thermistor {
		return 0
	}
	y, _ := onScale(c.Measure, p.Ohms())
	return y
}

// maxEntries bounds the dictionary beyond the profile's own checks.
const maxEntries = 3000

// fill works out entries that stand on the same board.
func (d *dictionary) fill(entries []*entry) {
	if len(d.entries) > maxEntries {
		clear(d.entries) // what is in use is held by its users
	}
	reach := make([][]bool, len(entries)) // whether a part can move an entry at all
	parallel(len(entries), func() func(int) {
		var b *bench
		return func(i int) {
			if b == nil {
				b = d.board(entries[i])
			}
			reach[i] = d.resistances(b, entries[i], -1)
		}
	})
	d.others(entries, reach)
	d.floats(entries)
	for _, e := range entries {
		e.own = d.ownLoad(e.check)
		d.bend(e)
		for id, o := range e.with {
			o.below, o.above = d.across(e, int(id))
		}
	}
}

// parallel calls a function for 0 to n−1 on all processors; make is called once
// on each.
func parallel(n int, make func() func(i int)) {
	work := newCounter(n)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			do := make()
			for i, ok := work.next(); ok; i, ok = work.next() {
				do(i)
			}
		})
	}
	wg.Wait()
}

// counter hands out 0 to n−1.
type counter struct {
	mu   sync.Mutex
	i, n int
}

func newCounter(n int) *counter { return &counter{n: n} }

func (c *counter) next() (int, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.i++
	return c.i - 1, c.i <= c.n
}

// board makes the healthy board of an entry, nil when it has no solution.
func (d *dictionary) board(e *entry) *bench {
	b, err := d.model.newBench(e.check, nil)
	if err != nil {
		e.err = err
		return nil
	}
	return b
}

// tinyVolts and tinyAmps are what stands across a part, and flows in a resistance,
// below which it cannot matter in a cold check: a part between two nodes that
// stand alike changes nothing, whatever its value. Across milliohms little stands
// that matters much.
const (
	tinyVolts = 1e-6
	tinyAmps  = 1e-9
)

// resistances solves one check on the healthy board and with every cause that is
// a resistance, and reports which parts can move it at all. One part is left as it
// is; −1: none.
func (d *dictionary) resistances(b *bench, e *entry, leave int) []bool {
	parts := d.model.profile.Parts
	reach := make([]bool, len(parts))
	if b == nil {
		return reach
	}
	b.probe(e.check)
	nominal, err := b.read()
	if err != nil {
		e.err = err
		return reach
	}
	e.most, _ = onScale(e.check.Measure, b.most())
	e.healthy = d.outcome(b, nominal)
	for i := range parts {
		reach[i] = i != leave && carries(b, &parts[i], e.check)
	}
	for f := 0; f < len(d.faults); {
		last := f
		for last < len(d.faults) && d.faults[last].index == d.faults[f].index {
			last++
		}
		if i := d.faults[f].index; resistive(&parts[i]) {
			if reach[i] {
				reach[i] = d.resistance(b, e, &parts[i], d.faults[f].from, d.faults[last-1].to, nominal)
			}
		}
		f = last
	}
	return reach
}

// carries tells whether volts stand across any two pins of a part in a cold
// check; in other states every part counts.
func carries(b *bench, p *profile.Part, c profile.Check) bool {
	if c.Lifted {
		return p.Ref == c.Across
	}
	if c.State != profile.Cold || alternating(c.Measure) {
		return true
	}
	s := b.board.Solver
	least := tinyVolts
	if ohms := p.Ohms(); ohms > 0 {
		least = min(least, tinyAmps*ohms)
	}
	for i, x := range p.Pins {
		for _, y := range p.Pins[:i] {
			n, m, ok := b.board.Nodes(x.Node, y.Node)
			if !ok || !s.Connected(n, m) || math.Abs(s.Volts(n, m)) > least {
				return true
			}
		}
	}
	return false
}

// resistance solves a check with every value of one part. Where neither a break
// nor a short moves it, nothing between does.
func (d *dictionary) resistance(b *bench, e *entry, p *profile.Part, from, to int, nominal meter.Reading) bool {
	defer b.board.Resize(p.Ref, 0)
	moves := false
	for _, ohms := range []float64{cleanBreak, 0.05} {
		b.board.Resize(p.Ref, ohms)
		r, err := b.read()
		moves = moves || err != nil || moved(r, nominal)
	}
	for id := from; moves && id < to; id++ {
		c := &d.causes[id]
		if c.joint {
			if !e.check.Lifted { // the same break, seen from elsewhere
				if same, ok := e.with[int32(d.twin(id))]; ok {
					e.with[int32(id)] = same
				}
			}
			continue
		}
		b.board.Resize(p.Ref, c.ohms)
		d.note(b, e, id, nominal)
	}
	return moves
}

// twin gives the cause of which a joint is the other half.
func (d *dictionary) twin(id int) int {
	f := &d.faults[d.causes[id].fault]
	return id - (f.to-f.from)/2
}

// moved tells whether a reading differs from another by anything that could
// matter.
func moved(r, from meter.Reading) bool {
	if r.Over || from.Over {
		return r.Over != from.Over
	}
	return math.Abs(r.Value-from.Value) > 0.01*from.Half
}

// note reads a check with one cause on the board and keeps what differs.
func (d *dictionary) note(b *bench, e *entry, id int, nominal meter.Reading) {
	r, err := b.read()
	switch {
	case err != nil:
		e.with[int32(id)] = &outcome{lost: true}
	case moved(r, nominal):
		o := d.outcome(b, r)
		e.with[int32(id)] = &o
	}
}

// outcome puts a reading and its slopes on the scale. A resistance through a
// junction reads otherwise on another range, and a board within tolerance may be
// read on that.
func (d *dictionary) outcome(b *bench, r meter.Reading) outcome {
	o := d.onRange(b, r)
	if b.check.Measure != profile.MeasureResistance || o.curve == 0 {
		return o
	}
	sd := math.Sqrt(o.curve + pulled(o.pulls))
	ranges := b.meter.Resistance.Ranges
	for _, i := range []int{r.Range - 1, r.Range + 1} {
		if i < 0 || i >= len(ranges) || i > r.Range && o.y+rangeReach*sd < logFull(b.meter, r.Range) {
			continue
		}
		got, err := b.meter.ReadResistanceAt(b.board.Solver, b.red, b.black, i)
		if err != nil || got.Over {
			continue
		}
		if alt := d.onRange(b, got); i > r.Range || alt.y-rangeReach*sd < logFull(b.meter, i) {
			o.alts = append(o.alts, alt)
		}
	}
	return o
}

// rangeReach is how many deviations from its end a range still counts.
const rangeReach = 4

// logFull gives the end of a range on the scale.
func logFull(m *meter.Meter, i int) float64 {
	y, _ := onScale(profile.MeasureResistance, m.Resistance.Ranges[i].FullScale)
	return y
}

// pulled gives the variance that tolerances give a reading.
func pulled(pulls []pull) float64 {
	sum := 0.0
	for _, p := range pulls {
		sum += float64(p.slope) * float64(p.slope)
	}
	return sum / 3
}

// onRange is outcome for the range on which a reading was taken.
func (d *dictionary) onRange(b *bench, r meter.Reading) outcome {
	if r.Over {
		return outcome{over: 1}
	}
	y, k := onScale(b.check.Measure, r.Value)
	o := outcome{y: y, half: k * r.Half, rng: r.Range}
	if b.check.Measure == profile.MeasureResistance && !b.apart && b.red != b.black {
		// The search for the range may have ended on another than the reading's.
		if _, err := b.meter.ReadResistanceAt(b.board.Solver, b.red, b.black, r.Range); err != nil {
			return o
		}
	}
	common := 0.0
	curved := shiftOf(b.check.Measure) > 0
	for i, s := range b.slopes() {
		s *= r.Slope * k
		if math.Abs(s) <= leastLoad*o.half {
			continue
		}
		n := d.loadOf(b, i)
		o.pulls = append(o.pulls, pull{n, float32(s)})
		if !d.junction(b.board.Owners, i) {
			continue
		}
		common += s
		if curved {
			o.curve += curveShare * curveShare * s * s
			o.pulls = append(o.pulls, pull{n + bends, float32(bendShare * s)})
		}
	}
	if math.Abs(common)*commonShare > leastLoad*o.half {
		o.pulls = append(o.pulls, pull{allJunctions, float32(common * commonShare)})
	}
	return o
}

// A board's junctions are of one make and at one temperature: beside its own
// tolerance each has a share of a common one. And a resistance read through a
// junction follows its volts along a curve that may be flat on one side of its
// tangent: the resistances that one junction moves go together, but only loosely
// with the volts that it drops, and each has some of its own.
const (
	commonShare  = 0.8
	bendShare    = 0.8
	curveShare   = 0.2
	bends        = int32(1 << 20) // numbers the bend of a tolerance
	allJunctions = int32(1 << 30)
)

// junction tells whether a tolerance is that of a junction's forward volts.
func (d *dictionary) junction(owners []profile.Owner, i int) bool {
	p, ok := d.model.profile.Part(owners[i].Part)
	if !ok {
		return false
	}
	second := i > 0 && owners[i-1] == owners[i]
	switch p.Kind {
	case profile.Diode, profile.LED, profile.Bridge, profile.InputPin, profile.IGBT:
		return true
	case profile.Zener, profile.NPN, profile.PNP, profile.NMOS, profile.PMOS, profile.Optocoupler:
		return second
	}
	return false
}

// leastLoad is the share of the instrument's error below which a tolerance is
// left out of a reading.
const leastLoad = 0.03

// loadMu guards the numbering of tolerances, which workers share.
var loadMu sync.Mutex

// loadOf gives the number of a board's tolerance.
func (d *dictionary) loadOf(b *bench, i int) int32 {
	owner := b.board.Owners[i]
	key := loadKey{Owner: owner}
	if owner.Source != "" {
		key.state = b.check.State
	}
	for k := range i {
		if b.board.Owners[k] == owner {
			key.nth++
		}
	}
	loadMu.Lock()
	defer loadMu.Unlock()
	n, ok := d.loads[key]
	if !ok {
		n = int32(len(d.loads))
		d.loads[key] = n
	}
	return n
}

// family is causes that one board serves: those of one mode, or of one diode.
type family struct {
	part     *profile.Part
	index    int
	from, to int
}

// families gives those of the parts that are not resistances.
func (d *dictionary) families() []family {
	var out []family
	for _, f := range d.faults {
		if resistive(f.part) {
			continue
		}
		for from := f.from; from < f.to; {
			to := from + 1
			for to < f.to && d.causes[from].Diode == d.causes[to].Diode && f.mode == profile.ModeLeaky {
				to++
			}
			out = append(out, family{f.part, f.index, from, to})
			from = to
		}
	}
	return out
}

// others solves entries with every cause that is not a resistance, on boards with
// given defects.
func (d *dictionary) others(entries []*entry, reach [][]bool, given ...profile.Defect) {
	all := d.families()
	found := make([]map[*entry]map[int32]*outcome, len(all))
	parallel(len(all), func() func(int) {
		return func(i int) { found[i] = d.other(all[i], entries, reach, given) }
	})
	for _, f := range found {
		for e, with := range f {
			for id, o := range with {
				e.with[id] = o
			}
		}
	}
}

// other solves entries with the causes of one family.
func (d *dictionary) other(f family, entries []*entry, reach [][]bool, given []profile.Defect) map[*entry]map[int32]*outcome {
	out := map[*entry]map[int32]*outcome{}
	var b *bench
	for i, e := range entries {
		if !reach[i][f.index] || e.err != nil {
			continue
		}
		scratch := &entry{check: e.check, with: map[int32]*outcome{}}
		if b == nil {
			var err error
			if b, err = d.model.newBench(e.check, nil, append(given[:len(given):len(given)], d.causes[f.from].Defect)...); err != nil {
				b = nil
				for id := f.from; id < f.to; id++ {
					scratch.with[int32(id)] = &outcome{lost: true}
				}
				out[e] = scratch.with
				continue
			}
		}
		b.probe(e.check)
		for id := f.from; id < f.to; id++ {
			if f.to-f.from > 1 {
				b.board.Resize(f.part.Ref, d.causes[id].Size)
			}
			d.compare(b, scratch, id, &e.healthy)
		}
		if len(scratch.with) > 0 {
			out[e] = scratch.with
		}
	}
	return out
}

// compare is note against an outcome.
func (d *dictionary) compare(b *bench, e *entry, id int, healthy *outcome) {
	r, err := b.read()
	if err != nil {
		e.with[int32(id)] = &outcome{lost: true}
		return
	}
	if y, _ := onScale(e.check.Measure, r.Value); r.Over == (healthy.over == 1) && (r.Over || math.Abs(y-healthy.y) <= 0.01*healthy.half) {
		return
	}
	o := d.outcome(b, r)
	e.with[int32(id)] = &o
}

// bend adds what a healthy reading that bends spreads beyond its tangent, found
// from the boards that its expectation drew. Such a spread is lopsided: each side
// gets the variance with which a normal one has the same guard quantile.
func (d *dictionary) bend(e *entry) {
	if e.err != nil {
		return
	}
	a := d.model.assess(e.check, nil)
	if a.err != nil || !a.bent {
		return
	}
	w, mean := 0.0, 0.0
	for _, x := range a.spread.boxes {
		y, _ := onScale(e.check.Measure, x.centre)
		w += x.weight
		mean += x.weight * y
	}
	e.healthy.over = a.spread.over
	if w < 1e-3 {
		return
	}
	if e.healthy.over >= 1 || a.nominal.Over { // a number only on some boards
		e.healthy.y = mean / w
	}
	own := e.healthy.half*e.healthy.half/3 + pulled(e.healthy.pulls)
	low, high := e.healthy.y, e.most
	if !a.guardLow.OverRange {
		low, _ = onScale(e.check.Measure, a.guardLow.Value)
	}
	if !a.guardHigh.OverRange {
		high, _ = onScale(e.check.Measure, a.guardHigh.Value)
	}
	beyond := func(reach float64) float64 { return max(0, reach*reach/(guardDeviations*guardDeviations)-own) }
	e.bentLow, e.bentHigh = beyond(e.healthy.y-low), beyond(high-e.healthy.y)
}

// guardDeviations is how far the guard quantiles of a normal spread lie out.
const guardDeviations = 3.29

// of gives what an entry shows with one cause.
func (e *entry) of(id int) *outcome {
	if o, ok := e.with[int32(id)]; ok {
		return o
	}
	return &e.healthy
}
