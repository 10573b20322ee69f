package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// TestDraw: the addressed draws are uniform from −1 to 1, independent in both
// directions, and always the same.
func TestDraw(t *testing.T) {
	t.Parallel()
	const n = 20000
	var sum, squares, along, across float64
	buckets := make([]int, 20)
	for k := range n {
		x := draw(k, 3)
		if x < -1 || x >= 1 {
			t.Fatalf("draw %d is %g", k, x)
		}
		sum += x
		squares += x * x
		along += x * draw(k+1, 3)
		across += x * draw(k, 4)
		buckets[int((x+1)*10)]++
	}
	for name, got := range map[string]float64{"mean": sum / n, "next draw": along / n, "next tolerance": across / n, "variance": squares/n - 1.0/3} {
		if math.Abs(got) > 0.012 { // four standard errors
			t.Errorf("%s off by %.4f", name, got)
		}
	}
	for i, c := range buckets {
		if math.Abs(float64(c)-n/20) > 5*math.Sqrt(n/20) {
			t.Errorf("bucket %d holds %d of %d", i, c, n)
		}
	}
	if draw(5, 7) != draw(5, 7) || draw(5, 7) == draw(7, 5) {
		t.Error("a draw must have its own value, always the same")
	}
}

// TestChosen: the slices cover the whole ranking once, symmetrically, and are
// thin at both ends.
func TestChosen(t *testing.T) {
	t.Parallel()
	at, solved := 0, 0
	cs := chosen()
	for i, s := range cs {
		if s.from != at || s.to <= s.from || s.solve < 1 || s.solve > s.to-s.from {
			t.Fatalf("slice %d: %+v after %d", i, s, at)
		}
		at = s.to
		solved += s.solve
		if m := cs[len(cs)-1-i]; m.to-m.from != s.to-s.from || m.solve != s.solve {
			t.Errorf("slice %d is not like its mirror image", i)
		}
	}
	if at != drawDepth || solved > 300 {
		t.Errorf("%d of %d covered, %d solved", at, drawDepth, solved)
	}
	if first := cs[0]; first.to > drawDepth/1000 {
		t.Errorf("the outermost slice holds %d", first.to)
	}
}

// TestCutInterpolates: through its five places exactly, and a polynomial of the
// fourth degree everywhere.
func TestCutInterpolates(t *testing.T) {
	t.Parallel()
	f := func(x float64) float64 { return 1.5*x - 0.3*x*x + 0.2*x*x*x - 0.7*x*x*x*x }
	c := cut{}
	for i, x := range cutAt {
		c.move[i] = f(x)
	}
	c.join()
	for x := -1.0; x <= 1; x += 0.1 {
		if got := c.at(x); math.Abs(got-f(x)) > 1e-12 {
			t.Errorf("at %.1f: %.6f, want %.6f", x, got, f(x))
		}
	}
	if size := c.size(); size <= 0 {
		t.Errorf("size %g", size)
	}
}

// TestSampleOfSomethingStraight: sampling a straight reading gives the quantiles
// that the sum of uniforms has.
func TestSampleOfSomethingStraight(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	for _, id := range []string{"live-vb", "rpu", "live-oi"} {
		c, ok := m.profile.Check(id)
		if !ok {
			t.Fatal(id)
		}
		b, e := expected(t, m, *c)
		if e.bent {
			t.Fatalf("%s bends", id)
		}
		d, err := b.sample(e.nominal)
		if err != nil {
			t.Fatal(err)
		}
		var s expectation
		s.bands(d)
		width := e.high.Value - e.low.Value
		for name, pair := range map[string][2]Shown{"low": {e.low, s.low}, "high": {e.high, s.high}, "guard low": {e.guardLow, s.guardLow}, "guard high": {e.guardHigh, s.guardHigh}} {
			if math.Abs(pair[0].Value-pair[1].Value) > 0.04*width {
				t.Errorf("%s %s: %v as a sum, %v by sampling (band %.4g wide)", id, name, pair[0], pair[1], width)
			}
		}
	}
}

