package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"ohmstead/internal/belief"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// group is hypotheses that leave the board as it now stands with the same
// faults.
type group struct {
	faults  []int // sorted
	parts   []int // sorted
	sibling *profile.Profile
	p       float64
	members []int // of weighing.all, as they come
	best    int   // the most probable member
}

// present gives the faults of a hypothesis that are still on the board.
func (w *weighing) present(h *hypothesis) []int {
	var out []int
	for _, p := range h.places {
		if !w.fitted[w.partOf(p.cause)] {
			out = append(out, w.d.causes[p.cause].fault)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// groups puts hypotheses together by present faults, or by the parts that have
// them, most probable first.
func (w *weighing) groups(byPart bool) []group {
	index := map[string]int{}
	var out []group
	for i := range w.all {
		h := &w.all[i]
		faults := w.present(h)
		var parts []int
		for _, f := range faults {
			parts = append(parts, w.d.faults[f].index)
		}
		slices.Sort(parts)
		key := fmt.Sprint(faults)
		if byPart {
			key = fmt.Sprint(parts)
		}
		if h.sibling != nil {
			key = "sibling " + h.sibling.ID
		}
		k, ok := index[key]
		if !ok {
			k = len(out)
			index[key] = k
			out = append(out, group{faults: faults, parts: parts, sibling: h.sibling, best: i})
		}
		g := &out[k]
		g.p += h.p
		g.members = append(g.members, i)
		if rank(h.p) > rank(w.all[g.best].p) {
			g.best = i
			g.faults = faults
		}
	}
	slices.SortFunc(out, func(a, b group) int {
		if byRank := cmp.Compare(rank(b.p), rank(a.p)); byRank != 0 {
			return byRank
		}
		return cmp.Or(slices.Compare(a.faults, b.faults), cmp.Compare(a.best, b.best))
	})
	return out
}

// rank is what probabilities are put in order by. The last digits of a probability
// hang on the point from which the solver happened to start: parts that the readings
// cannot tell apart would change places from run to run.
func rank(p float64) float64 { return math.Round(1e6 * math.Log(p)) }

// rounded is a probability without the digits that mean nothing.
func rounded(p float64) float64 { return math.Round(1e6*p) / 1e6 }

// refs gives the designators of a group's parts.
func (w *weighing) refs(g *group) []string {
	out := []string{}
	for _, i := range g.parts {
		out = append(out, w.d.model.profile.Parts[i].Ref)
	}
	return out
}

// maxSuspects is how many suspects are named, leastNamed the probability from
// which one is.
const (
	maxSuspects = 10
	leastNamed  = 1e-6
)

// suspects lists the most probable hypotheses.
func (w *weighing) suspects() []Suspect {
	out := []Suspect{}
	for _, g := range w.groups(false) {
		if len(out) == maxSuspects || g.p < leastNamed {
			break
		}
		if g.sibling != nil {
			continue // it is no fault of this board: the conclusion names it
		}
		out = append(out, w.suspect(&g))
	}
	return out
}

// suspect describes a group.
func (w *weighing) suspect(g *group) Suspect {
	s := Suspect{Faults: []Fault{}, Probability: rounded(g.p), Why: nothingRead, Words: w.named(&w.all[g.best])}
	for _, f := range g.faults {
		s.Faults = append(s.Faults, Fault{w.d.faults[f].part.Ref, w.d.faults[f].mode})
	}
	if len(w.evidence) > 0 || w.shown != nil {
		s.Account = w.account(g)
		s.Why = s.Account.text()
	}
	return s
}

const nothingRead = "Nothing was read yet: this is how often such parts fail."

// whySuspect says what a hypothesis explains and what it does not.
func (w *weighing) whySuspect(g *group) string { return w.suspect(g).Why }

// offReadings gives the readings that a hypothesis does not explain, alone or all
// together. Of readings
// that only contradict each other, those are meant that are off by themselves.
func (w *weighing) offReadings(s *scored) map[int]bool {
	off, alone := map[int]bool{}, map[int]bool{}
	together := belief.ChiSquareTail(s.joint.ChiSquare, len(s.rows)) < conflictBelow
	for i, f := range s.fits {
		if f.ok() && !together {
			continue
		}
		off[i] = !f.ok()
		ev, fc := &w.evidence[i], &s.shapes[i]
		sd := math.Sqrt(w.covariance(fc, fc) + fc.variance)
		if !f.ok() && (f.bound || f.lost || fc.over >= 1) || !f.bound && !f.lost && fc.over < 1 && math.Abs(ev.y-fc.y) > 3.3*sd {
			alone[i] = true
		}
	}
	if len(alone) > 0 {
		return alone
	}
	return off
}

func allOf(n int) string {
	if n == 1 {
		return "the reading"
	}
	return fmt.Sprintf("all %d readings", n)
}

// typed gives a reading as a person wrote it. One that only agreed with a good
// board says so.
func typed(r *Reading) string {
	switch {
	case r.Value.OverRange:
		return "OL"
	case r.Value.Typed != "" && !strings.ContainsAny(r.Value.Typed, "0123456789"):
		return r.Value.Typed
	}
	return quantity.Format(r.Value.Number, r.Value.Digit, r.Check.Measure.Unit())
}

// outcomeText gives what a check would show.
func (w *weighing) outcomeText(e *entry, o *outcome) string {
	switch {
	case o.lost:
		return "anything"
	case o.over > 0.5:
		return "OL"
	}
	v := offScale(e.check.Measure, o.y)
	return quantity.Format(v, w.d.model.shownAt(e.check.Measure, v).Resolution, e.check.Measure.Unit())
}

// placeText names a check in a sentence: "across R3", "diode across D1, swapped",
// "at TP3, live".
func placeText(c profile.Check) string {
	at := "across " + c.Across
	if c.Across == "" {
		at = "at " + c.Red
		if c.Black != "" {
			at = c.Red + " to " + c.Black
		}
	}
	if c.Measure != profile.MeasureResistance && c.Measure != profile.MeasureDCVolts {
		at = strings.ReplaceAll(string(c.Measure), "_", " ") + " " + at
	}
	if c.Lifted {
		at += " lifted"
	}
	if c.Swapped {
		at += " swapped"
	}
	if c.State != profile.Cold {
		at += ", " + c.State
	}
	return at
}
