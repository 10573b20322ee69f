package analysis

import (
	"math"

	"ohmstead/internal/belief"
	"ohmstead/internal/profile"
)

// A board that was taken for its sibling is a hypothesis too, once at least two
// readings contradict a healthy board of this profile. What else may be wrong
// with it is not looked into: some readings may be off for that.
const (
	siblingPrior    = 0.05
	siblingContra   = 2
	siblingSlipRate = 0.05
)

// addSiblings weighs the siblings; it comes before normalise.
func (w *weighing) addSiblings(siblings []*profile.Profile) {
	if len(siblings) == 0 || w.contradictions() < siblingContra {
		return
	}
	best := 0
	for i := range w.all {
		w.all[i].logPrior += math.Log(1 - siblingPrior)
		if w.all[i].logL+w.all[i].logPrior > w.all[best].logL+w.all[best].logPrior {
			best = i
		}
	}
	places := w.all[best].places
	for _, sib := range siblings {
		other, common := w.asSibling(sib)
		if len(common.evidence) == 0 {
			continue
		}
		s := other.score(nil)
		if w.explainedThere(common, &s) == 0 {
			continue // it contradicts the same readings
		}
		// What the sibling has no place for says nothing between the two: it
		// counts as it does for the best hypothesis here.
		skipped := w.score(places).logL - common.score(places).logL
		w.all = append(w.all, hypothesis{
			sibling: sib, logPrior: math.Log(siblingPrior / float64(len(siblings))), logL: s.logL + skipped,
		})
	}
}

// explainedThere counts the readings that contradict this profile and not the
// sibling.
func (w *weighing) explainedThere(common *view, there *scored) int {
	n := 0
	for i := range common.evidence {
		if there.fits[i].ok() && w.contradicts(&common.evidence[i]) {
			n++
		}
	}
	return n
}

// contradictions counts readings that lie beyond what a healthy board of this
// profile reads, as the guard of a verdict has it.
func (w *weighing) contradictions() int {
	n := 0
	for i := range w.evidence {
		ev := &w.evidence[i]
		f := w.foresee(ev.entry, nil)
		if ev.charge != 0 || f.lost {
			continue
		}
		w.underCeiling(ev, &f, nil)
		sd := math.Sqrt(w.covariance(&f, &f) + f.variance)
		switch {
		case ev.shape != aNumber:
			if w.beyond(ev, &f, f.y, sd) < belief.Normal(-guardDeviations) {
				n++
			}
		case f.over >= 1 || math.Abs(ev.y-f.y) > guardDeviations*sd:
			n++
		}
	}
	return n
}

// asSibling gives the readings as a healthy board of the sibling sees them, and
// those of them that it has a place for as this profile does.
func (w *weighing) asSibling(sib *profile.Profile) (other, common *view) {
	m := w.d.model.sibling(sib)
	d := m.dictionary()
	other = &view{d: d, slipRate: siblingSlipRate}
	common = &view{d: w.d}
	for i := range w.evidence {
		ev := &w.evidence[i]
		c := ev.check
		there, err := sib.Resolve(profile.Check{State: c.State, Measure: c.Measure, Across: c.Across,
			Red: c.Red, Black: c.Black, Lifted: c.Lifted, Swapped: c.Swapped})
		if err != nil || ev.charge != 0 {
			continue
		}
		e := d.glance(there)
		if e.err != nil {
			continue
		}
		other.evidence = append(other.evidence, d.evidence(e, ev.reading, nil))
		common.evidence = append(common.evidence, *ev)
	}
	return other, common
}

// sibling gives the model of a sibling, seen through the same meter.
func (m *Model) sibling(p *profile.Profile) *Model {
	m.mu.Lock()
	defer m.mu.Unlock()
	s, ok := m.siblings[p.ID]
	if !ok || s.profile != p {
		s = NewModel(p, m.meter)
		if m.siblings == nil {
			m.siblings = map[string]*Model{}
		}
		m.siblings[p.ID] = s
	}
	return s
}

// glance gives the healthy outcome of a check only.
func (d *dictionary) glance(c profile.Check) *entry {
	key := cacheKey(c, nil)
	d.mu.Lock()
	defer d.mu.Unlock()
	if e, ok := d.entries[key]; ok {
		return e
	}
	if e, ok := d.glanced[key]; ok {
		return e
	}
	e := &entry{check: c, ceiling: d.ceiling(c)}
	if b := d.board(e); b != nil {
		if r, err := b.read(); err != nil {
			e.err = err
		} else {
			e.most, _ = onScale(c.Measure, b.most())
			e.healthy = d.outcome(b, r)
			e.own = d.ownLoad(c)
			d.bend(e)
		}
	}
	if len(d.glanced) > maxEntries {
		clear(d.glanced)
	}
	d.glanced[key] = e
	return e
}
