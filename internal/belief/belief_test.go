package belief

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestPosterior(t *testing.T) {
	t.Parallel()
	p, sum := Posterior([]float64{math.Log(1), math.Log(3), math.Inf(-1)})
	near(t, "first", p[0], 0.25, 1e-15)
	near(t, "second", p[1], 0.75, 1e-15)
	near(t, "sum", sum, math.Log(4), 1e-14)
	if p[2] != 0 {
		t.Error("what is impossible has a probability")
	}
	p, sum = Posterior([]float64{math.Inf(-1)})
	if p[0] != 0 || !math.IsInf(sum, -1) {
		t.Errorf("only impossible hypotheses: %v, %v", p, sum)
	}
	p, _ = Posterior([]float64{-2000, -2000})
	near(t, "far below what exp can hold", p[0], 0.5, 1e-15)
}

// Against gonum's chi-square distribution.
func TestChiSquareTail(t *testing.T) {
	t.Parallel()
	for _, n := range []int{1, 2, 3, 10, 60} {
		for _, x := range []float64{0.01, 1, 3, 10.83, 50, 200} {
			want := distuv.ChiSquared{K: float64(n)}.Survival(x)
			if got := ChiSquareTail(x, n); math.Abs(got-want) > 1e-10+1e-8*want {
				t.Errorf("n = %d, x = %g: %g, want %g", n, x, got, want)
			}
		}
	}
	if ChiSquareTail(-1, 3) != 1 || ChiSquareTail(2, 0) != 1 {
		t.Error("nothing to exceed is exceeded")
	}
}

// numbers draws a well-conditioned problem.
func numbers(t *rapid.T, n int) *Numbers {
	m := &Numbers{SlipRate: 0.02, Cov: make([]float64, n*n)}
	cell := rapid.Float64Range(-2, 2)
	loads := make([]float64, n*2)
	for i := range loads {
		loads[i] = cell.Draw(t, "load")
	}
	for i := range n {
		for k := range n {
			m.Cov[i*n+k] = loads[2*i]*loads[2*k] + loads[2*i+1]*loads[2*k+1]
		}
		m.Cov[i*n+i] += rapid.Float64Range(0.1, 2).Draw(t, "instrument")
		m.Residual = append(m.Residual, 5*cell.Draw(t, "residual"))
		m.LogStep = append(m.LogStep, -3)
		m.LogSlip = append(m.LogSlip, -7)
	}
	return m
}

// Leaving readings out by updates is the same as leaving them out of the
// density, as gonum computes it.
func TestScoreAgainstDensities(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "n")
		m := numbers(t, n)
		got, ok := m.Score()
		if !ok {
			t.Fatal("not positive definite")
		}
		want, slip := slowly(m, n)
		if math.Abs(got.LogLikelihood-want) > 1e-7*(1+math.Abs(want)) {
			t.Fatalf("ln L = %g, want %g", got.LogLikelihood, want)
		}
		for i := range slip {
			if math.Abs(got.Slip[i]-slip[i]) > 1e-7 {
				t.Fatalf("slip of %d: %g, want %g", i, got.Slip[i], slip[i])
			}
		}
	})
}

// slowly sums the densities of every subset with at most two readings left out.
func slowly(m *Numbers, n int) (logL float64, slip []float64) {
	logL = math.Inf(-1)
	slip = make([]float64, n)
	terms := map[int]float64{}
	for out := range 1 << n {
		var in []int
		w, count := 0.0, 0
		for i := range n {
			if out>>i&1 == 1 {
				w += math.Log(m.SlipRate) + m.LogSlip[i]
				count++
			} else {
				w += math.Log1p(-m.SlipRate) + m.LogStep[i]
				in = append(in, i)
			}
		}
		if count > 2 {
			continue
		}
		if len(in) > 0 {
			cov := mat.NewSymDense(len(in), nil)
			x := make([]float64, len(in))
			for a, i := range in {
				x[a] = m.Residual[i]
				for b, k := range in {
					cov.SetSym(a, b, m.Cov[i*n+k])
				}
			}
			normal, ok := distmv.NewNormal(make([]float64, len(in)), cov, nil)
			if !ok {
				panic("not positive definite")
			}
			w += normal.LogProb(x)
		}
		terms[out] = w
		logL = LogAdd(logL, w)
	}
	for out, w := range terms {
		for i := range n {
			if out>>i&1 == 1 {
				slip[i] += math.Exp(w - logL)
			}
		}
	}
	return logL, slip
}