// TestTwoPeaks: a reading through a junction may straddle a range of the meter.
// Its distribution then has two peaks, and the band holds both.
func TestTwoPeaks(t *testing.T) {
	t.Parallel()
	m := model(t, `
parts:
  D1: {kind: diode, pins: {anode: a, cathode: gnd}, forward: 0.54 V, tolerance: 10 %}
`)
	b, e := expected(t, m, mustResolve(t, m, check("cold", "resistance", "D1", "", "")))
	if !e.bent {
		t.Fatal("a junction alone bends")
	}
	c := simulate(t, b, &e, 4000, 3)
	verify(t, "two peaks", &e, c, 4000)
	ranges := map[int]int{}
	xi := make([]float64, len(b.at))
	var values []float64
	for k := range 400 {
		xi[0] = 2*float64(k)/399 - 1
		b.set(xi)
		r, err := b.read()
		if err != nil {
			t.Fatal(err)
		}
		ranges[r.Range]++
		values = append(values, r.Value)
	}
	b.set(nil)
	if len(ranges) < 2 {
		t.Fatalf("the reading stays on one range: %v; choose another forward voltage", ranges)
	}
	for _, v := range values {
		if v > 6e3 && v < 20e3 {
			t.Errorf("%.0f Ω lies between the peaks", v)
		}
	}
	if e.low.Value > 6e3 || e.high.Value < 20e3 {
		t.Errorf("the band %v to %v does not hold both peaks", e.low, e.high)
	}
}

func mustResolve(t testing.TB, m *Model, c profile.Check) profile.Check {
	t.Helper()
	c, err := m.profile.Resolve(c)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestSamplingIsSteady: the same profile and meter always give the same band.
func TestSamplingIsSteady(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-f"), meter.Default())
	c, ok := m.profile.Check("r17")
	if !ok {
		t.Fatal("no such check")
	}
	_, one := expected(t, m, *c)
	_, two := expected(t, m, *c)
	if one.low != two.low || one.high != two.high || one.guardLow != two.guardLow || one.guardHigh != two.guardHigh {
		t.Errorf("%v to %v, then %v to %v", one.low, one.high, two.low, two.high)
	}
}

// TestMeterBelongsToTheBand: a meter that tests with 0.25 V leaves junctions
// out, so the same good board reads differently with it.
func TestMeterBelongsToTheBand(t *testing.T) {
	t.Parallel()
	p := shipped(t, "sedge-d")
	low := *meter.Default()
	low.Resistance.OpenCircuit = 0.25
	c, ok := p.Check("r17")
	if !ok {
		t.Fatal("no such check")
	}
	_, half := expected(t, NewModel(p, meter.Default()), *c)
	_, quarter := expected(t, NewModel(p, &low), *c)
	if quarter.typical.Value < half.typical.Value*1.05 {
		t.Errorf("with 0.5 V %v, with 0.25 V %v: nearer to the 6.8 kΩ of the part", half.typical, quarter.typical)
	}
}

// TestRankKey: keys order as the readings do, equal readings by the draw, which
// can be told from the key.
func TestRankKey(t *testing.T) {
	t.Parallel()
	rising := []float64{-1e300, -2.5, -1, -1e-9, 0, 1e-9, 1, 1.0001, 1e300}
	for i, v := range rising {
		for _, k := range []int{0, 1, drawDepth - 1} {
			key := rankKey(v, k)
			if int(key%drawDepth) != k {
				t.Errorf("draw %d of %g is told as %d", k, v, key%drawDepth)
			}
			if i > 0 && key <= rankKey(rising[i-1], drawDepth-1) {
				t.Errorf("%g does not come after %g", v, rising[i-1])
			}
		}
	}
	if rankKey(1, 5) >= rankKey(1, 6) {
		t.Error("equal readings must keep the order of their draws")
	}
}
