package analysis

import (
	"math"
	"slices"
	"sort"

	"ohmstead/internal/belief"
	"ohmstead/internal/prior"
	"ohmstead/internal/profile"
)

// hypothesis is a set of causes that may be what is wrong with the board as it
// came, or that the board is really a sibling revision.
type hypothesis struct {
	places   []place // sorted by cause
	sibling  *profile.Profile
	logPrior float64
	logL     float64
	p        float64 // probability, once all are known
}

// weighing is all hypotheses about one board.
type weighing struct {
	view
	shown *shown

	unweighed *profile.Indication // shown, but about a supply that was off; nil: none
	lifting   map[int]float64     // ln of what was seen on a part, by part
	fitted    map[int]bool        // parts that are new by now
	all       []hypothesis
	weights   []float64         // prior of each fault, with what the shop found before
	singles   []map[int]float64 // by reading: what alone gives of it with one cause
}

// The search keeps this many sets of each size and tries so many causes on each.
const (
	beamWidth     = 10
	beamTries     = 30
	triesPerFault = 2
	explainsMore  = 3  // nats, a factor 20: a set counts when leaving any part out is so much less likely
	leastLog      = 11 // nats below the best from which a hypothesis is not refined
)

// weigh enumerates hypotheses: healthy, every cause alone, and larger sets by
// extending the best until more faults explain nothing more.
func (w *weighing) weigh() {
	w.base = nil
	w.base = ptr(w.score(nil))
	w.singles = make([]map[int]float64, len(w.evidence))
	healthy := hypothesis{}
	healthy.logPrior = math.Log(prior.Count(0))
	healthy.logL = w.logLikelihood(nil)
	w.all = append(w.all[:0], healthy)
	singles := w.extensions(&healthy, w.touching())
	w.all = append(w.all, singles...)
	level := singles
	for size := 2; size <= prior.MostFaults && !w.settled(); size++ {
		level = w.extend(level, size)
		w.all = append(w.all, level...)
		if len(level) == 0 {
			break
		}
	}
	w.refine()
}

// settled tells whether a healthy board explains all there is, and nothing has
// been repaired: then more than one fault explains nothing more.
func (w *weighing) settled() bool {
	if len(w.fitted) > 0 || w.shownLog(nil) < math.Log(poorlyShown) {
		return false
	}
	for _, f := range w.score(nil).fits {
		if unexplained(f) {
			return false
		}
	}
	return true
}

// unexplained tells whether a reading calls for a further fault.
func unexplained(f fitting) bool {
	return !f.ok() || f.slip > 0.1 || math.Abs(f.z) > 2.5 || f.bound && f.p < 0.05
}

// poorlyShown is the probability of what the board shows below which that calls
// for a further fault.
const poorlyShown = 0.2

// touching tells which causes move any reading taken while their part was on the
// board, or what the board shows.
func (w *weighing) touching() []bool {
	out := make([]bool, len(w.d.causes))
	for i := range w.evidence {
		ev := &w.evidence[i]
		for id := range ev.with {
			if !ev.fitted[w.partOf(int(id))] {
				out[id] = true
			}
		}
	}
	if w.shown != nil {
		for id := range w.shown.with {
			out[id] = true
		}
	}
	return out
}

func (w *weighing) partOf(cause int) int { return w.d.faults[w.d.causes[cause].fault].index }

// logLikelihood weighs places against readings and what the board shows.
func (w *weighing) logLikelihood(places []place) float64 {
	s := w.score(places)
	return s.logL + w.shownLog(places)
}

// extensions gives a hypothesis with every further cause.
func (w *weighing) extensions(h *hypothesis, touching []bool) []hypothesis {
	out := make([]hypothesis, 0, len(w.d.causes))
	for id := range w.d.causes {
		if x, ok := w.extension(h, id); ok {
			x.logL = math.NaN()
			if !touching[id] {
				x.logL = h.logL
			}
			out = append(out, x)
		}
	}
	parallel(len(out), func() func(int) {
		return func(i int) {
			if math.IsNaN(out[i].logL) {
				out[i].logL = w.logLikelihood(out[i].places)
			}
		}
	})
	return out
}

// extension adds a cause to a hypothesis; false when its part is in it already.
func (w *weighing) extension(h *hypothesis, id int) (hypothesis, bool) {
	part := w.partOf(id)
	for _, p := range h.places {
		if w.partOf(p.cause) == part {
			return hypothesis{}, false
		}
	}
	x := hypothesis{places: append(slices.Clone(h.places), place{cause: id, part: 1})}
	sort.Slice(x.places, func(i, j int) bool { return x.places[i].cause < x.places[j].cause })
	x.logPrior = w.logPrior(x.places)
	return x, true
}

// commonCause is how much likelier a part of the same sort, value and block
// fails together with another, or after it.
const commonCause = 4

