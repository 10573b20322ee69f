package analysis

import (
	"math"
	"slices"

	"ohmstead/internal/belief"
)

// place is a size of a fault: a cause, and where in its cell.
type place struct {
	cause int
	at    float64 // from −½ to ½ of the cell
	part  float64 // share of the cell for which it stands; 1: all of it
}

// view is one board as some readings see it: what each is foreseen to be and how
// they hang together.
type view struct {
	d        *dictionary
	evidence []evidence
	slipRate float64           // 0: slipRate
	worked   *worked           // what was worked out for them beyond the dictionary; nil: nothing
	widened  map[int32]float64 // by what the variance of a tolerance is greater than the profile says; nil: of none
	base     *scored           // the readings weighed with nothing wrong; nil: every hypothesis is weighed anew
}

// forecast is what one hypothesis foresees of one reading.
type forecast struct {
	outcome
	pulls    []pull  // of the tolerances, and along the curves of the causes
	variance float64 // of the reading by itself: instrument, typed digits, bend
	touched  bool    // a cause moves it
	limited  bool    // it stands below its ceiling
}

func (v *view) rate() float64 {
	if v.slipRate > 0 {
		return v.slipRate
	}
	return slipRate
}

// along numbers the sizes of the causes of a hypothesis among the tolerances.
func along(k int) int32 { return int32(-1 - k) }

// foresee gives what an entry shows with some causes; those whose part was
// fitted before are left out by the caller.
func (v *view) foresee(e *entry, places []place) forecast {
	d := v.d
	var f forecast
	var moving []int
	for k, p := range places {
		if _, ok := e.with[int32(p.cause)]; ok || p.at != 0 {
			moving = append(moving, k)
		}
	}
	paired := false
	switch {
	case len(moving) > 1 || len(places) > 1 && v.worked.paired(e):
		f.outcome, paired = v.together(e, places)
	case len(moving) == 1:
		f.outcome = v.between(e, places[moving[0]])
	default:
		f.outcome = e.healthy
	}
	f.touched = len(moving) > 0 || paired
	f.pulls = f.outcome.pulls
	f.variance = f.half*f.half/3 + f.curve + (e.bentLow+e.bentHigh)/2
	for _, k := range moving {
		if g := d.slope(e, places[k]); g != 0 {
			f.pulls = append(f.pulls[:len(f.pulls):len(f.pulls)], pull{along(k), float32(g / 2)})
		}
	}
	return f
}

// foresee is view.foresee with what the dictionary holds, and no more.
func (d *dictionary) foresee(e *entry, places []place) forecast {
	v := view{d: d}
	return v.foresee(e, places)
}

// slopes gives how far a reading moves across a cell.
func (d *dictionary) slopes(e *entry, id int) (low, high float64) {
	if o, ok := e.with[int32(id)]; ok {
		return o.below, o.above
	}
	return d.across(e, id)
}

// across works slopes out by the neighbours below and above in the same curve;
// where the curve ends, or is no number, by the other.
func (d *dictionary) across(e *entry, id int) (low, high float64) {
	o := e.of(id)
	if d.causes[id].width == 0 || !number(o) {
		return 0, 0
	}
	below, okBelow := d.toward(e, id, id-1)
	above, okAbove := d.toward(e, id, id+1)
	switch {
	case !okBelow:
		below = above
	case !okAbove:
		above = below
	}
	return below, above
}

// toward gives how far a reading moves across a cell when it moves as it does
// toward another cell; false when that is none of the same curve.
func (d *dictionary) toward(e *entry, id, to int) (float64, bool) {
	if to < 0 || to >= len(d.causes) {
		return 0, false
	}
	c, n := &d.causes[id], &d.causes[to]
	if n.fault != c.fault || n.width == 0 || n.joint != c.joint || n.Diode != c.Diode {
		return 0, false
	}
	o, other := e.of(id), e.of(to)
	if !number(other) {
		return 0, false
	}
	return (other.y - o.y) / math.Log(n.Size/c.Size) * c.width, true
}

// slope gives how far a reading moves from one end of a place's cell to the
// other.
func (d *dictionary) slope(e *entry, p place) float64 {
	low, high := d.slopes(e, p.cause)
	return p.part * ((low+high)/2 + p.at*(high-low))
}

// number tells whether an outcome is a number.
func number(o *outcome) bool { return o != nil && o.over < 0.5 && !o.lost && o.floats == nil }

