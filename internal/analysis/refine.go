package analysis

import (
	"math"
	"slices"
)

// Cells into which a likely cell is cut, for one sized fault and for several.
const (
	finerAlone    = 8
	finerTogether = 4
)

// refine cuts the cells of likely hypotheses into smaller ones.
func (w *weighing) refine() {
	best := math.Inf(-1)
	for i := range w.all {
		best = max(best, w.all[i].logL+w.all[i].logPrior)
	}
	var kept, finer []hypothesis
	budget := maxFiner
	for _, h := range w.all {
		cut := w.sized(h.places)
		least := best - leastLog
		if len(h.places) == 1 && w.bent(h.places[0]) {
			least = best - leastBent
		}
		if h.sibling != nil || cut == 0 || h.logL+h.logPrior < least || budget < 0 {
			kept = append(kept, h)
			continue
		}
		parts := w.cut(h, cut)
		budget -= len(parts)
		finer = append(finer, parts...)
	}
	parallel(len(finer), func() func(int) {
		solver := w.solver()
		return func(i int) {
			w.solveFiner(solver, &finer[i])
			finer[i].logL = w.logLikelihood(finer[i].places)
		}
	})
	w.all = append(kept, finer...)
}

// maxFiner bounds how many smaller cells are tried.
const maxFiner = 1200

// leastBent is how many nats below the best a bent cell is still cut: what its
// middle shows says little of its ends.
const leastBent = 40

// bent tells whether some reading moves across a cell by a curve that its middle
// and its neighbours do not follow: a supply that reaches its limit, a junction
// that begins to conduct.
func (w *weighing) bent(p place) bool {
	if w.d.causes[p.cause].width == 0 {
		return false
	}
	for i := range w.evidence {
		if w.d.bentAt(w.evidence[i].entry, p.cause) {
			return true
		}
	}
	return false
}

// bentAt is bent for one entry.
func (d *dictionary) bentAt(e *entry, cause int) bool {
	o, ok := e.with[int32(cause)]
	return ok && !e.check.Lifted && math.Abs(o.above-o.below) > 4*o.half
}

// solveFiner works readings out anew at a place in a bent cell.
func (w *weighing) solveFiner(s *solver, h *hypothesis) {
	if len(h.places) != 1 {
		return
	}
	for i := range w.evidence {
		if ev := &w.evidence[i]; w.d.bentAt(ev.entry, h.places[0].cause) {
			s.finer(ev.entry, h.places[0])
		}
	}
}

// sized counts the places whose cell is so wide that some reading would move by
// more across it than it is uncertain by itself.
func (w *weighing) sized(places []place) int {
	n := 0
	for _, p := range places {
		if w.d.causes[p.cause].width > 0 && w.wide(p) {
			n++
		}
	}
	return n
}

func (w *weighing) wide(p place) bool {
	for i := range w.evidence {
		ev := &w.evidence[i]
		if _, ok := ev.with[int32(p.cause)]; !ok || ev.fitted[w.partOf(p.cause)] {
			continue
		}
		if o := ev.of(p.cause); math.Abs(w.d.slope(ev.entry, p)) > o.half || !number(o) {
			return true
		}
	}
	return false
}

// cut divides every sized place of a hypothesis.
func (w *weighing) cut(h hypothesis, sized int) []hypothesis {
	n := finerAlone
	if sized > 1 {
		n = finerTogether
	}
	out := []hypothesis{h}
	for k, p := range h.places {
		if w.d.causes[p.cause].width == 0 {
			continue
		}
		var next []hypothesis
		for _, x := range out {
			for i := range n {
				y := x
				y.places = slices.Clone(x.places)
				y.places[k].at = (float64(i)+0.5)/float64(n) - 0.5
				y.places[k].part = 1 / float64(n)
				y.logPrior -= math.Log(float64(n))
				next = append(next, y)
			}
		}
		out = next
	}
	return out
}
