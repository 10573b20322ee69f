package analysis

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// coverage is how a simulated population of good boards reads against a band.
type coverage struct {
	inside   float64 // share within the inner 99 %
	strictly float64 // share within it and not on its outermost digits
	beyond   float64 // share beyond the guard
}

// simulate draws good boards, parts and sources uniform within tolerance, and
// an instrument uniform within its accuracy, and counts what it displays. It
// shares the circuit and the instrument with the expectation, but neither its
// linearisation nor its sampling.
func simulate(t *testing.T, b *bench, e *expectation, n int, seed uint64) coverage {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 99))
	xi := make([]float64, len(b.at))
	var c coverage
	for range n {
		for i := range xi {
			xi[i] = 2*rng.Float64() - 1
		}
		b.set(xi)
		r, err := b.read()
		if err != nil {
			t.Fatal(err)
		}
		v, over := r.Show(2*rng.Float64() - 1)
		s := Shown{v, over}
		if !s.less(e.low) && !e.high.less(s) {
			c.inside++
		}
		if e.low.less(s) && s.less(e.high) {
			c.strictly++
		}
		if s.less(e.guardLow) || e.guardHigh.less(s) {
			c.beyond++
		}
	}
	b.set(nil)
	c.inside, c.strictly, c.beyond = c.inside/float64(n), c.strictly/float64(n), c.beyond/float64(n)
	return c
}

// verify holds a band to what was simulated: 98.5 to 99.5 % within it where the
// reading is near linear, 98 to 99.8 % where it bends, at most 0.1 % beyond the
// guard; all with the chance of the simulation itself. A display has
// digits, so a band of whole digits may hold more: then what lies strictly
// inside it must hold less.
func verify(t *testing.T, name string, e *expectation, c coverage, n int) {
	t.Helper()
	low, high, guard := 0.985, 0.995, 0.001
	if e.bent {
		low, high = 0.98, 0.998
	}
	three := func(p float64) float64 { return 3 * sqrt(p*(1-p)/float64(n)) }
	if c.inside < low-three(low) {
		t.Errorf("%s [%v %v] (bent %t): only %.2f %% of good boards within", name, e.low, e.high, e.bent, 100*c.inside)
	}
	narrow := e.low != e.high && !(e.low.Value == 0 && !e.low.OverRange) && !e.high.OverRange
	if narrow && c.strictly > high+three(high) {
		t.Errorf("%s [%v %v] (bent %t): %.2f %% of good boards strictly within, the band is too wide", name, e.low, e.high, e.bent, 100*c.strictly)
	}
	// Few are beyond the guard: a count, bounded as one (Poisson, about 1e-5).
	mean := guard * float64(n)
	if c.beyond*float64(n) > mean+4.5*sqrt(mean)+2 {
		t.Errorf("%s: %.3f %% of good boards beyond the guard [%v %v]", name, 100*c.beyond, e.guardLow, e.guardHigh)
	}
}

// TestBandsHoldGoodBoards is the quick simulation: a handful of checks, near
// linear and bent, cold and powered.
func TestBandsHoldGoodBoards(t *testing.T) {
	t.Parallel()
	const n = 3000
	tests := []struct {
		profile string
		checks  []string
	}{
		{"sedge-d", []string{"r11", "r17", "r18", "r1", "rt1", "u7-led", "psw", "v5", "chain", "inj-vb", "live-bus", "live-vb", "live-oi", "r17-lifted"}},
		{"sedge-f", []string{"r11", "r17", "live-vb"}},
	}
	for _, tt := range tests {
		m := NewModel(shipped(t, tt.profile), meter.Default())
		bent := 0
		for i, id := range tt.checks {
			c, ok := m.profile.Check(id)
			if !ok {
				t.Fatalf("%s has no check %s", tt.profile, id)
			}
			b, e := expected(t, m, *c)
			verify(t, tt.profile+" "+id, &e, simulate(t, b, &e, n, uint64(i)), n)
			if e.bent {
				bent++
			}
		}
		if bent == 0 || bent == len(tt.checks) {
			t.Errorf("%s: %d of %d checks bend; the test wants both sorts", tt.profile, bent, len(tt.checks))
		}
	}
}

// TestEveryBandHoldsGoodBoards is the full simulation, over every check of the
// shipped profiles. OHMSTEAD_BOARDS sets how many good boards are drawn for
// each; 3000 take some minutes and see deviations of half a per cent.
func TestEveryBandHoldsGoodBoards(t *testing.T) {
	if testing.Short() {
		t.Skip("the full simulation takes half a minute: run without -short")
	}
	t.Parallel()
	n := 400
	if s := os.Getenv("OHMSTEAD_BOARDS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	for _, id := range []string{"sedge-d", "sedge-f", "hearth-2", "hearth-3", "packhorse-a", "packhorse-c"} {
		m := NewModel(shipped(t, id), meter.Default())
		for i, c := range m.profile.Checks {
			if c.Measure == profile.MeasureESR && m.unknownESR(c) {
				continue
			}
			b, e := expected(t, m, c)
			verify(t, id+" "+c.ID, &e, simulate(t, b, &e, n, uint64(1000+i)), n)
		}
	}
}

func expected(t *testing.T, m *Model, c profile.Check) (*bench, expectation) {
	t.Helper()
	b, err := m.newBench(c, nil)
	if err != nil {
		t.Fatal(err)
	}
	e := expectOn(b)
	if e.err != nil {
		t.Fatal(c.ID, e.err)
	}
	return b, e
}