// between gives the outcome at a place of a cell: as it was worked out, or by the
// parabola through the cell's own and its neighbours'.
func (v *view) between(e *entry, p place) outcome {
	if o := v.worked.finer(e, p); o != nil {
		return *o
	}
	d := v.d
	o := *e.of(p.cause)
	if p.at == 0 || !number(&o) {
		return o
	}
	low, high := d.slopes(e, p.cause)
	shift := p.at*(low+high)/2 + p.at*p.at*(high-low)/2
	o.y += shift
	if len(o.alts) > 0 {
		o.alts = append([]outcome(nil), o.alts...)
		for i := range o.alts {
			o.alts[i].y += shift
		}
	}
	return o
}

// scored is a hypothesis weighed against the readings.
type scored struct {
	logL   float64
	joint  belief.Score
	fits   []fitting // of each reading
	rows   []int     // which readings are numbers, in the order of joint
	shapes []forecast
}

// fitting is how well one reading agrees with a hypothesis.
type fitting struct {
	z    float64 // of a number, given the others: deviations off
	p    float64 // of a bound: its probability
	slip float64 // probability that it is a slip
	// bound or lost: not a number
	bound bool
	lost  bool
}

// ok tells whether a reading is explained.
func (f fitting) ok() bool {
	return !f.lost && f.slip < 0.5 && math.Abs(f.z) < 4 && (!f.bound || f.p > 1e-3)
}

// score weighs causes against all readings.
func (v *view) score(places []place) scored { return v.scoreBut(places, nil) }

// scoreBut is score without the readings of which ignored tells.
func (v *view) scoreBut(places []place, ignored func(ev *evidence) bool) scored {
	s := scored{fits: make([]fitting, len(v.evidence)), shapes: make([]forecast, len(v.evidence))}
	var active []place
	at := unsettled
	for i := range v.evidence {
		ev := &v.evidence[i]
		active = active[:0]
		for _, p := range places {
			if !ev.fitted[v.d.faults[v.d.causes[p.cause].fault].index] {
				active = append(active, p)
			}
		}
		f := v.foresee(ev.entry, active)
		if ev.shape == aNumber && len(f.alts) > 0 {
			s.logL += v.onRange(ev, &f)
		}
		if ev.shape == aNumber && f.floats != nil {
			s.logL += f.settle(ev.y, &at)
		}
		v.underCeiling(ev, &f, active)
		s.shapes[i] = f
		switch {
		case ignored != nil && ignored(ev):
			s.shapes[i].lost = true
		case ev.charge != 0:
			s.fits[i] = fitting{bound: true, p: 1}
			s.logL += v.d.charged(ev, &f, &s.fits[i])
		case f.lost:
			s.fits[i] = fitting{lost: true}
			s.logL += ev.logSlip
		case ev.shape == aNumber && f.over > 1-1e-9:
			s.fits[i] = fitting{slip: 1, z: -9}
			s.logL += math.Log(v.rate()) + ev.logSlip + offLimits
		case ev.shape == aNumber:
			s.rows = append(s.rows, i)
			s.logL += math.Log1p(-f.over)
		}
	}
	v.numbers(&s)
	v.bounds(&s)
	return s
}

// underCeiling keeps a forecast below what physics allows: between the ends of a
// resistance nothing beside it can raise the reading above its own value
// (Rayleigh). Where a reading lies above what is foreseen, the tolerances of the
// rest count no more than would lift it to there.
func (v *view) underCeiling(ev *evidence, f *forecast, places []place) {
	if ev.ceiling == 0 || ev.shape != aNumber || f.over > 0.5 || f.lost || ev.y <= f.y {
		return
	}
	for _, p := range places {
		if v.d.causes[p.cause].Part == ev.check.Across {
			return
		}
	}
	instrument := f.half * f.half / 3
	others := f.variance - instrument
	for _, p := range f.pulls {
		if p.param != ev.own {
			others += float64(p.slope) * float64(p.slope) / 3
		}
	}
	k := max(ev.ceiling-f.y, leastCeiling) / (ceilingDeviations * math.Sqrt(others))
	if k >= 1 {
		return
	}
	pulls := make([]pull, len(f.pulls))
	for i, p := range f.pulls {
		if pulls[i] = p; p.param != ev.own {
			pulls[i].slope *= float32(k)
		}
	}
	f.pulls = pulls
	f.variance = instrument + k*k*(f.variance-instrument)
	f.limited = true
}

// ceilingDeviations is how many deviations of everything but the part itself
// reach up to the ceiling.
const ceilingDeviations = 2.5

