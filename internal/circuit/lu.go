package circuit

import (
	"math"
	"math/bits"
)

// lu is the LU factorisation of a square sparse matrix, in memory that is kept.
// Every entry that was ever written has a place of its own, and stays. Which
// rows serve as pivots, where the elimination fills in, and which entries it
// touches in which order is planned once (plan.go) and followed until an entry
// is new or a pivot has become too small.
type lu struct {
	n     int
	place []int32   // of the entry in row i and column j, at i·n+j, counted from 1; 0: none
	rows  []int32   // of each place
	cols  []int32   // of each place
	val   []float64 // the matrix
	kept  []float64 // what keep laid aside
	fac   []float64 // the factors: the entries' places, then what fills in
	plan  plan
	y     []float64 // scratch
}

func newLU(n int) *lu {
	return &lu{n: n, place: make([]int32, n*n), y: make([]float64, n)}
}

// add adds to an entry.
func (f *lu) add(i, j int, v float64) {
	at := f.place[i*f.n+j]
	if at == 0 {
		at = f.enter(i, j)
	}
	f.val[at-1] += v
}

// enter gives an entry its place.
func (f *lu) enter(i, j int) int32 {
	f.rows, f.cols = append(f.rows, int32(i)), append(f.cols, int32(j))
	f.val = append(f.val, 0)
	at := int32(len(f.val))
	f.place[i*f.n+j] = at
	return at
}

// clear makes every entry zero.
func (f *lu) clear() { clear(f.val) }

// keep lays the entries aside; recall brings them back.
func (f *lu) keep() { f.kept = append(f.kept[:0], f.val...) }

func (f *lu) recall() { clear(f.val[copy(f.val, f.kept):]) }

// times gives out = A·x.
func (f *lu) times(x, out []float64) {
	clear(out)
	for k, v := range f.val {
		out[f.rows[k]] += v * x[f.cols[k]]
	}
}

// ownShare is the share of a column's largest entry from which the column's own
// row serves as pivot. A node's own equation is the one that should give its
// volts: a larger entry beside it may belong to a strong node that only listens,
// and would bring its rounding errors along. Another row, once chosen for being
// the largest, serves as long as it has otherShare and the own row has not.
const (
	ownShare   = 1e-3
	otherShare = 0.1
)

// factor factors the matrix and reports the column without a pivot, or −1. A
// pivot below tiny counts as none. The entries stay as they are.
func (f *lu) factor(tiny float64) int {
	if f.plan.entries == len(f.val) && f.follow(tiny) {
		return -1
	}
	if k := f.makePlan(tiny); k >= 0 {
		f.plan.entries = 0
		return k
	}
	f.follow(0)
	return -1
}

// follow factors by the plan and reports whether every pivot served; with tiny 0
// all do.
func (f *lu) follow(tiny float64) bool {
	p, fac := &f.plan, f.fac
	clear(fac[copy(fac, f.val):])
	target := p.target
	for k := range f.n {
		s := &p.steps[k]
		lower, upper := p.lower[s.lower:p.steps[k+1].lower], p.upper[s.upper:p.steps[k+1].upper]
		pivot := fac[s.pivot]
		if tiny > 0 && !serves(fac, s, lower, math.Abs(pivot), tiny) {
			return false
		}
		inv := 1 / pivot
		for _, l := range lower {
			m := fac[l.place]
			if m != 0 {
				m *= inv
				fac[l.place] = m
				for i, t := range target[:len(upper)] {
					fac[t] -= m * fac[upper[i].place]
				}
			}
			target = target[len(upper):]
		}
	}
	return true
}

// serves tells whether the pivot of a step is still the right one.
func serves(fac []float64, s *step, lower []entry, pivot, tiny float64) bool {
	best := pivot
	for _, l := range lower {
		best = max(best, math.Abs(fac[l.place]))
	}
	switch {
	case !(pivot > tiny): // or not a number
		return false
	case s.own == s.pivot:
		return pivot >= ownShare*best
	case s.own >= 0 && math.Abs(fac[s.own]) >= otherShare*best:
		return false
	}
	return pivot >= otherShare*best
}

// solve gives x with A·x = b; x and b may be the same slice.
func (f *lu) solve(b, x []float64) {
	p, y, fac := &f.plan, f.y, f.fac
	for k, r := range p.row {
		y[k] = b[r]
	}
	for k, v := range y {
		if v = y[k]; v == 0 {
			continue
		}
		for _, l := range p.lower[p.steps[k].lower:p.steps[k+1].lower] {
			y[l.at] -= fac[l.place] * v
		}
	}
	for k := f.n - 1; k >= 0; k-- {
		sum := y[k]
		for _, u := range p.upper[p.steps[k].upper:p.steps[k+1].upper] {
			sum -= fac[u.place] * y[u.at]
		}
		y[k] = sum / fac[p.steps[k].pivot]
	}
	copy(x, y)
}

// solveTransposed gives x with Aᵀ·x = b; x and b may be the same slice.
func (f *lu) solveTransposed(b, x []float64) {
	p, y, fac := &f.plan, f.y, f.fac
	copy(y, b)
	for k := range y {
		y[k] /= fac[p.steps[k].pivot]
		for _, u := range p.upper[p.steps[k].upper:p.steps[k+1].upper] {
			y[u.at] -= fac[u.place] * y[k]
		}
	}
	for k := f.n - 1; k >= 0; k-- {
		sum := y[k]
		for _, l := range p.lower[p.steps[k].lower:p.steps[k+1].lower] {
			sum -= fac[l.place] * y[l.at]
		}
		y[k] = sum
	}
	for k, r := range p.row {
		x[r] = y[k]
	}
}

// bitsOf appends the columns from from up to, but not including, to that a
// row's mask has.
func bitsOf(cols []int, mask []uint64, from, to int) []int {
	for w, word := range mask {
		word = above(word, w, from-1)
		for ; word != 0; word &= word - 1 {
			j := w<<6 + bits.TrailingZeros64(word)
			if j >= to {
				return cols
			}
			cols = append(cols, j)
		}
	}
	return cols
}

// above keeps of a row's word w the bits of columns beyond k.
func above(word uint64, w, k int) uint64 {
	switch first := k + 1 - w*64; {
	case first <= 0:
		return word
	case first >= 64:
		return 0
	default:
		return word >> first << first
	}
}
