package circuit

import "math"

// lu is the LU factorisation of a square matrix with partial pivoting, in
// memory that is kept. Boards give sparse matrices, so the elimination touches
// only what is not zero; that is why a dense layout is fast enough.
type lu struct {
	n    int
	a    []float64 // row-major; after factor: L below, U on and above the diagonal, rows permuted
	row  []int     // row[k] is the row that serves as the k-th
	cols []int     // scratch: columns that are not zero in the pivot row
	y    []float64 // scratch
}

func newLU(n int) *lu {
	return &lu{n: n, a: make([]float64, n*n), row: make([]int, n), cols: make([]int, 0, n), y: make([]float64, n)}
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
		f.eliminate(k)
	}
	return -1
}

// pivot gives the place among the rows left of the one that serves for column
// k, or −1.
func (f *lu) pivot(k int, tiny float64) int {
	n, a := f.n, f.a
	p, best, own := -1, tiny, -1
	for i := k; i < n; i++ {
		m := math.Abs(a[f.row[i]*n+k])
		if m > best {
			p, best = i, m
		}
		if f.row[i] == k {
			own = i
		}
	}
	if own >= 0 && p >= 0 && math.Abs(a[k*n+k]) >= ownShare*best {
		return own
	}
	return p
}

// eliminate clears column k below the pivot row.
func (f *lu) eliminate(k int) {
	n, a := f.n, f.a
	pivot := a[f.row[k]*n : f.row[k]*n+n]
	cols := f.cols[:0]
	for j := k + 1; j < n; j++ {
		if pivot[j] != 0 {
			cols = append(cols, j)
		}
	}
	inv := 1 / pivot[k]
	for i := k + 1; i < n; i++ {
		r := a[f.row[i]*n : f.row[i]*n+n]
		if r[k] == 0 {
			continue
		}
		m := r[k] * inv
		r[k] = m
		for _, j := range cols {
			r[j] -= m * pivot[j]
		}
	}
	f.cols = cols
}

// solve gives x with A·x = b; x and b may be the same slice.
func (f *lu) solve(b, x []float64) {
	n, a, y := f.n, f.a, f.y
	for k := range n {
		r := a[f.row[k]*n : f.row[k]*n+n]
		sum := b[f.row[k]]
		for j := range k {
			if r[j] != 0 {
				sum -= r[j] * y[j]
			}
		}
		y[k] = sum
	}
	for k := n - 1; k >= 0; k-- {
		r := a[f.row[k]*n : f.row[k]*n+n]
		sum := y[k]
		for j := k + 1; j < n; j++ {
			if r[j] != 0 {
				sum -= r[j] * y[j]
			}
		}
		y[k] = sum / r[k]
	}
	copy(x, y)
}

// solveTransposed gives x with Aᵀ·x = b; x and b may be the same slice.
func (f *lu) solveTransposed(b, x []float64) {
	n, a, y := f.n, f.a, f.y
	copy(y, b)
	for k := range n {
		r := a[f.row[k]*n : f.row[k]*n+n]
		y[k] /= r[k]
		for j := k + 1; j < n; j++ {
			if r[j] != 0 {
				y[j] -= r[j] * y[k]
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		r := a[f.row[k]*n : f.row[k]*n+n]
		for j := range k {
			if r[j] != 0 {
				y[j] -= r[j] * y[k]
			}
		}
	}
	for k := range n {
		x[f.row[k]] = y[k]
	}
}
