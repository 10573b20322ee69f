package belief

import (
	"math"
	"math/bits"
	"testing"
)

// The adder–multiplier circuit of de Kleer and Williams, Diagnosing multiple
// faults, Artificial Intelligence 32 (1987), 97–130: M1 = A·C → X, M2 = B·D → Y,
// M3 = C·E → Z, A1 = X + Y → F, A2 = Y + Z → G, with A 3, B 2, C 2, D 3, E 3 and
// observed F = 10, G = 12. A hypothesis is the set of parts that are bad; a bad
// part may do anything. The circuit, its conflicts and diagnoses are from memory
// of the paper; the probabilities were recomputed by enumeration.
const (
	partM1 = 1 << iota
	partM2
	partM3
	partA1
	partA2
	allSets = 1 << 5
)

// machine solves the circuit for the values of X, Y, Z, F, G that follow when the
// parts outside bad are good and some values are known.
type machine map[string]int

// close derives what follows and reports whether it is without contradiction.
func (m machine) close(bad int) bool {
	sound := true
	set := func(name string, v int) bool {
		if old, ok := m[name]; ok {
			sound = sound && old == v
			return false
		}
		m[name] = v
		return true
	}
	sum := func(a, b, c string) bool { // a + b = c
		x, okx := m[a]
		y, oky := m[b]
		z, okz := m[c]
		switch {
		case okx && oky:
			return set(c, x+y)
		case okx && okz:
			return set(b, z-x)
		case oky && okz:
			return set(a, z-y)
		}
		return false
	}
	for moved := true; moved; {
		moved = false
		moved = bad&partM1 == 0 && set("X", 3*2) || moved
		moved = bad&partM2 == 0 && set("Y", 2*3) || moved
		moved = bad&partM3 == 0 && set("Z", 2*3) || moved
		moved = bad&partA1 == 0 && sum("X", "Y", "F") || moved
		moved = bad&partA2 == 0 && sum("Y", "Z", "G") || moved
	}
	return sound
}

// believed gives the probability of every set after what was observed, and what
// each set predicts of X, Y, Z (NaN: nothing).
func believed(observed machine) (p []float64, predicted map[string][]float64) {
	weight := make([]float64, allSets)
	predicted = map[string][]float64{"X": make([]float64, allSets), "Y": make([]float64, allSets), "Z": make([]float64, allSets)}
	for bad := range allSets {
		m := machine{}
		for k, v := range observed {
			m[k] = v
		}
		weight[bad] = math.Inf(-1)
		if m.close(bad) {
			n := bits.OnesCount(uint(bad))
			weight[bad] = float64(n)*math.Log(0.01) + float64(5-n)*math.Log(0.99)
		}
		for name := range predicted {
			predicted[name][bad] = math.NaN()
			if v, ok := m[name]; ok {
				predicted[name][bad] = float64(v)
			}
		}
	}
	p, _ = Posterior(weight)
	return p, predicted
}

// probes makes a Study of probing X, Y and Z: a value that a set predicts is
// certain, none is the outcome "nothing to say".
func probes(p []float64, predicted map[string][]float64) *Study {
	s := &Study{}
	index := make([]int, len(p))
	for set, x := range p {
		index[set] = len(s.P)
		if x > 0 {
			s.P = append(s.P, x)
			s.Class = append(s.Class, len(s.Class))
		}
	}
	for _, name := range []string{"X", "Y", "Z"} {
		var outcomes []Outcome
		for set, x := range p {
			if v := predicted[name][set]; x > 0 && math.IsNaN(v) {
				outcomes = append(outcomes, Outcome{Over: 1})
			} else if x > 0 {
				outcomes = append(outcomes, Outcome{Mean: v})
			}
		}
		s.Tests = append(s.Tests, outcomes)
	}
	return s
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within || math.IsNaN(got) {
		t.Errorf("%s is %.6f, want %.6f", what, got, want)
	}
}

// PB-01 to PB-03: conflicts are sets whose goodness contradicts what was seen;
// diagnoses are their smallest hitting sets.
func TestAdderMultiplierSets(t *testing.T) {
	t.Parallel()
	observed := machine{"F": 10, "G": 12}
	p, _ := believed(observed)
	consistent := 0
	var diagnoses, conflicts []int
	for set := range allSets {
		if p[set] > 0 {
			consistent++
		}
	}
	smallest := func(from []int, set int) []int {
		for _, old := range from {
			if old&set == old {
				return from
			}
		}
		return append(from, set)
	}
	for size := range 6 {
		for set := range allSets {
			if bits.OnesCount(uint(set)) != size {
				continue
			}
			if p[set] > 0 {
				diagnoses = smallest(diagnoses, set)
			}
			if p[allSets-1-set] == 0 { // the rest being bad does not explain it
				conflicts = smallest(conflicts, set)
			}
		}
	}
	if consistent != 27 {
		t.Errorf("%d sets are consistent, want 27 of 32", consistent)
	}
	same(t, "diagnoses", diagnoses, []int{partM1, partA1, partM2 | partM3, partM2 | partA2})
	same(t, "conflicts", conflicts, []int{partM1 | partM2 | partA1, partM1 | partM3 | partA1 | partA2})
}

func same(t *testing.T, what string, got, want []int) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s %v, want %v", what, got, want)
		return
	}
	for i := range got {
		if got[i] != want[i] {
			t.Errorf("%s %v, want %v", what, got, want)
			return
		}
	}
}

