package belief

import "math"

// Outcome is what a hypothesis foresees of a test: over-range (or "nothing to
// say") with probability Over, otherwise a number, normal about Mean.
type Outcome struct {
	Mean, SD, Over float64
}

// Study is a set of hypotheses and the tests that could be made. What is asked
// for is the class of the true hypothesis, not the hypothesis: two sizes of one
// fault are one class.
type Study struct {
	P     []float64   // probability of each hypothesis; sums to 1
	Class []int       // class of each hypothesis, from 0
	Tests [][]Outcome // of each test, by hypothesis

	// Doubt is the probability with which any test goes wrong and shows
	// anything whatever; without it one careless reading would be certainty.
	Doubt float64
}

// Bench is a Study whose tests have been tried on simulated truths: outcomes
// are drawn from every hypothesis, in proportion to its probability, always the
// same ones. The expected information of a test is the mean of
// log2 P(class | outcome)/P(class) over the draws.
type Bench struct {
	study   *Study
	classes int
	prior   []float64 // of each class
	draws   []truth
	kinds   [][]int       // of each test, by hypothesis: which of its distinct outcomes
	like    [][][]float64 // of each test, by draw, by kind: likelihood of the drawn outcome
}

// truth is one draw: a hypothesis and its share of all draws.
type truth struct {
	hypothesis int
	weight     float64
}

// Simulate draws about so many outcomes of every test.
func (s *Study) Simulate(draws int) *Bench {
	b := &Bench{study: s}
	for _, c := range s.Class {
		b.classes = max(b.classes, c+1)
	}
	b.prior = make([]float64, b.classes)
	for h, p := range s.P {
		b.prior[s.Class[h]] += p
		if p <= 0 {
			continue
		}
		n := max(1, int(math.Round(p*float64(draws))))
		for range n {
			b.draws = append(b.draws, truth{h, p / float64(n)})
		}
	}
	for t := range s.Tests {
		b.try(t)
	}
	return b
}

// try draws the outcomes of one test and weighs them.
func (b *Bench) try(t int) {
	outcomes := b.study.Tests[t]
	kind := make([]int, len(outcomes))
	var distinct []Outcome
	for h, o := range outcomes {
		kind[h] = -1
		for k := range distinct {
			if distinct[k].like(o) {
				kind[h] = k
				break
			}
		}
		if kind[h] < 0 {
			kind[h] = len(distinct)
			distinct = append(distinct, o)
		}
	}
	b.kinds = append(b.kinds, kind)
	like := make([][]float64, len(b.draws))
	if len(distinct) > 1 {
		wide := breadth(distinct)
		for d, tr := range b.draws {
			over, y := distinct[kind[tr.hypothesis]].draw(uniform(d, 2*t), uniform(d, 2*t+1))
			like[d] = make([]float64, len(distinct))
			for k := range distinct {
				like[d][k] = distinct[k].density(over, y, wide, b.study.Doubt)
			}
		}
	}
	b.like = append(b.like, like)
}

// like tells whether two outcomes cannot be told apart by any number of draws
// that matters.
func (o Outcome) like(p Outcome) bool {
	if math.Abs(o.Over-p.Over) > 1e-3 {
		return false
	}
	if o.Over > 0.999 {
		return true
	}
	sd := max(o.sd(), p.sd())
	return math.Abs(o.Mean-p.Mean) < 0.02*sd && math.Abs(o.sd()-p.sd()) < 0.02*sd
}

// sd gives the standard deviation, never quite 0.
func (o Outcome) sd() float64 { return max(o.SD, 1e-9*(1+math.Abs(o.Mean))) }

// breadth gives a width within which any reading would lie.
func breadth(all []Outcome) float64 {
	low, high, sd := math.Inf(1), math.Inf(-1), 0.0
	for _, o := range all {
		if o.Over < 1 {
			low, high, sd = min(low, o.Mean), max(high, o.Mean), max(sd, o.sd())
		}
	}
	if low > high {
		return 1
	}
	return high - low + 10*sd
}

