package circuit

import (
	"math"
	"math/bits"
)

// lu is the LU factorisation of a square matrix with partial pivoting, in
// memory that is kept. Boards give sparse matrices: beside the dense array,
// which makes addressing cheap, each row has a bit for every entry that may not
// be zero, and only those are visited.
type lu struct {
	n, words int
	a        []float64 // row-major; after factor: L below, U on and above the diagonal, rows permuted
	mask     []uint64  // words of each row
	row      []int     // row[k] is the row that serves as the k-th
	rows     []int     // scratch: places of the rows with an entry in the present column
	cols     []int     // scratch: columns with an entry in the pivot row
	y        []float64 // scratch
}

func newLU(n int) *lu {
	words := (n + 63) / 64
	return &lu{
		n: n, words: words, a: make([]float64, n*n), mask: make([]uint64, n*words),
		row: make([]int, n), rows: make([]int, 0, n), cols: make([]int, 0, n), y: make([]float64, n),
	}
}

// add adds to an entry.
func (f *lu) add(i, j int, v float64) {
	f.a[i*f.n+j] += v
	f.mask[i*f.words+j>>6] |= 1 << (j & 63)
}

// clear makes every entry zero.
func (f *lu) clear() {
	clear(f.a)
	clear(f.mask)
}

// copyFrom takes over the entries of a matrix of the same size that was not
// factored.
func (f *lu) copyFrom(g *lu) {
	copy(f.a, g.a)
	copy(f.mask, g.mask)
}

// ownShare is the share of a column's largest entry from which the column's own
// row serves as pivot. A node's own equation is the one that should give its
// volts: a larger entry beside it may belong to a strong node that only listens,
// and would bring its rounding errors along.
const ownShare = 1e-3

// factor factors the matrix in place and reports the column without a pivot, or
// −1. A pivot below tiny counts as none.
func (f *lu) factor(tiny float64) int {
	for i := range f.row {
		f.row[i] = i
	}
	for k := range f.n {
		p := f.pivot(k, tiny)
		if p < 0 {
			return k
		}
		f.row[k], f.row[p] = f.row[p], f.row[k]
		f.eliminate(k, p)
	}
	return -1
}

// pivot gives the place among the rows left of the one that serves for column
// k, or −1, and notes which rows have an entry there.
func (f *lu) pivot(k int, tiny float64) int {
	word, bit := k>>6, uint64(1)<<(k&63)
	p, best, own := -1, tiny, -1
	rows := f.rows[:0]
	for i := k; i < f.n; i++ {
		r := f.row[i]
		if f.mask[r*f.words+word]&bit == 0 {
			continue
		}
		rows = append(rows, i)
		if m := math.Abs(f.a[r*f.n+k]); m > best {
			p, best = i, m
		}
		if r == k {
			own = i
		}
	}
	f.rows = rows
	if own >= 0 && p >= 0 && math.Abs(f.a[k*f.n+k]) >= ownShare*best {
		return own
	}
	return p
}

// eliminate clears column k below the pivot row, which came from place p.
func (f *lu) eliminate(k, p int) {
	n, at := f.n, f.row[k]
	pivot, mask := f.a[at*n:at*n+n], f.mask[at*f.words:(at+1)*f.words]
	f.cols = entries(f.cols[:0], mask, k+1, n)
	inv := 1 / pivot[k]
	for _, i := range f.rows {
		if i == p {
			continue // it is the pivot row now
		}
		if i == k {
			i = p // the rows changed places
		}
		r := f.a[f.row[i]*n : f.row[i]*n+n]
		m := r[k] * inv
		r[k] = m
		for _, j := range f.cols {
			r[j] -= m * pivot[j]
		}
		own := f.mask[f.row[i]*f.words:]
		for w, bits := range mask {
			own[w] |= above(bits, w, k)
		}
	}
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

// entries appends the columns from from up to, but not including, to that a
// row's mask has.
func entries(cols []int, mask []uint64, from, to int) []int {
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

// line gives the k-th row in the order of elimination, and its mask.
func (f *lu) line(k int) ([]float64, []uint64) {
	r := f.row[k]
	return f.a[r*f.n : r*f.n+f.n], f.mask[r*f.words : (r+1)*f.words]
}

// solve gives x with A·x = b; x and b may be the same slice.
func (f *lu) solve(b, x []float64) {
	n, y := f.n, f.y
	for k := range n {
		r, mask := f.line(k)
		sum := b[f.row[k]]
		f.cols = entries(f.cols[:0], mask, 0, k)
		for _, j := range f.cols {
			sum -= r[j] * y[j]
		}
		y[k] = sum
	}
	for k := n - 1; k >= 0; k-- {
		r, mask := f.line(k)
		sum := y[k]
		f.cols = entries(f.cols[:0], mask, k+1, n)
		for _, j := range f.cols {
			sum -= r[j] * y[j]
		}
		y[k] = sum / r[k]
	}
	copy(x, y)
}

// solveTransposed gives x with Aᵀ·x = b; x and b may be the same slice.
func (f *lu) solveTransposed(b, x []float64) {
	n, y := f.n, f.y
	copy(y, b)
	for k := range n {
		r, mask := f.line(k)
		y[k] /= r[k]
		f.cols = entries(f.cols[:0], mask, k+1, n)
		for _, j := range f.cols {
			y[j] -= r[j] * y[k]
		}
	}
	for k := n - 1; k >= 0; k-- {
		r, mask := f.line(k)
		f.cols = entries(f.cols[:0], mask, 0, k)
		for _, j := range f.cols {
			y[j] -= r[j] * y[k]
		}
	}
	for k := range n {
		x[f.row[k]] = y[k]
	}
}