// PB-04 to PB-07.
func TestAdderMultiplierProbes(t *testing.T) {
	t.Parallel()
	p, predicted := believed(machine{"F": 10, "G": 12})
	near(t, "{A1}", p[partA1], 0.47803, 5e-6)
	near(t, "{M1}", p[partM1], 0.47803, 5e-6)
	near(t, "{A2, M2}", p[partA2|partM2], 0.00483, 5e-6)
	near(t, "{M2, M3}", p[partM2|partM3], 0.00483, 5e-6)
	share := func(name string, v float64) float64 {
		sum := 0.0
		for set, x := range p {
			if got := predicted[name][set]; got == v || math.IsNaN(got) && math.IsNaN(v) {
				sum += x
			}
		}
		return sum
	}
	for _, c := range []struct {
		name string
		v, p float64
	}{
		{"X", 6, 0.50236}, {"X", 4, 0.49256}, {"X", math.NaN(), 0.00507},
		{"Y", 6, 0.99010}, {"Y", 4, 0.00971}, {"Z", 6, 0.99493}, {"Z", 8, 0.00483},
	} {
		near(t, c.name, share(c.name, c.v), c.p, 6e-6)
	}
	b := probes(p, predicted).Simulate(32)
	none := b.Nothing()
	best := 0
	for i, want := range []float64{1.0408, 0.0815, 0.0474} {
		near(t, "gain of "+[]string{"X", "Y", "Z"}[i], none.Bits(i), want, 6e-5)
		if none.Bits(i) > none.Bits(best) {
			best = i
		}
	}
	if best != 0 {
		t.Errorf("the best probe is %d, want X", best)
	}
}

// PB-08 to PB-11.
func TestAdderMultiplierAfterProbe(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		v    int
		want map[int]float64
		sets int
	}{
		{"X", 6, map[int]float64{partA1: 0.94204, partA2 | partM2: 0.00952, partM2 | partM3: 0.00952}, 0},
		{"X", 4, map[int]float64{partM1: 0.96060}, 16},
		{"Y", 6, map[int]float64{partA1: 0.48271, partM1: 0.48271}, 0},
		{"Y", 4, map[int]float64{partA2 | partM2: 0.48759, partM2 | partM3: 0.48759}, 0},
	} {
		p, _ := believed(machine{"F": 10, "G": 12, c.name: c.v})
		for set, want := range c.want {
			near(t, c.name, p[set], want, 6e-6)
		}
		n := 0
		for _, x := range p {
			if x > 0 {
				n++
			}
		}
		if c.sets > 0 && n != c.sets {
			t.Errorf("%s = %d leaves %d sets, want %d", c.name, c.v, n, c.sets)
		}
	}
}

// HB-01: a chain of n equally likely stages with good/bad tests between them
// takes ⌈log2 n⌉ tests when each is the one of the largest gain.
func TestHalfSplit(t *testing.T) {
	t.Parallel()
	for n, want := range map[int]int{8: 3, 10: 4, 16: 4, 100: 7} {
		worst := 0
		for bad := range n {
			worst = max(worst, probesUntilFound(n, bad))
		}
		if worst != want {
			t.Errorf("%d stages take up to %d tests, want %d", n, worst, want)
		}
	}
}

func probesUntilFound(n, bad int) int {
	p := make([]float64, n)
	for i := range p {
		p[i] = 1 / float64(n)
	}
	for made := 0; ; made++ {
		if p[bad] == 1 {
			return made
		}
		s := &Study{P: p, Class: make([]int, n)}
		for h := range n {
			s.Class[h] = h
		}
		for after := range n - 1 { // the signal after this stage is bad when the bad stage is not later
			out := make([]Outcome, n)
			for h := range out {
				if h <= after {
					out[h].Over = 1
				}
			}
			s.Tests = append(s.Tests, out)
		}
		j := s.Simulate(n).Nothing()
		best := 0
		for test := range s.Tests {
			if j.Bits(test) > j.Bits(best)+1e-12 {
				best = test
			}
		}
		weight := make([]float64, n)
		for h := range weight {
			weight[h] = math.Inf(-1)
			if (h <= best) == (bad <= best) {
				weight[h] = math.Log(p[h])
			}
		}
		p, _ = Posterior(weight)
	}
}

// entropy gives −Σ p·log2 p in bits.
func entropy(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}

// HB-02: with priors 0.5, 0.25, 0.125, 0.125 and tests of one at a time, the
// entropy is 1.75 bits and the best first test is the likeliest.
func TestShannonBound(t *testing.T) {
	t.Parallel()
	p := []float64{0.5, 0.25, 0.125, 0.125}
	near(t, "entropy", entropy(p), 1.75, 1e-12)
	s := &Study{P: p, Class: []int{0, 1, 2, 3}}
	for tested := range p {
		out := make([]Outcome, 4)
		out[tested].Over = 1
		s.Tests = append(s.Tests, out)
	}
	b := s.Simulate(8)
	j := b.Nothing()
	for test, want := range []float64{1, 0.8113, 0.5436, 0.5436} { // h(0.5), h(0.25), h(0.125)
		near(t, "gain", j.Bits(test), want, 1e-4)
	}
	j.Add(0)
	near(t, "gain of two", j.Bits(1), 1.5, 1e-4)
	j.Add(1)
	near(t, "gain of three", j.Bits(2), 1.75, 1e-4)
}

// HB-03: a test tells the entropy of its outcome.
func TestTwoOutcomes(t *testing.T) {
	t.Parallel()
	for p, want := range map[float64]float64{0.5: 1, 0.9: 0.4690, 0.99: 0.0808} {
		s := &Study{P: []float64{p, 1 - p}, Class: []int{0, 1}, Tests: [][]Outcome{{{Over: 1}, {Mean: 3, SD: 0.1}}}}
		near(t, "gain", s.Simulate(100).Nothing().Bits(0), want, 1e-4)
	}
}
