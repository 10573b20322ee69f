package analysis

import (
	"math"
	"sort"

	"ohmstead/internal/meter"
)

// box is a share of probability that lies evenly over centre ± half.
type box struct {
	centre, half, weight float64
}

// spread is how what the display shows, before it is rounded, is distributed:
// boxes, and the weight of over-range, which stands above every number.
type spread struct {
	boxes []box
	over  float64
	most  float64 // a display beyond it is over-range too
	at    func(value float64) meter.Reading
}

// below gives the probability of a value less than x.
func (d *spread) below(x float64) float64 {
	sum := 0.0
	for _, b := range d.boxes {
		switch {
		case x >= b.centre+b.half:
			if b.half > 0 || x > b.centre {
				sum += b.weight
			}
		case x > b.centre-b.half:
			sum += b.weight * (x - b.centre + b.half) / (2 * b.half)
		}
	}
	return sum
}

// quantile gives the displayed value that a share p of boards does not exceed.
func (d *spread) quantile(p float64) Shown {
	if d.below(math.Inf(1)) < p {
		return Shown{OverRange: true}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, b := range d.boxes {
		low, high = min(low, b.centre-b.half), max(high, b.centre+b.half)
	}
	for range 60 {
		mid := (low + high) / 2
		if d.below(mid) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return d.show(high)
}

// show rounds a value to what the display shows there.
func (d *spread) show(x float64) Shown {
	r := d.at(x)
	if r.Over {
		if r := d.at(d.most); x <= d.most+r.Resolution/2 {
			return Shown{Value: meter.Round(x, r.Resolution)}
		}
		return Shown{OverRange: true}
	}
	v, over := r.Show(0)
	return Shown{Value: v, OverRange: over}
}

// outside gives the probability of a display below low or above high.
func (d *spread) outside(low, high Shown) float64 {
	if low.OverRange {
		return 1 - d.over - d.beyond()
	}
	p := 0.0
	if r := d.at(low.Value); low.Value > r.Least {
		p = d.below(low.Value - r.Resolution/2)
	}
	if !high.OverRange {
		p += 1 - d.below(high.Value+d.at(high.Value).Resolution/2)
	}
	return p
}

// beyond gives the probability of a number that no longer fits the display.
func (d *spread) beyond() float64 {
	return 1 - d.over - d.below(d.most+d.at(d.most).Resolution/2)
}

// coarser gives the spread with a further half-width at every value, as when
// digits were left off in typing.
func (d *spread) coarser(half float64) *spread {
	out := *d
	out.boxes = make([]box, len(d.boxes))
	for i, b := range d.boxes {
		b.half += half
		out.boxes[i] = b
	}
	return &out
}

// gridPoints is on how many points the sum of uniforms is convolved.
const gridPoints = 1201

// sumOfUniforms gives the distribution of Σ ±halves, each term uniform and
// independent, as centres and weights on a fine grid.
//
// It convolves the distribution function with one box after the other, which on
// a grid is the difference of its integral at two places; between the points
// the function counts as straight. Terms too small for the grid are put
// together into one of their common variance.
func sumOfUniforms(halves []float64) []box {
	var terms []float64
	total, squares := 0.0, 0.0
	for _, a := range halves {
		total += math.Abs(a)
		squares += a * a
	}
	if total == 0 {
		return []box{{weight: 1}}
	}
	span := min(total, 7*math.Sqrt(squares/3)) // no probability to speak of beyond 7 deviations
	h := 2 * span / (gridPoints - 1)
	small := 0.0
	for _, a := range halves {
		if a = math.Abs(a); a > h {
			terms = append(terms, a)
		} else {
			small += a * a
		}
	}
	if a := math.Sqrt(small); a > h/1000 {
		terms = append(terms, a)
	}
	sort.Sort(sort.Reverse(sort.Float64Slice(terms)))
	g := grid{low: -span, step: h, f: make([]float64, gridPoints), sum: make([]float64, gridPoints)}
	for k := range g.f {
		g.f[k] = min(1, max(0, (g.x(k)+terms[0])/(2*terms[0])))
	}
	for _, a := range terms[1:] {
		g.convolve(a)
	}
	var out []box
	whole := g.f[gridPoints-1] - g.f[0]
	for k := 1; k < gridPoints; k++ {
		if w := (g.f[k] - g.f[k-1]) / whole; w > 0 {
			out = append(out, box{centre: (g.x(k) + g.x(k-1)) / 2, half: h / 2, weight: w})
		}
	}
	return out
}

// grid is a distribution function on equally spaced points, straight between
// them, 0 below and 1 above.
type grid struct {
	low, step float64
	f, sum    []float64 // the function, and its integral up to each point
}

func (g *grid) x(k int) float64 { return g.low + float64(k)*g.step }

// convolve spreads every share of probability over ±a. Keeping the result only
// at the points, straight between them, spreads it by a further h²/6 of
// variance, which a is shortened by.
func (g *grid) convolve(a float64) {
	a = math.Sqrt(max(a*a-g.step*g.step/2, g.step*g.step/100))
	for k := 1; k < len(g.f); k++ {
		g.sum[k] = g.sum[k-1] + (g.f[k]+g.f[k-1])/2*g.step
	}
	next := make([]float64, len(g.f))
	for k := range next {
		next[k] = min(1, max(0, (g.integral(g.x(k)+a)-g.integral(g.x(k)-a))/(2*a)))
	}
	copy(g.f, next)
}

func (g *grid) integral(x float64) float64 {
	t := (x - g.low) / g.step
	last := len(g.f) - 1
	switch {
	case t <= 0:
		return 0
	case t >= float64(last):
		return g.sum[last] + (t-float64(last))*g.step
	}
	k := int(t)
	t -= float64(k)
	return g.sum[k] + g.step*t*(g.f[k]+t/2*(g.f[k+1]-g.f[k]))
}