// draw gives the outcome at two numbers between 0 and 1.
func (o Outcome) draw(u, v float64) (over bool, y float64) {
	if u < o.Over {
		return true, 0
	}
	return false, o.Mean + o.sd()*math.Sqrt2*math.Erfinv(2*v-1)
}

// density gives the likelihood of an outcome. A doubtful test shows over-range
// half the time and otherwise anything within wide.
func (o Outcome) density(over bool, y, wide, doubt float64) float64 {
	if over {
		return (1-doubt)*o.Over + doubt/2
	}
	z := (y - o.Mean) / o.sd()
	return (1-doubt)*(1-o.Over)*math.Exp(-z*z/2)/(o.sd()*math.Sqrt(2*math.Pi)) + doubt/(2*wide)
}

// uniform gives the number of draw d in dimension t, between 0 and 1 (the
// splitmix64 generator, addressed instead of stepped).
func uniform(d, t int) float64 {
	z := uint64(d+1)*0x9e3779b97f4a7c15 + uint64(t+1)*0xd1342543de82ef95
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return (float64(z>>11) + 0.5) / (1 << 53)
}

// Joint is what tests made together would tell; tests are added one by one.
type Joint struct {
	bench  *Bench
	weight [][]float64 // by draw, by hypothesis: probability × likelihoods so far
}

// Nothing is a Joint without tests.
func (b *Bench) Nothing() *Joint {
	j := &Joint{bench: b, weight: make([][]float64, len(b.draws))}
	for d := range b.draws {
		j.weight[d] = b.study.P
	}
	return j
}

// Bits gives the information that the tests so far and one more are expected to
// give about the class; −1 is no further test.
func (j *Joint) Bits(test int) float64 {
	b := j.bench
	sum := 0.0
	for d, tr := range b.draws {
		class := b.study.Class[tr.hypothesis]
		own, all := 0.0, 0.0
		var like []float64
		if test >= 0 {
			like = b.like[test][d]
		}
		if like == nil {
			for h, w := range j.weight[d] {
				all += w
				if b.study.Class[h] == class {
					own += w
				}
			}
		} else {
			kind := b.kinds[test]
			for h, w := range j.weight[d] {
				w *= like[kind[h]]
				all += w
				if b.study.Class[h] == class {
					own += w
				}
			}
		}
		if own > 0 {
			sum += tr.weight * math.Log2(own/(all*b.prior[class]))
		}
	}
	return max(sum, 0)
}

// Add adds a test.
func (j *Joint) Add(test int) {
	b := j.bench
	kind := b.kinds[test]
	for d := range b.draws {
		like := b.like[test][d]
		if like == nil {
			continue
		}
		most := 0.0
		for _, x := range like {
			most = max(most, x)
		}
		w := make([]float64, len(j.weight[d]))
		for h := range w {
			w[h] = j.weight[d][h] * like[kind[h]] / most
		}
		j.weight[d] = w
	}
}

// Tells reports whether a test can tell anything at all.
func (b *Bench) Tells(test int) bool {
	for _, l := range b.like[test] {
		if l != nil {
			return true
		}
	}
	return false
}

// Factor gives the expected ln of the Bayes factor for class x against class y,
// x being true, after the tests so far: 0 when they cannot be told apart.
func (j *Joint) Factor(x, y int) float64 {
	b := j.bench
	if x == y || b.prior[x] == 0 || b.prior[y] == 0 {
		return 0
	}
	sum, total := 0.0, 0.0
	for d, tr := range b.draws {
		if b.study.Class[tr.hypothesis] != x {
			continue
		}
		own, other := 0.0, 0.0
		for h, w := range j.weight[d] {
			switch b.study.Class[h] {
			case x:
				own += w
			case y:
				other += w
			}
		}
		total += tr.weight
		sum += tr.weight * math.Log(own/b.prior[x]/max(other/b.prior[y], 1e-300))
	}
	return sum / total
}
