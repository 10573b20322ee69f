// Package goodboard is the arithmetic of the good-board book: from what
// known-good boards read at one place to the band in which the next good board
// is expected to read.
//
// It begins with an assumed spread between boards (Prior), so that one board
// already gives a band, wide and honest, and every further one replaces more of
// the assumption by what was read. It knows numbers only: no boards, no storage,
// and not whether a reading that lies outside is bad.
package goodboard

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Coverage is how often the next good board reads inside the band, if boards
// spread as a normal distribution.
const Coverage = 0.95

// Prior is how good boards are assumed to spread before any was read. The shares
// and floors below are judgement, no source: parts of 5 % spread by 2.9 % (one
// standard deviation), two of them beside each other by less.
type Prior struct {
	Log    bool    // of ratios, not of differences
	Share  float64 // standard deviation as a fraction of the reading
	Floor  float64 // and beside it, in the unit of the reading: leads, junctions
	Weight float64 // counts as much as so many boards' own spread
}

// The priors of what a meter reads.
var (
	Resistance  = Prior{Log: true, Share: 0.02, Floor: 0.1, Weight: 2}
	Capacitance = Prior{Log: true, Share: 0.08, Weight: 2}
	ESR         = Prior{Log: true, Share: 0.20, Floor: 0.05, Weight: 2}
	Junction    = Prior{Share: 0.02, Floor: 0.015, Weight: 2}
	Volts       = Prior{Share: 0.03, Floor: 0.01, Weight: 2}
)

// Band is what good boards read, and what the next one is expected to.
type Band struct {
	N           int     // boards
	Least, Most float64 // that were read
	Low, High   float64 // of the next one
}

// Expect gives the band from one reading of each board, at least one. ok is false
// where ratios are asked of a reading that is not above 0: then only what was read
// is there.
func Expect(readings []float64, p Prior) (b Band, ok bool) {
	b = Band{N: len(readings), Least: slices.Min(readings), Most: slices.Max(readings)}
	if p.Log && b.Least <= 0 {
		return b, false
	}
	scaled := slices.Clone(readings)
	if p.Log {
		for i, x := range scaled {
			scaled[i] = math.Log(x)
		}
	}
	mean, sd := meanAndSpread(scaled)
	half := p.half(b.N, sd, p.assumed(mean))
	b.Low, b.High = mean-half, mean+half
	if p.Log {
		b.Low, b.High = math.Exp(b.Low), math.Exp(b.High)
	}
	return b, true
}

// assumed gives the assumed standard deviation about a mean, both on the scale of
// the readings.
func (p Prior) assumed(mean float64) float64 {
	if p.Log {
		return math.Hypot(p.Share, p.Floor/math.Exp(mean))
	}
	return math.Hypot(p.Share*mean, p.Floor)
}

// half gives the half-width of the band for one more reading. With a normal
// distribution of unknown mean and a variance that is assumed as Weight readings
// would show it, the next reading follows Student's t with ν = Weight + n − 1
// degrees of freedom and the scale √(s²·(1 + 1/n)), s² being the mean of both
// variances by their degrees of freedom. Without a weight that is the prediction
// interval t·s·√(1 + 1/n) of the NIST/SEMATECH e-Handbook, 7.2.6.3.
func (p Prior) half(n int, sd, assumed float64) float64 {
	more := float64(n - 1)
	freedom := p.Weight + more
	pooled := math.Sqrt((p.Weight*assumed*assumed + more*sd*sd) / freedom)
	return coverageFactor(freedom, Coverage) * pooled * math.Sqrt(1+1/float64(n))
}

// coverageFactor gives Student's t for so many degrees of freedom, two-sided.
func coverageFactor(freedom, coverage float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile((1 + coverage) / 2)
}

// meanAndSpread gives the mean and the standard deviation (n − 1), in one pass
// and without the difference of large sums (Welford 1962); of a single number
// the spread is 0.
func meanAndSpread(x []float64) (mean, sd float64) {
	squares := 0.0
	for i, v := range x {
		step := v - mean
		mean += step / float64(i+1)
		squares += step * (v - mean)
	}
	if len(x) < 2 {
		return mean, 0
	}
	return mean, math.Sqrt(squares / float64(len(x)-1))
}