// logPrior gives ln P of a set: that of the number of its faults, times the
// chance of these among all sets of that many.
func (w *weighing) logPrior(places []place) float64 {
	k := len(places)
	sum := math.Log(prior.Count(k))
	for i, p := range places {
		c := &w.d.causes[p.cause]
		sum += math.Log(float64(i+1) * w.weights[c.fault] * c.share * p.part)
		sum += w.lifting[w.partOf(p.cause)]
		for _, q := range places[:i] {
			if w.d.kin(w.partOf(p.cause), w.partOf(q.cause)) {
				sum += math.Log(commonCause)
			}
		}
	}
	return sum
}

// kin tells whether two parts are of one sort and do the same job: same kind,
// same value, same block.
func (d *dictionary) kin(a, b int) bool {
	p, q := &d.model.profile.Parts[a], &d.model.profile.Parts[b]
	if p.Kind != q.Kind || p.Param("value") != q.Param("value") {
		return false
	}
	for _, block := range d.model.profile.Blocks {
		if slices.Contains(block.Parts, p.Ref) && slices.Contains(block.Parts, q.Ref) {
			return true
		}
	}
	return false
}

// extend makes sets of one more fault from the best of the level before. A
// further fault must explain more; only one that is added to what has been
// repaired since need not: whatever else is wrong now is a question of its own.
func (w *weighing) extend(level []hypothesis, size int) []hypothesis {
	nearer := w.nearer(level)
	w.lookBeside(level, nearer)
	beam := w.beam(level, nearer)
	seen := map[[3]int32]bool{}
	var fresh []hypothesis
	for i := range beam {
		h := &beam[i]
		if w.allFitted(h.places) {
			fresh = append(fresh, w.extensions(h, w.touching())...)
			continue
		}
		for _, id := range w.candidates(h) {
			x, ok := w.extension(h, id)
			if key := combinationOf(nil, x.places).causes; ok && !seen[key] {
				seen[key] = true
				fresh = append(fresh, x)
			}
		}
	}
	entries, best := w.entries(), w.bestWeight()
	parallel(len(fresh), func() func(int) {
		solver := w.solver()
		return func(i int) {
			x := &fresh[i]
			if x.logL != 0 {
				return
			}
			if x.logL = w.atBest(x.places); x.logL+x.logPrior > best-leastLog {
				solver.solve(entries, x.places)
				x.logL = w.logLikelihood(x.places)
			}
		}
	})
	return w.explaining(fresh, level)
}

// entries gives the checks that were read.
func (w *weighing) entries() []*entry {
	var out []*entry
	for i := range w.evidence {
		out = append(out, w.evidence[i].entry)
	}
	return out
}

// bestWeight gives the greatest weight so far.
func (w *weighing) bestWeight() float64 {
	best := math.Inf(-1)
	for i := range w.all {
		best = max(best, w.all[i].logL+w.all[i].logPrior)
	}
	return best
}

// atBest gives ln of the likelihood that a combination has at best: what it shows
// where two of its causes meet is not known before it is solved, so those readings
// count as if it foresaw them exactly.
func (w *weighing) atBest(places []place) float64 {
	sum := 0.0
	rest := w.scoreBut(places, func(ev *evidence) bool {
		if moving(ev.entry, w.onBoard(places, ev)) < 2 {
			return false
		}
		if ev.shape == aNumber {
			half := max(ev.healthy.half, math.Exp(ev.logStep))
			sum += min(0, ev.logStep-math.Log(half))
		}
		return true
	})
	return sum + rest.logL + w.shownLog(places)
}

func (w *weighing) allFitted(places []place) bool {
	for _, p := range places {
		if !w.fitted[w.partOf(p.cause)] {
			return false
		}
	}
	return len(places) > 0
}

// beam gives the best hypotheses, at most two of any fault set: those whose parts
// have all been fitted, the most probable, and those that bring readings nearer
// to what was read, even if not near enough to count yet.
func (w *weighing) beam(level []hypothesis, nearer []float64) []hypothesis {
	var out []hypothesis
	count := map[[3]int32]int{}
	take := func(most int, weight func(i int) float64) {
		for _, i := range greatest(len(level), weight) {
			key := w.faultKey(level[i].places)
			if most == 0 || math.IsInf(weight(i), -1) {
				return
			}
			if count[key] < 2 {
				count[key]++
				out = append(out, level[i])
				most--
			}
		}
	}
	never := math.Inf(-1)
	weight := func(i int) float64 { return level[i].logL + level[i].logPrior }
	take(mostRepaired, func(i int) float64 {
		if !w.allFitted(level[i].places) {
			return never
		}
		return weight(i)
	})
	take(beamWidth, func(i int) float64 {
		if level[i].logL < w.all[0].logL+explainsSomething {
			return never // what more it would explain, the other fault explains alone
		}
		return weight(i)
	})
	take(beamWidth, func(i int) float64 {
		if nearer[i] < level[i].logPrior {
			return never
		}
		return nearer[i]
	})
	return out
}

