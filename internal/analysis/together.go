package analysis

import (
	"math"
	"slices"
)

// combination is a check with several causes at once.
type combination struct {
	entry  *entry
	causes [3]int32 // sorted; −1: none
}

// together gives what an entry shows with several causes at once: solved anew
// where it has been, otherwise the sum of what each does alone.
func (d *dictionary) together(e *entry, places []place) outcome {
	base := d.sum(e, places)
	d.mu.Lock()
	solved, ok := d.combined[combinationOf(e, places)]
	d.mu.Unlock()
	if !ok {
		return base
	}
	o := *solved
	if number(&o) && number(&base) {
		middle := d.sum(e, middles(places))
		if number(&middle) {
			o.y += base.y - middle.y // from the middles of the cells to the places
		}
	}
	return o
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

// solve works out anew what entries show with several causes at once, on a board
// with all of them. Only entries that at least one moves are tried.
func (d *dictionary) solve(entries []*entry, places []place) {
	var defects = d.defects(places)
	boards := map[string]*bench{}
	for _, e := range entries {
		if e.check.Lifted || !slices.ContainsFunc(places, func(p place) bool { _, ok := e.with[int32(p.cause)]; return ok }) {
			continue
		}
		key := combinationOf(e, places)
		d.mu.Lock()
		_, known := d.combined[key]
		d.mu.Unlock()
		if known {
			continue
		}
		o := &outcome{lost: true}
		b, ok := boards[e.check.State]
		if !ok {
			b, _ = d.model.newBench(e.check, nil, defects...)
			boards[e.check.State] = b
		}
		if b != nil {
			b.probe(e.check)
			if r, err := b.read(); err == nil {
				got := d.outcome(b, r)
				o = &got
			}
		}
		d.mu.Lock()
		if len(d.combined) > maxCombined {
			clear(d.combined)
		}
		d.combined[key] = o
		d.mu.Unlock()
	}
}

// maxCombined bounds how many combinations are kept.
const maxCombined = 50000