// A further quantity given the readings, against the textbook formula.
func TestForesee(t *testing.T) {
	t.Parallel()
	m := &Numbers{Residual: []float64{1}, Cov: []float64{4}, LogStep: []float64{0}, LogSlip: []float64{-5}, SlipRate: 0.01}
	s, _ := m.Score()
	shift, left := s.Foresee([]float64{2}, 9)
	near(t, "shift", shift, 0.5, 1e-12)
	near(t, "variance", left, 8, 1e-12)
	var empty Numbers
	s, ok := empty.Score()
	if shift, left = s.Foresee(nil, 9); !ok || shift != 0 || left != 9 {
		t.Errorf("no readings: %g, %g, %t", shift, left, ok)
	}
}

func TestScoreRefuses(t *testing.T) {
	t.Parallel()
	m := &Numbers{Residual: []float64{1, 1}, Cov: []float64{1, 1, 1, 1}, LogStep: []float64{0, 0}, LogSlip: []float64{-5, -5}, SlipRate: 0.01}
	if _, ok := m.Score(); ok {
		t.Error("a singular covariance has a score")
	}
}

// A reading far outside makes its hypothesis only as unlikely as a slip is.
func TestScoreSlip(t *testing.T) {
	t.Parallel()
	m := &Numbers{Residual: []float64{0, 500}, Cov: []float64{1, 0, 0, 1}, LogStep: []float64{-3, -3}, LogSlip: []float64{-7, -7}, SlipRate: 0.02}
	s, _ := m.Score()
	near(t, "slip of the good one", s.Slip[0], 0, 1e-3)
	near(t, "slip of the bad one", s.Slip[1], 1, 1e-9)
	if s.LogLikelihood < -20 {
		t.Errorf("ln L = %g", s.LogLikelihood)
	}
}

// More tests never tell less, no test tells more than the entropy of the
// classes, and a class never counts against itself.
func TestGainsAreOrdered(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "hypotheses")
		s := &Study{Doubt: 0.01}
		total := 0.0
		for range n {
			s.P = append(s.P, rapid.Float64Range(0.05, 1).Draw(t, "p"))
			total += s.P[len(s.P)-1]
			s.Class = append(s.Class, rapid.IntRange(0, 2).Draw(t, "class"))
		}
		for h := range s.P {
			s.P[h] /= total
		}
		for range 3 {
			var out []Outcome
			for range n {
				out = append(out, Outcome{
					Mean: float64(rapid.IntRange(0, 3).Draw(t, "mean")), SD: 0.3,
					Over: float64(rapid.IntRange(0, 1).Draw(t, "over")) / 2,
				})
			}
			s.Tests = append(s.Tests, out)
		}
		b := s.Simulate(2000)
		j := b.Nothing()
		classes := make([]float64, 3)
		for h, p := range s.P {
			classes[s.Class[h]] += p
		}
		last := 0.0
		for test := range s.Tests {
			bits := j.Bits(test)
			if bits < last-0.08 { // of 2000 draws
				t.Fatalf("test %d lowers what is known from %g to %g bits", test, last, bits)
			}
			if bits > entropy(classes)+1e-9 {
				t.Fatalf("%g bits of %g", bits, entropy(classes))
			}
			j.Add(test)
			if again := j.Bits(-1); math.Abs(again-bits) > 1e-9 {
				t.Fatalf("added, the test tells %g instead of %g bits", again, bits)
			}
			last = bits
		}
		if f := j.Factor(0, 0); f != 0 {
			t.Fatalf("a class against itself: %g", f)
		}
	})
}

