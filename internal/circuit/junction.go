package circuit

import "math"

// Constants of the junction law, chosen once for every board.
const (
	ThermalVolts = 0.02585 // kT/q at 300 K
	Ideality     = 1.8
	SeriesOhms   = 0.1  // in series with every junction
	TestAmps     = 1e-3 // the current at which forward, Zener and varistor volts are named
)

// Junction is a diode: Is·(exp(v/NVt) − 1) behind the series resistance Rs, and
// with a Breakdown also 1 mA·exp((−v − Breakdown)/ThermalVolts) the other way.
// The series resistance is solved inside the law, so the current never runs
// away and the circuit needs no node for it.
type Junction struct {
	Name           string
	Anode, Cathode Node
	Is             float64 // amperes
	NVt            float64 // volts
	Rs             float64 // ohms
	Breakdown      float64 // Zener volts at 1 mA; 0: none
	Off            bool
}

// Saturation gives the Is of a junction that drops forward volts at 1 mA, with
// the ideality and thermal volts of this package.
func Saturation(forward float64) float64 {
	return TestAmps / math.Expm1(forward/(Ideality*ThermalVolts))
}

// NewJunction makes a junction that drops forward volts at 1 mA.
func NewJunction(name string, anode, cathode Node, forward float64) *Junction {
	return &Junction{
		Name: name, Anode: anode, Cathode: cathode,
		Is: Saturation(forward), NVt: Ideality * ThermalVolts, Rs: SeriesOhms,
	}
}

// Forward gives the volts that the junction itself drops at 1 mA.
func (j *Junction) Forward() float64 { return j.NVt * math.Log1p(TestAmps/j.Is) }

func (j *Junction) label() string { return j.Name }
func (j *Junction) branches() int { return 0 }
func (j *Junction) linear() bool  { return false }

func (j *Junction) edges(add func(a, b Node)) {
	if !j.Off {
		add(j.Anode, j.Cathode)
	}
}

// at gives the current at v and its slope.
func (j *Junction) at(v float64) (i, g float64) {
	i, g = exponential(v+j.Rs*j.Is, j.Is, j.NVt, j.Rs) // the series resistance carries i − Is only
	i -= j.Is
	if j.Breakdown > 0 && -v > j.Breakdown/2 {
		ib, gb := exponential(-v-j.Breakdown, TestAmps, ThermalVolts, j.Rs)
		i -= ib
		g += gb
	}
	return i, g
}

// exponential solves i = is·exp((v − i·rs)/nvt) for the current and its slope.
// For the volts u of the bare junction, u + rs·is·exp(u/nvt) = v is convex and
// rising, so Newton from above its root falls onto it without overshoot.
func exponential(v, is, nvt, rs float64) (i, g float64) {
	if v < nothingFlows*nvt {
		return 0, 0
	}
	u := v
	i = is * math.Exp(u/nvt)
	if i*rs > nvt { // the series resistance takes most of the step
		u = min(v, nvt*math.Log(v/(rs*is)))
		i = is * math.Exp(u/nvt)
	}
	for range 30 {
		g = i / nvt
		f := u + rs*i - v
		if f < 1e-12*nvt {
			break
		}
		step := f / (1 + rs*g)
		u -= step
		if x := step / nvt; x < 1e-2 {
			i *= 1 - x*(1-x/2*(1-x/3*(1-x/4*(1-x/5*(1-x/6))))) // exp(−x) within a part in 1e17
		} else {
			i = is * math.Exp(u/nvt)
		}
	}
	return i, g / (1 + rs*g)
}

// nothingFlows is how many nvt backwards the exponential no longer counts beside
// the saturation current: exp(−45) is 3e-20.
const nothingFlows = -45

// limit holds back a step from the volts old to v, i and g being the law's
// current and slope at old: where the law curves up, to the volts at which the
// junction carries the current that the tangent at old foresaw (the usual
// junction limiting, with the law's own inverse).
func (j *Junction) limit(v, old, i, g float64) float64 {
	if from := max(old, 0); v > from {
		if old <= 0 {
			i, g = 0, j.Is/(j.NVt+j.Rs*j.Is)
		}
		i += g * (v - from)
		v = min(v, i*j.Rs+j.NVt*math.Log1p(i/j.Is))
		if old < 0 { // a tangent of the reverse side foresees little: look first where the law bends
			v = min(v, 3*j.NVt)
		}
		return v
	}
	if j.Breakdown == 0 {
		return v
	}
	if from := max(-old, j.Breakdown-5*ThermalVolts); -v > from {
		i, g := exponential(from-j.Breakdown, TestAmps, ThermalVolts, j.Rs)
		i += g * (-v - from)
		return -min(-v, j.Breakdown+i*j.Rs+ThermalVolts*math.Log(i/TestAmps))
	}
	return v
}

