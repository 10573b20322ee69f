package analysis

import (
	"math"

	"ohmstead/internal/meter"
)

// The quantiles of what a healthy board displays.
const (
	lowQuantile       = 0.005 // of the band
	highQuantile      = 0.995
	guardLowQuantile  = 0.0005 // beyond which a reading is nonconforming
	guardHighQuantile = 0.9995
)

// expectation is what a healthy board shows at one check.
type expectation struct {
	nominal             meter.Reading // at nominal parts and sources
	typical             Shown
	low, high           Shown // the inner 99 %
	guardLow, guardHigh Shown // the inner 99.9 %
	spread              *spread
	bent                bool  // found by sampling, not as a sum of uniforms
	err                 error // why there is none
}

// expectOn works out the expectation on a bench whose tolerances are at their
// centres.
func expectOn(b *bench) expectation {
	nominal, err := b.read()
	if err != nil {
		return expectation{err: err}
	}
	e := expectation{nominal: nominal}
	if d, ok := b.linear(nominal); ok {
		e.spread = d
	} else if e.spread, err = b.sample(nominal); err != nil {
		return expectation{err: err}
	} else {
		e.bent = true
	}
	e.typical = Shown{OverRange: true}
	if !nominal.Over {
		e.typical = e.spread.show(nominal.Value)
	}
	e.bands(e.spread)
	return e
}

// bands reads the four quantiles off a spread.
func (e *expectation) bands(d *spread) {
	e.low, e.high = d.quantile(lowQuantile), d.quantile(highQuantile)
	e.guardLow, e.guardHigh = d.quantile(guardLowQuantile), d.quantile(guardHighQuantile)
}

// linearly gives the spread of a reading as if it followed its slopes.
func (b *bench) linearly(nominal meter.Reading) (*spread, []float64) {
	d := &spread{most: b.most(), at: b.showAt}
	if nominal.Over {
		d.over = 1
		return d, nil
	}
	slopes := b.slopes()
	for i := range slopes {
		slopes[i] *= nominal.Slope
	}
	d.boxes = sumOfUniforms(slopes)
	for i := range d.boxes {
		x := &d.boxes[i]
		x.centre += nominal.Value
		x.half = max(x.half, b.errorAt(x.centre))
	}
	return d, slopes
}

// errorAt gives the half-width of the instrument's error at a value.
func (b *bench) errorAt(value float64) float64 {
	if r := b.showAt(value); !r.Over {
		return r.Half
	}
	return b.showAt(b.most()).Half
}

// How far a reading may stray from its tangent and still count as linear, as a
// share of its standard deviation, instrument included: at the trial points on
// average (root mean square), and at any of them. A tail of 0.5 % becomes at
// most about 0.7 % by a shift of 0.15 deviations.
const (
	strayMean  = 0.05
	strayMost  = 0.15
	trialDraws = 10
)

// linear gives the spread as a sum of uniforms when the reading follows its
// tangent: at ten draws and at the likeliest board of either tail.
func (b *bench) linear(nominal meter.Reading) (*spread, bool) {
	d, slopes := b.linearly(nominal)
	if slopes == nil {
		return d, b.staysOver()
	}
	sd := math.Sqrt(variance(slopes) + nominal.Half*nominal.Half/3)
	xi := make([]float64, len(slopes))
	defer b.set(nil)
	sum := 0.0
	for k := range trialDraws + 2 {
		for i := range xi {
			switch k {
			case trialDraws:
				xi[i] = tailPoint(slopes[i], sd)
			case trialDraws + 1:
				xi[i] = -tailPoint(slopes[i], sd)
			default:
				xi[i] = draw(k, i)
			}
		}
		b.set(xi)
		got, err := b.read()
		if err != nil || got.Over {
			return nil, false
		}
		stray := math.Abs(got.Value-nominal.Value-dot(slopes, xi)) / sd
		if stray > strayMost {
			return nil, false
		}
		sum += stray * stray
	}
	return d, math.Sqrt(sum/(trialDraws+2)) <= strayMean
}

// tailPoint gives where a tolerance most likely lies when the reading lies 2.6
// deviations up: in proportion to its slope, within its limits.
func tailPoint(slope, sd float64) float64 {
	return max(-1, min(1, 2.6*slope/(3*sd)))
}

// staysOver tries whether an over-range reading is over-range on every board.
func (b *bench) staysOver() bool {
	if b.apart || !b.board.Solver.Connected(b.red, b.black) {
		return true
	}
	xi := make([]float64, len(b.at))
	defer b.set(nil)
	for k := range 2 * trialDraws {
		for i := range xi {
			xi[i] = draw(k, i)
			if k%2 == 1 { // the corners are where it is likeliest to come back
				xi[i] = math.Copysign(1, xi[i])
			}
		}
		b.set(xi)
		if r, err := b.read(); err != nil || !r.Over {
			return false
		}
	}
	return true
}

func variance(slopes []float64) float64 {
	sum := 0.0
	for _, a := range slopes {
		sum += a * a / 3
	}
	return sum
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// draw gives the value of tolerance i in draw k: uniform from −1 to 1, always
// the same (the splitmix64 generator, addressed instead of stepped).
func draw(k, i int) float64 {
	z := uint64(k)*0x9e3779b97f4a7c15 + uint64(i+1)*0xd1342543de82ef95
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(z>>11)/(1<<52) - 1
}