// leastCeiling is the least that the rest may still raise a reading, on the scale.
const leastCeiling = 1e-3

// onRange turns a forecast into that for the range on which a reading was taken,
// and gives ln of the probability that the meter would choose it.
func (v *view) onRange(ev *evidence, f *forecast) float64 {
	if ev.rng == f.rng {
		return 0
	}
	for _, alt := range f.alts {
		if alt.rng != ev.rng {
			continue
		}
		sd := math.Sqrt(v.covariance(f, f) + f.variance)
		p := belief.Normal((f.y - logFull(v.d.model.meter, f.rng)) / sd)
		if alt.rng < f.rng {
			p = belief.Normal((logFull(v.d.model.meter, alt.rng) - alt.y) / sd)
		}
		sized := f.pulls[len(f.outcome.pulls):]
		f.variance += alt.half*alt.half/3 + alt.curve - f.half*f.half/3 - f.curve
		f.outcome = alt
		f.pulls = append(alt.pulls[:len(alt.pulls):len(alt.pulls)], sized...)
		return math.Log(max(p, 1e-6))
	}
	return 0
}

// offLimits is the further penalty, in nats, for a number where a hypothesis
// leaves no room for one at all.
const offLimits = -2

// numbers weighs the readings that are numbers, together. What does not differ
// from the base is not worked out again.
func (v *view) numbers(s *scored) {
	n := len(s.rows)
	m := belief.Numbers{
		Residual: make([]float64, n), Cov: make([]float64, n*n),
		LogStep: make([]float64, n), LogSlip: make([]float64, n), SlipRate: v.rate(),
	}
	same, differ := v.sameAsBase(s)
	for a, i := range s.rows {
		ev, f := &v.evidence[i], &s.shapes[i]
		m.Residual[a] = ev.y - f.y
		m.LogStep[a], m.LogSlip[a] = ev.logStep, ev.logSlip
		for b := range a + 1 {
			if same != nil && same[a] >= 0 && same[b] >= 0 {
				continue
			}
			c := v.covariance(f, &s.shapes[s.rows[b]])
			if a == b {
				c += f.variance + ev.lopsided(m.Residual[a], f.limited) + ev.coarse*ev.coarse/3 + stepVariance(ev)
			}
			m.Cov[a*n+b], m.Cov[b*n+a] = c, c
		}
	}
	var joint belief.Score
	var ok bool
	switch {
	case same == nil:
		joint, ok = m.Score()
	case differ == 0:
		joint, ok = v.base.joint, true
	default:
		joint, ok = v.base.joint.Revise(&m, same)
	}
	if !ok {
		s.logL = math.Inf(-1)
		return
	}
	s.joint = joint
	s.logL += joint.LogLikelihood
	for a, i := range s.rows {
		s.fits[i] = fitting{z: joint.Left[a], slip: joint.Slip[a]}
	}
}

// sameAsBase gives for every number where it stands in the base, −1 when the
// hypothesis moves it, and how many rows differ in either; nil when there is no
// base, or so much differs that working anew is as quick.
func (v *view) sameAsBase(s *scored) (same []int, differ int) {
	if v.base == nil {
		return nil, 0
	}
	same = make([]int, len(s.rows))
	stay := 0
	for a, i := range s.rows {
		b := slices.Index(v.base.rows, i)
		f := &s.shapes[i]
		if b < 0 || f.touched || f.limited != v.base.shapes[i].limited {
			same[a] = -1
			continue
		}
		same[a] = b
		stay++
	}
	differ = max(len(s.rows), len(v.base.rows)) - stay
	if 2*differ > len(s.rows) {
		return nil, 0
	}
	return same, differ
}

// lopsided gives what the variance of a reading differs from the mean of both
// sides, when it lies so far from what is foreseen.
func (e *entry) lopsided(residual float64, limited bool) float64 {
	if limited {
		return 0
	}
	if residual < 0 {
		return (e.bentLow - e.bentHigh) / 2
	}
	return (e.bentHigh - e.bentLow) / 2
}

// stepVariance is that of rounding to the display's resolution.
func stepVariance(ev *evidence) float64 {
	step := math.Exp(ev.logStep)
	return step * step / 12
}

