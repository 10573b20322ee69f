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
		a := mat.NewDense(n, n, nil)
		for k, v := range f.val {
			a.Set(int(f.rows[k]), int(f.cols[k]), v)
		}
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
	if f.factor(1e-22); f.plan.row[0] != 0 {
		t.Error("the listener's row gave the pivot")
	}
	f = matrix(2, 1e-15, 1, 1, 1)
	if f.factor(1e-22); f.plan.row[0] != 1 {
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

// TestRefactor: a matrix whose entries move, and now and then gain a member, is
// solved as one that was never seen before, whichever pivots the last had.
func TestRefactor(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SampledFrom([]int{3, 8, 30, 70}).Draw(t, "n")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		f := newLU(n)
		for range 6 {
			fresh := newLU(n)
			f.clear()
			for k := range 4 * n {
				i, j, v := rng.IntN(n), rng.IntN(n), rng.NormFloat64()*math.Pow(10, float64(rng.IntN(9)-4))
				if k < n {
					i, j = k, k
				}
				f.add(i, j, v)
				fresh.add(i, j, v)
			}
			if f.factor(1e-12) >= 0 || fresh.factor(1e-12) >= 0 {
				continue
			}
			b, got, want, back := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
			for i := range b {
				b[i] = rng.NormFloat64()
			}
			f.solve(b, got)
			fresh.solve(b, want)
			f.times(got, back)
			size := 0.0
			for i := range want {
				size = max(size, math.Abs(want[i]))
			}
			for i := range got {
				if math.Abs(got[i]-want[i]) > 1e-6*size {
					t.Errorf("x[%d] = %.12g, anew %.12g", i, got[i], want[i])
				}
				if math.Abs(back[i]-b[i]) > 1e-6*(1+size) {
					t.Errorf("A·x differs from b by %g", back[i]-b[i])
				}
			}
		}
	})
}
