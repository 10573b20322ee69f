package circuit

import (
	"math"
	"testing"
)

// follow steps a circuit to the times given.
func followTo(t *testing.T, tr *Transient, times []float64, see func(k int)) {
	t.Helper()
	last := 0.0
	for k, at := range times {
		if err := tr.Step(at - last); err != nil {
			t.Fatal(err)
		}
		last = at
		see(k)
	}
}

// decades gives times from low to high, so many a decade.
func decades(low, high float64, n int) []float64 {
	var out []float64
	for t := low; t <= high*1.0001; t *= math.Pow(10, 1/float64(n)) {
		out = append(out, t)
	}
	return out
}

// TestCharging compares with V·(1 − e^(−t/τ)), τ = C·(R ∥ R_ref): 1 MΩ and
// 680 µF on a range with a 1 MΩ reference, 340 s.
func TestCharging(t *testing.T) {
	t.Parallel()
	b := build()
	b.r("x", "0", 1e6)
	b.c("x", "0", 680e-6, 0)
	tr := NewTransient(b.Circuit)
	tr.Attach(Probe{Red: b.Node("x"), Black: b.Node("0"), Volts: 0.5, Ohms: 1e6})
	times := decades(0.01, 1e4, 40)
	followTo(t, tr, times, func(k int) {
		want := 0.25 * -math.Expm1(-times[k]/340)
		if got := tr.Volts(b.Node("x"), 0); math.Abs(got-want) > 2e-3*want+1e-9 && math.Abs(got-want) > 1e-3*0.25 {
			t.Errorf("after %.3g s: %.6f V, want %.6f", times[k], got, want)
		}
	})
}

// TestTwoTimeConstants compares a ladder of two sections with its exact
// solution by the eigenvalues of a 2 × 2 matrix.
func TestTwoTimeConstants(t *testing.T) {
	t.Parallel()
	const r, c = 10e3, 10e-6
	b := build()
	b.v("s", "0", 1)
	b.r("s", "a", r)
	b.c("a", "0", c, 0)
	b.r("a", "b", r)
	b.c("b", "0", c, 0)
	tr := NewTransient(b.Circuit)
	// RC·d/dt(a, b) = [−2 1; 1 −1](a, b) + (1, 0): eigenvalues (−3 ± √5)/2.
	l1, l2 := (-3+math.Sqrt(5))/2, (-3-math.Sqrt(5))/2
	// b(t) = 1 + k1·e^(l1 t/RC) + k2·e^(l2 t/RC), b(0) = 0, b'(0) = 0.
	k1 := l2 / (l1 - l2)
	k2 := -1 - k1
	times := decades(1e-4, 2, 40)
	followTo(t, tr, times, func(k int) {
		x := times[k] / (r * c)
		want := 1 + k1*math.Exp(l1*x) + k2*math.Exp(l2*x)
		if got := tr.Volts(b.Node("b"), 0); math.Abs(got-want) > 3e-3 {
			t.Errorf("after %.3g s: %.5f V, want %.5f", times[k], got, want)
		}
	})
}

// TestClamp: a junction that clamps the charging.
func TestClamp(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("s", "0", 10)
	b.r("s", "x", 1e3)
	b.c("x", "0", 100e-6, 0)
	b.d("x", "0", 0.6)
	tr := NewTransient(b.Circuit)
	x := b.Node("x")
	times := decades(1e-4, 1, 40)
	followTo(t, tr, times, func(int) {})
	if v := tr.Volts(x, 0); v < 0.6 || v > 0.75 {
		t.Errorf("clamped at %.4f V", v)
	}
}

// TestSettlesToDirectCurrent: after long enough, every node stands where the
// direct-current solution has it.
func TestSettlesToDirectCurrent(t *testing.T) {
	t.Parallel()
	for seed := range uint64(60) {
		o := newOracleCircuit(seed)
		for range 3 {
			o.c(o.any(), o.any(), 1e-6, 0)
		}
		dc := NewSolver(o.Circuit)
		if err := dc.Solve(); err != nil {
			t.Fatal(seed, err)
		}
		levels, err := dc.Levels()
		if err != nil {
			t.Fatal(seed, err)
		}
		tr := NewTransient(o.Circuit)
		followTo(t, tr, decades(1e-6, 1e5, 10), func(int) {})
		for n, l := range levels {
			got := tr.Volts(Node(n), 0)
			if !l.Floating && math.Abs(got-l.Volts) > 1e-5*(1+math.Abs(l.Volts)) {
				t.Errorf("circuit %d, node %s: %.6f V at last, %.6f V at direct current", seed, o.Name(Node(n)), got, l.Volts)
			}
		}
	}
}
