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
func (v *view) together(e *entry, places []place) (o outcome, anew bool) {
	base := v.sum(e, places)
	solved := v.worked.together(e, places)
	if solved == nil {
		return base, false
	}
	o = *solved
	if number(&o) && number(&base) {
		middle := v.sum(e, middles(places))
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
func (v *view) sum(e *entry, places []place) outcome {
	out := e.healthy
	first := true
	for _, p := range places {
		if _, ok := e.with[int32(p.cause)]; !ok {
			continue
		}
		o := v.between(e, p)
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

// solver solves boards with several causes for one weighing; it serves one
// goroutine and keeps the boards that it built, so that parts which are resistances
// cost no board.
type solver struct {
	d      *dictionary
	worked *worked
	boards map[string]*bench
}

func (v *view) solver() *solver { return &solver{v.d, v.worked, map[string]*bench{}} }

// solve works out anew what entries show with several causes at once, where more
// than one of them moves the entry.
func (s *solver) solve(entries []*entry, places []place) {
	for _, e := range entries {
		if e.check.Lifted || moving(e, places) < 2 || s.worked.together(e, places) != nil {
			continue
		}
		key := combinationOf(e, places)
		s.worked.put(key, remembered(s.d, s.d.combined, key, func() *outcome { return s.read(e, places) }))
	}
}

// remembered gives what was worked out before for some weighing, or works it out
// and remembers it. The map is bounded: it saves time and nothing else.
func remembered[K comparable, V any](d *dictionary, m map[K]V, key K, work func() V) V {
	d.mu.Lock()
	v, ok := m[key]
	d.mu.Unlock()
	if ok {
		return v
	}
	v = work()
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(m) >= mostRemembered {
		clear(m)
	}
	m[key] = v
	return v
}

// mostRemembered bounds how much of a sort is remembered.
const mostRemembered = 20000

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

// finePlace is an entry with one cause at a place of its cell.
type finePlace struct {
	entry *entry
	cause int32
	at    float32
}

// finer works out what an entry shows at a place of a cell.
func (s *solver) finer(e *entry, p place) {
	key := finePlace{e, int32(p.cause), float32(p.at)}
	s.worked.putFiner(key, remembered(s.d, s.d.fine, key, func() *outcome {
		c := s.d.causes[p.cause]
		c.Size *= math.Exp(p.at * c.width)
		b, err := s.d.model.newBench(e.check, nil, c.Defect)
		if err != nil {
			return &outcome{lost: true}
		}
		r, err := b.read()
		if err != nil {
			return &outcome{lost: true}
		}
		o := s.d.outcome(b, r)
		return &o
	}))
}
