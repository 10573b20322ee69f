package analysis

import (
	"fmt"
	"slices"

	"ohmstead/internal/profile"
)

// mentionSibling adds to a conclusion that a healthy board of a sibling revision
// would read the same wherever this one contradicts its own profile: one reading
// is too few to call it a sibling, but enough to look at what is printed.
func (w *weighing) mentionSibling(siblings []*profile.Profile, c *Conclusion) {
	if c.Status == Healthy || c.Sibling != "" {
		return
	}
	for _, sib := range siblings {
		if part, band, ok := w.likeSibling(sib); ok {
			c.Why += fmt.Sprintf(" On %s, %s reads %s in that place: look at the printed revision, and whether the part belongs to it, before anything is replaced.",
				titleOf(sib), part, band)
			c.Alike = titleOf(sib)
			return
		}
	}
}

// likeSibling tells whether a healthy sibling explains every reading, taken of the
// board as it came, that contradicts this profile; with the part of the sibling
// that the first of them is about, and what it reads.
func (w *weighing) likeSibling(sib *profile.Profile) (part, band string, ok bool) {
	for i := range w.evidence {
		ev := &w.evidence[i]
		if len(ev.fitted) > 0 || !w.contradicts(ev) {
			continue
		}
		there, known := w.inSibling(sib, ev.check)
		if !known || ev.charge != 0 {
			return "", "", false
		}
		at, reads, fits := w.readsThere(sib, there, ev)
		if !fits {
			return "", "", false
		}
		if !ok {
			part, band, ok = at, reads, true
		}
	}
	return part, band, ok && part != ""
}

// readsThere tells whether a reading is what a healthy sibling reads: on the
// board, or, as a part of it that was put on this board, by itself.
func (w *weighing) readsThere(sib *profile.Profile, c profile.Check, ev *evidence) (part, band string, ok bool) {
	alone := c
	alone.Lifted = true
	v := Shown{ev.reading.Value.Number, ev.reading.Value.OverRange}
	for _, there := range []profile.Check{c, alone} {
		got, err := sib.Resolve(there)
		if err != nil {
			continue
		}
		a := w.d.model.sibling(sib).assess(got, nil)
		if a.err == nil && !v.less(a.low) && !a.high.less(v) {
			return c.Across, a.bandText(got), true
		}
	}
	return "", "", false
}

// contradicts tells whether a reading lies beyond what a healthy board reads.
func (w *weighing) contradicts(ev *evidence) bool {
	one := weighing{view: view{d: w.d, evidence: []evidence{*ev}}}
	return one.contradictions() > 0
}

// inSibling gives a check on the sibling: the same one where it has it, or else
// across the part that sits in the same place there.
func (w *weighing) inSibling(sib *profile.Profile, c profile.Check) (profile.Check, bool) {
	there := profile.Check{State: c.State, Measure: c.Measure, Across: c.Across, Red: c.Red, Black: c.Black, Lifted: c.Lifted, Swapped: c.Swapped}
	if got, err := sib.Resolve(there); err == nil {
		return got, true
	}
	own, ok := w.d.model.profile.Part(c.Across)
	if !ok || own.Where == "" {
		return profile.Check{}, false
	}
	i := slices.IndexFunc(sib.Parts, func(p profile.Part) bool { return p.Where == own.Where && len(p.Pins) == 2 })
	if i < 0 {
		return profile.Check{}, false
	}
	there.Across = sib.Parts[i].Ref
	got, err := sib.Resolve(there)
	return got, err == nil
}
