package analysis

import (
	"math"
	"sort"
)

// trial is a cause that might explain what a hypothesis leaves open, and ln of how
// much more likely it would make it.
type trial struct {
	id   int
	gain float64
}

// candidates gives the causes that could explain what a hypothesis does not:
// those that move a reading which does not fit, best first by the sum of what
// each reading alone would say.
func (w *weighing) candidates(h *hypothesis) []int {
	s := w.score(h.places)
	without := make([]float64, len(w.evidence))
	for i := range w.evidence {
		without[i] = w.alone(&w.evidence[i], &s.shapes[i])
	}
	var trials []trial
	for id := range w.openTo(h, &s) {
		if x, ok := w.extension(h, id); ok {
			trials = append(trials, trial{id, x.logPrior + w.gain(h, &s, without, &x, id)})
		}
	}
	sort.Slice(trials, func(i, j int) bool {
		if trials[i].gain != trials[j].gain {
			return trials[i].gain > trials[j].gain
		}
		return trials[i].id < trials[j].id
	})
	var out []int
	tried := map[int]int{}
	for _, t := range trials {
		fault := w.d.causes[t.id].fault
		if tried[fault]++; tried[fault] > triesPerFault {
			continue
		}
		if out = append(out, t.id); len(out) == beamTries {
			break
		}
	}
	return out
}

// openTo gives the causes that move a reading, or the indication, which a
// hypothesis does not explain.
func (w *weighing) openTo(h *hypothesis, s *scored) map[int]bool {
	ids := map[int]bool{}
	for i, f := range s.fits {
		if !unexplained(f) {
			continue
		}
		ev := &w.evidence[i]
		for id := range ev.with {
			if !ev.fitted[w.partOf(int(id))] {
				ids[int(id)] = true
			}
		}
		if len(h.places) == 1 {
			for id := range w.worked.beside(ev.entry, h.places[0].cause) {
				if !ev.fitted[w.partOf(int(id))] {
					ids[int(id)] = true
				}
			}
		}
	}
	if w.shown != nil && w.shownLog(h.places) < math.Log(poorlyShown) {
		for id := range w.shown.with {
			ids[int(id)] = true
		}
	}
	return ids
}

// gain gives ln of how much likelier each reading by itself gets by adding a cause
// to a hypothesis, x being both together and without the readings before.
func (w *weighing) gain(h *hypothesis, s *scored, without []float64, x *hypothesis, id int) float64 {
	sum := 0.0
	for i := range w.evidence {
		ev := &w.evidence[i]
		_, moves := ev.with[int32(id)]
		paired := w.worked.paired(ev.entry)
		switch {
		case !moves && !paired || ev.fitted[w.partOf(id)]:
		case moves && !paired && !s.shapes[i].touched && !w.acrossOne(ev, h):
			sum += w.single(i, id) - without[i]
		default:
			now := w.onBoard(x.places, ev)
			f := w.foresee(ev.entry, now)
			w.underCeiling(ev, &f, now)
			sum += w.alone(ev, &f) - without[i]
		}
	}
	return sum
}

// acrossOne tells whether a reading is taken across a part of a hypothesis.
func (w *weighing) acrossOne(ev *evidence, h *hypothesis) bool {
	for _, p := range h.places {
		if w.d.causes[p.cause].Part == ev.check.Across {
			return true
		}
	}
	return false
}

// single is alone of one reading with one cause on the board, worked out once.
func (w *weighing) single(i, id int) float64 {
	if l, ok := w.singles[i][id]; ok {
		return l
	}
	ev := &w.evidence[i]
	places := []place{{cause: id, part: 1}}
	f := w.foresee(ev.entry, places)
	w.underCeiling(ev, &f, places)
	if w.singles[i] == nil {
		w.singles[i] = map[int]float64{}
	}
	w.singles[i][id] = w.alone(ev, &f)
	return w.singles[i][id]
}
