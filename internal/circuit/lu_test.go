package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// TestLU compares solving, straight and transposed, with another library, on
// sparse matrices whose diagonal may be nothing.
func TestLU(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SampledFrom([]int{1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 16, 64, 65, 130}).Draw(t, "n")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		f := newLU(n)
		for i := range n * n {
			if rng.IntN(3) == 0 {
				f.add(i/n, i%n, rng.NormFloat64())
			}
		}
		shift := rng.IntN(n) // a nonzero generalised diagonal keeps it regular
		for i := range n {
			f.add(i, (i+shift)%n, 3)
		}
		b := make([]float64, n)
		for i := range b {
			b[i] = rng.NormFloat64()
		}
		a := mat.NewDense(n, n, append([]float64(nil), f.a...))
		if math.Abs(mat.Det(a)) < 1e-3 || f.factor(1e-12) >= 0 {
			return
		}
		for _, transposed := range []bool{false, true} {
			var want mat.VecDense
			var m mat.Matrix = a
			got := append([]float64(nil), b...)
			if transposed {
				m = a.T()
				f.solveTransposed(got, got)
			} else {
				f.solve(got, got)
			}
			if want.SolveVec(m, mat.NewVecDense(n, b)) != nil {
				continue
			}
			for i := range got {
				if math.Abs(got[i]-want.AtVec(i)) > 1e-7*(1+math.Abs(want.AtVec(i))) {
					t.Errorf("transposed %t: x[%d] = %.12g, want %.12g", transposed, i, got[i], want.AtVec(i))
				}
			}
		}
	})
}

// TestSingular: a column without a pivot is named.
func TestSingular(t *testing.T) {
	t.Parallel()
	f := matrix(3, 1, 2, 0, 2, 4, 0, 0, 0, 5)
	if k := f.factor(1e-12); k != 1 {
		t.Errorf("column %d has no pivot, want 1", k)
	}
}

// TestOwnRowFirst: a node's own equation serves as pivot although a stronger
// one listens to it.
func TestOwnRowFirst(t *testing.T) {
	t.Parallel()
	f := matrix(2, 1e-11, 0, 3e-11, 1)
	if f.factor(1e-22); f.row[0] != 0 {
		t.Error("the listener's row gave the pivot")
	}
	f = matrix(2, 1e-15, 1, 1, 1)
	if f.factor(1e-22); f.row[0] != 1 {
		t.Error("a pivot far below its column's largest entry was kept")
	}
}

// matrix writes a small matrix row by row.
func matrix(n int, entries ...float64) *lu {
	f := newLU(n)
	for i, v := range entries {
		f.add(i/n, i%n, v)
	}
	return f
}
