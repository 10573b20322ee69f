package analysis

import (
	"math"
	"slices"
	"sort"

	"ohmstead/internal/meter"
)

// Where a reading bends, its spread is found by solving a few hundred boards
// that are chosen where they count:
//
//  1. how the reading moves with each tolerance alone is solved at five places
//     (cuts) for those that matter;
//  2. what the sum of the cuts misses on trainDepth drawn boards is fitted by the
//     products of the tolerances that matter most;
//  3. cuts and fit rank drawDepth drawn boards by their likely reading, without
//     solving them;
//  4. from each of some slices of that ranking, thin at both ends, a few boards
//     are solved; each stands for its share of the slice.
//
// The ranking only decides where to look; the readings are exact, so a poor
// ranking makes the spread noisier, not wrong.
const drawDepth = 16384

// strata are the edges of the ranking's lower half, as shares of all draws,
// and how many boards of each slice are solved.
var strata = []struct {
	upTo  float64
	solve int
}{
	{0.0005, 8}, {0.001, 8}, {0.002, 8}, {0.0035, 10}, {0.005, 10}, {0.0075, 10}, {0.012, 8},
	{0.02, 8}, {0.05, 8}, {0.1, 8}, {0.2, 10}, {0.35, 10}, {0.5, 10},
}

// sample gives the spread of a bent reading.
func (b *bench) sample(nominal meter.Reading) (*spread, error) {
	defer b.set(nil)
	rank, tight, err := b.ranking(nominal.Range)
	if err != nil {
		return nil, err
	}
	d := &spread{most: b.most(), at: b.showAt}
	xi := make([]float64, len(b.at))
	for _, s := range chosen() {
		if tight {
			s.solve = min(s.solve, tightSolve)
		}
		per := 1 / float64(drawDepth) * float64(s.to-s.from) / float64(s.solve)
		for n := range s.solve {
			k := int(rank[s.from+(2*n+1)*(s.to-s.from)/(2*s.solve)])
			for i := range xi {
				xi[i] = draw(k, i)
			}
			b.set(xi)
			got, err := b.read()
			if err != nil {
				return nil, err
			}
			if got.Over {
				d.over += per
				continue
			}
			d.boxes = append(d.boxes, box{centre: got.Value, half: got.Half, weight: per})
		}
	}
	return d, nil
}

// How little the ranking may miss, as a share of the standard deviation of what
// it ranks by, to count as tight; the boards of a slice then hardly differ but
// for their place, and a few of them stand for it as well as many.
const (
	tightShare = 0.03
	tightSolve = 3
)

// slice is a part of the ranking and how many of its boards are solved.
type slice struct {
	from, to, solve int
}

// chosen gives the slices of the whole ranking, lowest first.
func chosen() []slice {
	var out []slice
	from := 0
	for _, s := range strata {
		to := int(math.Round(s.upTo * drawDepth))
		out = append(out, slice{from, to, min(s.solve, to-from)})
		from = to
	}
	for i := len(out) - 1; i >= 0; i-- {
		s := out[i]
		out = append(out, slice{drawDepth - s.to, drawDepth - s.from, s.solve})
	}
	return out
}

// cutAt are the places of a cut; between them the reading counts as the
// polynomial through all five.
var cutAt = [5]float64{-1, -0.5, 0, 0.5, 1}

// cut is how the index moves with one tolerance alone.
type cut struct {
	param int
	move  [5]float64
	coef  [5]float64 // of the polynomial through them, lowest power first
}

// size gives how far the index moves at most.
func (c *cut) size() float64 {
	return max(c.move[0], c.move[1], c.move[3], c.move[4], 0) - min(c.move[0], c.move[1], c.move[3], c.move[4], 0)
}

// leastShare is the share of the index's slope, summed over all tolerances,
// below which one of them is left out of the ranking.
const leastShare = 0.004

// ranking orders drawn boards by their likely reading on a range, and tells
// whether that is hardly ever wrong.
func (b *bench) ranking(rng int) (rank []int32, tight bool, err error) {
	cuts, err := b.cuts(rng)
	if err != nil {
		return nil, false, err
	}
	fit, err := b.fit(rng, cuts)
	if err != nil {
		return nil, false, err
	}
	keys := make([]uint64, drawDepth)
	sum, squares := 0.0, 0.0
	for k := range keys {
		v := likelyIndex(cuts, k) + fit.at(k)
		keys[k] = rankKey(v, k)
		sum += v
		squares += v * v
	}
	slices.Sort(keys)
	rank = make([]int32, drawDepth)
	for i, key := range keys {
		rank[i] = int32(key % drawDepth)
	}
	mean := sum / drawDepth
	return rank, fit.miss <= tightShare*math.Sqrt(max(0, squares/drawDepth-mean*mean)), nil
}

// rankKey gives a number that orders draws as their likely reading does, the
// last bits of which are the draw.
func rankKey(likely float64, k int) uint64 {
	key := math.Float64bits(likely)
	if likely < 0 {
		key = ^key
	} else {
		key |= 1 << 63
	}
	return key - key%drawDepth + uint64(k)
}

// likelyIndex sums the cuts of draw k.
func likelyIndex(cuts []cut, k int) float64 {
	sum := 0.0
	for i := range cuts {
		sum += cuts[i].at(draw(k, cuts[i].param))
	}
	return sum
}

// cuts solves how the index moves with each tolerance that matters.
func (b *bench) cuts(rng int) ([]cut, error) {
	b.set(nil)
	mid, err := b.index(rng)
	if err != nil {
		return nil, err
	}
	slopes := b.slopes()
	total := 0.0
	for _, s := range slopes {
		total += math.Abs(s)
	}
	xi := make([]float64, len(b.at))
	var out []cut
	for i, s := range slopes {
		if math.Abs(s) <= leastShare*total {
			continue
		}
		c := cut{param: i}
		for n, at := range cutAt {
			if at == 0 {
				continue
			}
			xi[i] = at
			b.set(xi)
			v, err := b.index(rng)
			if err != nil {
				return nil, err
			}
			c.move[n] = v - mid
		}
		xi[i] = 0
		c.join()
		out = append(out, c)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].size() > out[j].size() })
	return out, nil
}

// join finds the polynomial through the five places (with the one at 0 being 0).
func (c *cut) join() {
	m := &c.move
	odd1, odd2 := (m[4]-m[0])/2, (m[3]-m[1])/2
	even1, even2 := (m[4]+m[0])/2-m[2], (m[3]+m[1])/2-m[2]
	c.coef = [5]float64{m[2], (8*odd2 - odd1) / 3, (16*even2 - even1) / 3, 4 * (odd1 - 2*odd2) / 3, 4 * (even1 - 4*even2) / 3}
}

// at interpolates a cut.
func (c *cut) at(x float64) float64 {
	a := &c.coef
	return a[0] + x*(a[1]+x*(a[2]+x*(a[3]+x*a[4])))
}
