package analysis

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What the cuts miss is how tolerances act together: of two junctions in series
// the one that lets less through decides.
const (
	trainDepth = 185 // boards on which it is fitted, at most; some 2.5 for each of its terms
	fitParams  = 10  // tolerances whose products are fitted, those that move the reading most
)

// fit is a polynomial of the second degree in the tolerances that matter most.
type fit struct {
	params []int
	coef   []float64
	miss   float64 // standard deviation of what it misses; +Inf where there is no fit
}

// terms fills row with 1, each tolerance, and each product of two, for draw k.
func (f *fit) terms(k int, row []float64) []float64 {
	row = append(row[:0], 1)
	for _, p := range f.params {
		row = append(row, draw(k, p))
	}
	n := len(f.params)
	for i := range n {
		for j := range i + 1 {
			row = append(row, row[1+i]*row[1+j])
		}
	}
	return row
}

// at gives the fitted value for draw k.
func (f *fit) at(k int) float64 {
	var memory [1 + fitParams + fitParams*(fitParams+1)/2]float64
	sum := 0.0
	for i, x := range f.terms(k, memory[:0]) {
		sum += f.coef[i] * x
	}
	return sum
}

// fit solves trainDepth drawn boards, others than those of the ranking, and fits
// what the sum of the cuts misses by least squares.
func (b *bench) fit(rng int, cuts []cut) (*fit, error) {
	f := &fit{}
	for _, c := range cuts[:min(fitParams, len(cuts))] {
		f.params = append(f.params, c.param)
	}
	b.set(nil)
	mid, err := b.index(rng)
	if err != nil {
		return nil, err
	}
	var rows, missed []float64
	var row []float64
	xi := make([]float64, len(b.at))
	row = f.terms(0, row)
	depth := min(5*len(row)/2+20, trainDepth)
	for k := drawDepth; k < drawDepth+depth; k++ {
		for i := range xi {
			xi[i] = draw(k, i)
		}
		b.set(xi)
		v, err := b.index(rng)
		if err != nil {
			return nil, err
		}
		row = f.terms(k, row)
		rows = append(rows, row...)
		missed = append(missed, v-mid-likelyIndex(cuts, k))
	}
	b.set(nil)
	var coef mat.VecDense
	if err := coef.SolveVec(mat.NewDense(depth, len(row), rows), mat.NewVecDense(depth, missed)); err != nil {
		f.coef, f.miss = make([]float64, len(row)), math.Inf(1) // rank by the cuts alone
		return f, nil
	}
	f.coef = coef.RawVector().Data
	sum := 0.0
	for k, m := range missed {
		left := m - f.at(drawDepth+k)
		sum += left * left
	}
	f.miss = math.Sqrt(sum / float64(depth-len(row)))
	return f, nil
}
