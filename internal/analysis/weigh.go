package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ohmstead/internal/prior"
	"ohmstead/internal/profile"
)

// Case is one board on the bench and all that is known of it.
type Case struct {
	Readings []Reading // in time order
	Code     string    // what it showed by itself when it came: an indication's code, "none", or empty: not known

	Siblings []*profile.Profile // revisions that it might be instead
	Seen     []Seen             // what the eye found
	RuledOut []string           // parts that somebody knows to be good: no suspects, whatever the readings
	Findings []Finding          // what the shop found on this family before
	Prices   *Prices            // of danger and lifting; nil: DefaultPrices
	Table    prior.Table        // how often parts fail; empty: prior.Handbook
}

// Seen is a mark on a part: burnt, cracked, bulging.
type Seen struct {
	Part string
	What string
}

// Finding is how often a fault was confirmed on boards of this family.
type Finding struct {
	Fault
	Times float64
}

// seenLikelier is how much likelier a part that bears a mark is bad.
const seenLikelier = 12

// belief in the published rates, counted in confirmed findings of the shop's
// own (the weight of a Dirichlet prior).
const publishedWorth = 25

// weighCase weighs everything known of a board.
func (m *Model) weighCase(c *Case) *weighing {
	d := m.dictionary()
	w := &weighing{lifting: map[int]float64{}, fitted: map[int]bool{}}
	w.view = view{d: d, evidence: d.collect(c.Readings), worked: newWorked()}
	for _, r := range c.Readings {
		if i := d.partIndex(r.Fitted); r.Fitted != "" && i >= 0 {
			w.fitted[i] = true
		}
	}
	for _, s := range c.Seen {
		w.lifting[d.partIndex(s.Part)] = math.Log(seenLikelier)
	}
	w.weights = d.without(c.RuledOut, d.priors(c.Table, c.Findings))
	w.shown = d.noticed(c.Code)
	w.foreign(d.model.profile, c.Readings, c.Code)
	w.weigh()
	w.all = slices.DeleteFunc(w.all, func(h hypothesis) bool { return math.IsInf(h.logPrior, -1) })
	w.addSiblings(c.Siblings)
	w.normalise()
	return w
}

// priors gives the prior of every fault: by the published table, stress and what
// the shop has found; they sum to 1. Findings on what this profile does not have,
// a part of another revision, count for nothing.
func (d *dictionary) priors(t prior.Table, findings []Finding) []float64 {
	if t == "" {
		t = prior.Handbook
	}
	out := make([]float64, len(d.faults))
	for i := range d.faults {
		f := &d.faults[i]
		out[i] = prior.Weight(f.part, f.mode, t) * f.stress
	}
	prior.Cap(out)
	times := map[Fault]float64{}
	for _, f := range findings {
		times[f.Fault] += f.Times
	}
	sum, total := 0.0, 0.0
	found := make([]float64, len(d.faults))
	for i, x := range out {
		found[i] = times[Fault{d.faults[i].part.Ref, d.faults[i].mode}]
		sum += x
		total += found[i]
	}
	for i := range out {
		out[i] = (publishedWorth*out[i]/sum + found[i]) / (publishedWorth + total)
	}
	return out
}

// without gives the weights with those of some parts taken out: the others share
// what they had. All parts taken out leave nothing but the healthy board.
func (d *dictionary) without(refs []string, weights []float64) []float64 {
	if len(refs) == 0 {
		return weights
	}
	rest := 0.0
	for i := range weights {
		if slices.Contains(refs, d.faults[i].part.Ref) {
			weights[i] = 0
		}
		rest += weights[i]
	}
	for i := range weights {
		if rest > 0 {
			weights[i] /= rest
		}
	}
	return weights
}

// dictionary gives the faults of the profile, listed at the first call.
func (m *Model) dictionary() *dictionary {
	m.listed.Do(func() { m.faults = newDictionary(m) })
	return m.faults
}

// answer fills suspects, next checks and conclusion.
func (m *Model) answer(c *Case, r *Result) {
	if len(m.profile.Parts) == 0 {
		why := append(m.oddOneOut(c.Readings), "The profile lists no parts: what is wrong cannot be computed, only what reads otherwise than good boards.")
		r.Conclusion = Conclusion{Status: Undecided, Parts: []string{}, Why: strings.Join(why, " ")}
		return
	}
	w := m.weighCase(c)
	r.Suspects, r.Sets = w.suspects(), w.sets()
	f := w.foreseeAll(m.available(c.Readings))
	prices := DefaultPrices()
	if c.Prices != nil {
		prices = *c.Prices
	}
	r.Conclusion, r.Next = f.conclude(func(least float64) []Next { return f.next(lastState(c.Readings), prices, least) })
	if in := f.unweighed; in != nil {
		r.Conclusion.Why += fmt.Sprintf(" “%s” is not weighed: the supply that it is about was outside its range.", in.Shows)
	}
	w.mentionSibling(c.Siblings, &r.Conclusion)
}

// lastState gives the state in which the board was read last.
func lastState(readings []Reading) string {
	for i := len(readings) - 1; i >= 0; i-- {
		if !readings[i].Bare() {
			return readings[i].Check.State
		}
	}
	return profile.Cold
}
