package analysis

import "slices"

// A fault may hide another, or let it show: a resistor across an open one, a
// supply that a blown fuse keeps off. What each does alone says nothing of that,
// so for the faults that lead while a reading is left unexplained, that reading is
// worked out with every further fault beside them.

// So many faults are looked beside of those that explain most, and of those that
// come nearest to the readings, at so many unexplained readings.
const (
	besideFaults   = 3
	besideReadings = 3
)

// lookBeside works out what could stand beside the leading single faults, unless
// the first of them explains all there is.
func (w *weighing) lookBeside(level []hypothesis, nearer []float64) {
	done := map[int]bool{}
	weight := func(i int) float64 { return level[i].logL + level[i].logPrior }
	if first := greatest(len(level), weight); len(first) == 0 || w.leavesNothing(&level[first[0]]) {
		return
	}
	look := func(weight func(i int) float64) {
		left := besideFaults
		for _, i := range greatest(len(level), weight) {
			h := &level[i]
			if len(h.places) != 1 || left == 0 {
				return
			}
			if fault := w.d.causes[h.places[0].cause].fault; !done[fault] {
				done[fault] = true
				left--
				w.lookBesideOne(h)
			}
		}
	}
	look(weight)
	look(func(i int) float64 { return nearer[i] })
}

// leavesNothing tells whether a hypothesis leaves no reading unexplained.
func (w *weighing) leavesNothing(h *hypothesis) bool {
	return !slices.ContainsFunc(w.score(h.places).fits, unexplained)
}

func (w *weighing) lookBesideOne(h *hypothesis) {
	n := 0
	for k, f := range w.score(h.places).fits {
		if ev := &w.evidence[k]; unexplained(f) && n < besideReadings && len(w.onBoard(h.places, ev)) == 1 {
			w.lookAt(ev.entry, h.places[0].cause)
			n++
		}
	}
}

// pairKey names an entry with one cause on the board.
type pairKey struct {
	entry *entry
	cause int
}

// lookAt works out what an entry shows with one cause on the board and every
// further one beside it.
func (w *weighing) lookAt(e *entry, id int) {
	if e.check.Lifted || e.err != nil {
		return
	}
	key := pairKey{e, id}
	w.worked.putBeside(key, rememberedBeside(w.d, key))
}

// rememberedBeside is remembered for these larger pieces.
func rememberedBeside(d *dictionary, key pairKey) map[int32]*outcome {
	d.mu.Lock()
	if len(d.besides) >= mostBesides {
		clear(d.besides)
	}
	d.mu.Unlock()
	return remembered(d, d.besides, key, func() map[int32]*outcome { return d.withBeside(key.entry, key.cause) })
}

// mostBesides bounds how many of them are remembered.
const mostBesides = 150

// withBeside gives by further cause what an entry shows with one on the board.
func (d *dictionary) withBeside(e *entry, id int) map[int32]*outcome {
	given := d.causes[id].Defect
	own := d.faults[d.causes[id].fault].index
	s := &entry{check: e.check, with: map[int32]*outcome{}}
	b, err := d.model.newBench(e.check, nil, given)
	if err != nil {
		return nil
	}
	reach := d.resistances(b, s, own)
	if s.err != nil {
		return nil
	}
	d.others([]*entry{s}, [][]bool{reach}, given)
	for other := range e.with { // what it hides
		if _, ok := s.with[other]; !ok {
			s.with[other] = &s.healthy
		}
	}
	for other := range s.with {
		if d.faults[d.causes[other].fault].index == own {
			delete(s.with, other)
		}
	}
	return s.with
}
