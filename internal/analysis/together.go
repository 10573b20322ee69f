package analysis

import (
	"fmt"
	"math"
	"slices"

	"ohmstead/internal/profile"
)

// combination is a check with several causes at once.
type combination struct {
	entry  *entry
	causes [3]int32 // sorted; −1: none
}

// together gives what an entry shows with several causes at once: solved anew
// where it has been, otherwise the sum of what each does alone.
func (d *dictionary) together(e *entry, places []place) (o outcome, anew bool) {
	base := d.sum(e, places)
	d.mu.Lock()
	solved, ok := d.combined[combinationOf(e, places)]
	d.mu.Unlock()
	if !ok {
		return base, false
	}
	o = *solved
	if number(&o) && number(&base) {
		middle := d.sum(e, middles(places))
		if number(&middle) {
			o.y += base.y - middle.y // from the middles of the cells to the places
		}
	}
	return o, true
}

func combinationOf(e *entry, places []place) combination {
	c := combination{entry: e, causes: [3]int32{-1, -1, -1}}
	for i, p := range places[:min(3, len(places))] {
		c.causes[i] = int32(p.cause)
	}
	slices.Sort(c.causes[:])
	return c
}

// middles gives the same causes in the middles of their cells.
func middles(places []place) []place {
	out := slices.Clone(places)
	for i := range out {
		out[i].at = 0
	}
	return out
}

// sum adds what causes do alone on the scale of the measure. Over-range stays.
func (d *dictionary) sum(e *entry, places []place) outcome {
	out := e.healthy
	first := true
	for _, p := range places {
		if _, ok := e.with[int32(p.cause)]; !ok {
			continue
		}
		o := d.between(e, p)
		switch {
		case first:
			out, first = o, false
		case o.lost || out.lost:
			out.lost = true
		case o.over >= 1 || out.over >= 1:
			out = outcome{over: 1}
		default:
			if number(&e.healthy) {
				out.y += o.y - e.healthy.y
			} else {
				out.y = min(out.y, o.y)
			}
			out.half = math.Max(out.half, o.half)
			out.pulls = append(out.pulls[:len(out.pulls):len(out.pulls)], missing(o.pulls, out.pulls)...)
		}
	}
	return out
}

// missing gives the pulls of tolerances that are not among others.
func missing(pulls, others []pull) []pull {
	var out []pull
	for _, p := range pulls {
		if !slices.ContainsFunc(others, func(q pull) bool { return q.param == p.param }) {
			out = append(out, p)
		}
	}
	return out
}

// solver solves boards with several causes; it serves one goroutine and keeps
// the boards that it built, so that parts which are resistances cost no board.
type solver struct {
	d      *dictionary
	boards map[string]*bench
}

func (d *dictionary) solver() *solver { return &solver{d, map[string]*bench{}} }

// solve works out anew what entries show with several causes at once, where more
// than one of them moves the entry, and keeps it.
func (s *solver) solve(entries []*entry, places []place) {
	for _, e := range entries {
		if e.check.Lifted || moving(e, places) < 2 {
			continue
		}
		key := combinationOf(e, places)
		s.d.mu.Lock()
		_, known := s.d.combined[key]
		s.d.mu.Unlock()
		if known {
			continue
		}
		o := s.read(e, places)
		s.d.mu.Lock()
		if len(s.d.combined) > maxCombined {
			clear(s.d.combined)
		}
		s.d.combined[key] = o
		s.d.mu.Unlock()
	}
}

// moving counts the causes that move an entry.
func moving(e *entry, places []place) int {
	n := 0
	for _, p := range places {
		if _, ok := e.with[int32(p.cause)]; ok {
			n++
		}
	}
	return n
}

// read makes a check on a board with causes in the middles of their cells.
func (s *solver) read(e *entry, places []place) *outcome {
	var built []profile.Defect
	key := e.check.State
	for _, p := range places {
		if c := &s.d.causes[p.cause]; c.ohms == 0 {
			built = append(built, c.Defect)
			key += fmt.Sprint(" ", p.cause)
		}
	}
	b, ok := s.boards[key]
	if !ok {
		if len(s.boards) > maxBoards {
			clear(s.boards)
		}
		b, _ = s.d.model.newBench(e.check, nil, built...)
		s.boards[key] = b
	}
	if b == nil {
		return &outcome{lost: true}
	}
	for _, p := range places {
		if c := &s.d.causes[p.cause]; c.ohms > 0 {
			b.board.Resize(c.Part, c.ohms)
			defer b.board.Resize(c.Part, 0)
		}
	}
	b.probe(e.check)
	r, err := b.read()
	if err != nil {
		return &outcome{lost: true}
	}
	o := s.d.outcome(b, r)
	return &o
}

// maxBoards bounds how many boards a solver keeps.
const maxBoards = 40

// maxCombined bounds how many combinations are kept.
const maxCombined = 50000

// finePlace is an entry with one cause at a place of its cell.
type finePlace struct {
	entry *entry
	cause int32
	at    float32
}

// finer works out what an entry shows at a place of a cell, and keeps it.
func (s *solver) finer(e *entry, p place) {
	key := finePlace{e, int32(p.cause), float32(p.at)}
	s.d.mu.Lock()
	_, known := s.d.fine[key]
	s.d.mu.Unlock()
	if known {
		return
	}
	c := s.d.causes[p.cause]
	c.Size *= math.Exp(p.at * c.width)
	o := &outcome{lost: true}
	if b, err := s.d.model.newBench(e.check, nil, c.Defect); err == nil {
		if r, err := b.read(); err == nil {
			*o = s.d.outcome(b, r)
		}
	}
	s.d.mu.Lock()
	defer s.d.mu.Unlock()
	if len(s.d.fine) > maxFine {
		clear(s.d.fine)
	}
	s.d.fine[key] = o
	e.fined.Store(true)
}

// maxFine bounds how many places in cells are kept.
const maxFine = 20000

// fineOf gives what was worked out for a place of a cell, nil when nothing was.
func (d *dictionary) fineOf(e *entry, p place) *outcome {
	if p.at == 0 || !e.fined.Load() {
		return nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.fine[finePlace{e, int32(p.cause), float32(p.at)}]
}