// covariance gives the common variance of two forecasts: every tolerance is
// uniform over ±1, of variance ⅓.
func (v *view) covariance(f, g *forecast) float64 {
	if len(f.pulls) == 0 || len(g.pulls) == 0 {
		return 0
	}
	sum := 0.0
	for _, x := range f.pulls {
		for _, y := range g.pulls {
			if x.param == y.param {
				product := float64(x.slope) * float64(y.slope)
				if by, ok := v.widened[x.param]; ok {
					product *= by
				}
				sum += product
				break
			}
		}
	}
	return sum / 3
}

// bounds weighs the readings that are on one side of a number, each given the
// numbers (a one-dimensional integral of the conditional normal).
func (v *view) bounds(s *scored) {
	var clean *scored
	for i := range v.evidence {
		ev, f := &v.evidence[i], &s.shapes[i]
		if ev.shape == aNumber || ev.charge != 0 || f.lost {
			continue
		}
		if clean == nil {
			clean = v.withoutSlips(s)
		}
		mean, variance := 0.0, 1.0
		if f.over < 1 {
			mean, variance = v.given(clean, f)
		}
		p := v.beyond(ev, f, mean, math.Sqrt(variance))
		slip := v.rate() * math.Exp(ev.logSlip)
		s.fits[i] = fitting{bound: true, p: p, slip: slip / (slip + (1-v.rate())*p + 1e-300)}
		s.logL += math.Log((1-v.rate())*p + slip)
	}
}

// beyond gives the probability that a reading stands on the side that was seen.
func (v *view) beyond(ev *evidence, f *forecast, mean, sd float64) float64 {
	above := f.over + (1-f.over)*belief.Normal((mean-ev.y)/sd)
	if ev.shape == atMost {
		return 1 - above
	}
	return above
}

// given gives mean and variance of a forecast given the numbers read.
func (v *view) given(s *scored, f *forecast) (mean, variance float64) {
	cross := make([]float64, len(s.rows))
	for a, i := range s.rows {
		cross[a] = v.covariance(f, &s.shapes[i])
	}
	own := v.covariance(f, f) + f.variance
	shift, left := s.joint.Foresee(cross, own)
	return f.y + shift, max(left, 1e-18)
}

// withoutSlips gives the numbers without those that are slips, when there are any:
// they say nothing about the board.
func (v *view) withoutSlips(s *scored) *scored {
	out := scored{fits: make([]fitting, len(v.evidence)), shapes: s.shapes}
	var stood []int
	for a, i := range s.rows {
		if s.fits[i].slip < 0.5 {
			out.rows, stood = append(out.rows, i), append(stood, a)
		}
	}
	if len(out.rows) == len(s.rows) {
		return s
	}
	var ok bool
	if out.joint, ok = s.joint.Without(stood); !ok {
		return s
	}
	for a, i := range out.rows {
		out.fits[i] = fitting{z: out.joint.Left[a]}
	}
	return &out
}

// charged weighs a resistance reading between points where volts had been found:
// the meter shows resistance and hidden voltage together, V = (Vo·R + Vh·Rref)/(R +
// Rref) between the probes. The volts may have sunk since, and the resistance
// through which they stand is not quite that of the empty board, so it is weak
// evidence: only what no such pair could show counts against a hypothesis.
func (d *dictionary) charged(ev *evidence, f *forecast, fit *fitting) float64 {
	const sinks, spread = 5, 0.7 // tried shares of the volts; nats of R
	ranges := d.model.meter.Resistance.Ranges
	open := d.model.meter.Resistance.OpenCircuit
	p := 0.0
	for k := range sinks {
		volts := ev.charge * (1 - 0.1*float64(k))
		for r := range 5 {
			y := f.y + spread*(float64(r)-2)
			ohms := offScale(ev.check.Measure, y)
			if f.over >= 1 {
				ohms = cleanBreak
			}
			shown := math.Inf(1)
			for _, g := range ranges {
				v := (open*ohms + volts*g.Reference) / (ohms + g.Reference)
				if v < open*(1-1e-9) {
					if at := g.Reference * max(v, 0) / (open - max(v, 0)); at <= g.FullScale {
						shown = at
						break
					}
				}
			}
			weight := math.Exp(-0.5*(float64(r)-2)*(float64(r)-2)) / 2.42 / sinks
			switch {
			case math.IsInf(shown, 1) || ev.over:
				if math.IsInf(shown, 1) && ev.over {
					p += weight
				}
			default:
				s, _ := onScale(ev.check.Measure, shown)
				z := (s - ev.y) / spread
				p += weight * math.Exp(-z*z/2)
			}
		}
	}
	fit.p = max(p, 1e-2)
	return math.Log(0.1 + 0.9*min(p, 1))
}