func (j *Junction) stamp(w *work, s *state) {
	if j.Off || j.Anode == j.Cathode {
		return
	}
	if at := [3]float64{s.v[0], j.Is, j.Breakdown}; s.at != at {
		s.at = at
		s.i[0], s.g[0] = j.at(s.v[0])
	}
	bent(w, s.across(w, j.Anode, j.Cathode), s.v[0], s.i[0], s.g[0])
}

// bent stamps the tangent of a law of two terminals at v.
func bent(w *work, p *pair, v, i, g float64) {
	w.conduct(p, p, g+w.gmin)
	w.current(p, i-g*v)
}

func (j *Junction) follow(w *work, s *state) bool {
	if j.Off {
		return true
	}
	lim := j.limit(s.across(w, j.Anode, j.Cathode).of(w.x), s.v[0], s.i[0], s.g[0])
	return s.move(w, 0, lim, s.g[0])
}

// move takes the k-th linearisation point to v, or only part of the way while the
// steps are damped, and reports whether it was there.
func (s *state) move(w *work, k int, v, g float64) bool {
	settled := near(v, s.v[k], g)
	s.v[k] += w.damp * (v - s.v[k])
	return settled
}

// near tells whether a step was small enough to be the last, across an element
// whose conductance is g: 10 nV and a part in 1e9, from which Newton's method
// lands within a part in 1e12, while an op-amp's gain may already stir up as much
// from rounding; or, where hardly anything flows and rounding moves a floating
// node, a current of 1e-16 A.
func near(a, b, g float64) bool {
	d, size := math.Abs(a-b), max(math.Abs(a), math.Abs(b))
	return d <= 1e-8+1e-9*size || (d <= 1e-6+1e-6*size && d*g <= 1e-16)
}

// conducting is the current in amperes from which a bent element counts as
// holding its two nodes to each other: well above what reverse junctions leak.
const conducting = 1e-7

func (j *Junction) reaches(_ *work, s *state, add func(a, b Node)) {
	if !j.Off && math.Abs(s.i[0]) >= conducting {
		add(j.Anode, j.Cathode)
	}
}

func (j *Junction) bounds(add func(a, b Node, most float64)) {
	if j.Off {
		return
	}
	add(j.Anode, j.Cathode, j.Forward())
	if j.Breakdown > 0 {
		add(j.Cathode, j.Anode, j.Breakdown)
	}
}

// Varistor carries 1 mA·(v/Volts)^30, the same both ways.
type Varistor struct {
	Name  string
	A, B  Node
	Volts float64
	Off   bool
}

// varistorPower is the steepness of a varistor.
const varistorPower = 30

func (r *Varistor) label() string { return r.Name }
func (r *Varistor) branches() int { return 0 }
func (r *Varistor) linear() bool  { return false }

func (r *Varistor) edges(add func(a, b Node)) {
	if !r.Off {
		add(r.A, r.B)
	}
}

func (r *Varistor) at(v float64) (i, g float64) {
	m := math.Abs(v) / r.Volts
	i = TestAmps * math.Pow(m, varistorPower)
	g = varistorPower * TestAmps * math.Pow(m, varistorPower-1) / r.Volts
	return math.Copysign(i, v), g
}

func (r *Varistor) stamp(w *work, s *state) {
	if r.Off || r.A == r.B {
		return
	}
	i, g := r.at(s.v[0])
	s.i[0], s.g[0] = i, g
	bent(w, s.across(w, r.A, r.B), s.v[0], i, g)
}

func (r *Varistor) follow(w *work, s *state) bool {
	if r.Off {
		return true
	}
	lim := r.limit(s.across(w, r.A, r.B).of(w.x), s.v[0])
	return s.move(w, 0, lim, s.g[0])
}

// limit is Junction.limit for this law.
func (r *Varistor) limit(v, old float64) float64 {
	from := r.Volts / 2
	if v*old > 0 {
		from = max(from, math.Abs(old))
	}
	if math.Abs(v) <= from {
		return v
	}
	i, g := r.at(from)
	i += g * (math.Abs(v) - from)
	most := r.Volts * math.Pow(i/TestAmps, 1.0/varistorPower)
	return math.Copysign(min(math.Abs(v), most), v)
}

func (r *Varistor) reaches(_ *work, s *state, add func(a, b Node)) {
	if !r.Off && math.Abs(s.i[0]) >= conducting {
		add(r.A, r.B)
	}
}

func (r *Varistor) bounds(add func(a, b Node, most float64)) {
	if !r.Off {
		add(r.A, r.B, r.Volts)
		add(r.B, r.A, r.Volts)
	}
}