// explainsSomething is the least gain, in nats over a healthy board, for a
// hypothesis to be extended by further faults.
const explainsSomething = 0.5

// greatest gives 0 to n−1 in the order of falling weight.
func greatest(n int, weight func(i int) float64) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return weight(order[a]) > weight(order[b]) })
	return order
}

// nearer gives how much nearer each hypothesis comes to the readings than a
// healthy board: by a law with tails so long that every step counts. −Inf: it
// moves none of them.
func (w *weighing) nearer(level []hypothesis) []float64 {
	spread := func(f *forecast) float64 {
		f.pulls = f.outcome.pulls // a wide cell is no nearer than its middle
		return math.Sqrt(w.covariance(f, f) + f.variance + 1e-18)
	}
	far := func(ev *evidence, f *forecast, sd float64) float64 {
		z := (ev.y - f.y) / sd
		if f.lost || f.over >= 1 && ev.shape == aNumber || ev.charge != 0 {
			z = 1e4
		} else if ev.shape != aNumber {
			z = -2 * math.Log(w.beyond(ev, f, f.y, sd)+1e-20)
		}
		return math.Log1p(z * z / 2)
	}
	healthy := make([]forecast, len(w.evidence))
	for i := range w.evidence {
		healthy[i] = w.foresee(w.evidence[i].entry, nil)
	}
	out := make([]float64, len(level))
	parallel(len(level), func() func(int) {
		return func(k int) {
			h := &level[k]
			moves := false
			out[k] = h.logPrior
			for i := range w.evidence {
				ev := &w.evidence[i]
				if f := w.foresee(ev.entry, w.onBoard(h.places, ev)); f.touched {
					moves = true
					good := healthy[i]
					sd := min(spread(&f), spread(&good))
					out[k] += far(ev, &good, sd) - far(ev, &f, sd)
				}
			}
			if !moves {
				out[k] = math.Inf(-1)
			}
		}
	})
	return out
}

// mostRepaired is how many explanations by fitted parts are followed.
const mostRepaired = 3

// faultKey names a set of faults.
func (w *weighing) faultKey(places []place) [3]int32 {
	k := [3]int32{-1, -1, -1}
	for i, p := range places {
		k[i] = int32(w.d.causes[p.cause].fault)
	}
	slices.Sort(k[:])
	return k
}

// onBoard gives the places whose parts were on the board at a reading.
func (w *weighing) onBoard(places []place, ev *evidence) []place {
	var out []place
	for _, p := range places {
		if !ev.fitted[w.partOf(p.cause)] {
			out = append(out, p)
		}
	}
	return out
}

// alone gives ln of the probability of one reading by itself.
func (v *view) alone(ev *evidence, f *forecast) float64 {
	slip := slipRate * math.Exp(ev.logSlip)
	if f.lost || ev.charge != 0 {
		return math.Log(slip)
	}
	sd := math.Sqrt(v.covariance(f, f) + f.variance + 1e-18)
	if ev.shape != aNumber {
		p := v.beyond(ev, f, f.y, sd)
		return math.Log((1-slipRate)*p + slip)
	}
	if f.over >= 1 {
		return math.Log(slip)
	}
	z := (ev.y - f.y) / sd
	return belief.LogAdd(math.Log(slip), math.Log((1-slipRate)*(1-f.over))+ev.logStep-z*z/2-math.Log(sd)-0.9189)
}

// explaining keeps the sets of which every part that is still on the board
// explains something: the best set without it is much less likely.
func (w *weighing) explaining(fresh, level []hypothesis) []hypothesis {
	best := map[[3]int32]float64{w.faultKey(nil): w.all[0].logL}
	for _, hs := range [][]hypothesis{w.all, level, fresh} {
		for i := range hs {
			key := w.faultKey(hs[i].places)
			if old, ok := best[key]; !ok || hs[i].logL > old {
				best[key] = hs[i].logL
			}
		}
	}
	var out []hypothesis
	for _, x := range fresh {
		rest := w.onlyFitted(x.places)
		ok := true
		for k, p := range x.places {
			if w.fitted[w.partOf(p.cause)] || len(x.places)-len(rest) == 1 {
				continue
			}
			without := slices.Delete(slices.Clone(x.places), k, k+1)
			if l, known := best[w.faultKey(without)]; known && x.logL < l+explainsMore {
				ok = false
			}
		}
		if ok {
			out = append(out, x)
		}
	}
	return out
}

func (w *weighing) onlyFitted(places []place) []place {
	var out []place
	for _, p := range places {
		if w.fitted[w.partOf(p.cause)] {
			out = append(out, p)
		}
	}
	return out
}

// normalise turns weights into probabilities.
func (w *weighing) normalise() {
	logs := make([]float64, len(w.all))
	for i := range w.all {
		logs[i] = w.all[i].logL + w.all[i].logPrior
	}
	p, _ := belief.Posterior(logs)
	for i := range w.all {
		w.all[i].p = p[i]
	}
}