func TestFactor(t *testing.T) {
	t.Parallel()
	s := &Study{
		P: []float64{0.4, 0.4, 0.2}, Class: []int{0, 1, 2},
		Tests: [][]Outcome{{{Mean: 1, SD: 1}, {Mean: 1, SD: 1}, {Mean: 5, SD: 1}}},
	}
	b := s.Simulate(3000)
	j := b.Nothing()
	j.Add(0)
	near(t, "alike", j.Factor(0, 1), 0, 1e-9)
	near(t, "four deviations apart", j.Factor(0, 2), 8, 0.3) // ½·4²
	if !b.Tells(0) {
		t.Error("the test tells nothing")
	}
}

// Revising for some readings, and leaving some out, is what working everything out
// anew gives.
func TestReviseIsScore(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 7).Draw(t, "n")
		old := numbers(t, n)
		base, ok := old.Score()
		if !ok {
			t.Fatal("not positive definite")
		}
		// Of the old readings some stay, in another order, with new ones among them.
		total := rapid.IntRange(1, 7).Draw(t, "total")
		m := numbers(t, total)
		same := make([]int, total)
		free := rapid.Permutation(seq(n)).Draw(t, "order")
		for i := range same {
			same[i] = -1
			if len(free) > 0 && rapid.Bool().Draw(t, "stays") {
				same[i], free = free[0], free[1:]
				m.Residual[i], m.LogStep[i], m.LogSlip[i] = old.Residual[same[i]], old.LogStep[same[i]], old.LogSlip[same[i]]
			}
		}
		for i, a := range same {
			for j, b := range same {
				switch {
				case a >= 0 && b >= 0:
					m.Cov[i*total+j] = old.Cov[a*n+b]
				case a >= 0 || b >= 0: // weakly bound, so that the whole stays definite
					m.Cov[i*total+j] *= 0.01
				}
			}
		}
		want, ok := m.Score()
		if !ok {
			return // such readings have no density
		}
		got, ok := base.Revise(m, same)
		if !ok {
			t.Fatal("not definite when revised")
		}
		alike(t, "ln L", got.LogLikelihood, want.LogLikelihood)
		alike(t, "χ²", got.ChiSquare, want.ChiSquare)
		cross := make([]float64, total)
		for i := range same {
			alike(t, "left", got.Left[i], want.Left[i])
			alike(t, "SD", got.SD[i], want.SD[i])
			alike(t, "slip", got.Slip[i], want.Slip[i])
			cross[i] = 0.1 * float64(i+1)
		}
		shift, left := got.Foresee(cross, 1e3)
		wantShift, wantLeft := want.Foresee(cross, 1e3)
		alike(t, "shift", shift, wantShift)
		alike(t, "left of a further one", left, wantLeft)

		var keep []int
		less := &Numbers{SlipRate: m.SlipRate}
		for i := range same {
			if i%2 == 0 {
				keep = append(keep, i)
				less.Residual, less.LogStep, less.LogSlip = append(less.Residual, m.Residual[i]), append(less.LogStep, 0), append(less.LogSlip, 0)
			}
		}
		for _, i := range keep {
			for _, j := range keep {
				less.Cov = append(less.Cov, m.Cov[i*total+j])
			}
		}
		want, _ = less.Score()
		got, ok = got.Without(keep)
		if !ok {
			t.Fatal("not definite without some")
		}
		alike(t, "χ² without some", got.ChiSquare, want.ChiSquare)
		for i := range keep {
			alike(t, "left without some", got.Left[i], want.Left[i])
		}
	})
}

func alike(t *rapid.T, what string, got, want float64) {
	if math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
		t.Fatalf("%s: %.12g, want %.12g", what, got, want)
	}
}

func seq(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}
