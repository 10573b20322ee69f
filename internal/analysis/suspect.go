package analysis

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

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
		if h.p > w.all[g.best].p {
			g.best = i
			g.faults = faults
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].p > out[b].p })
	return out
}

// refs gives the designators of a group's parts.
func (w *weighing) refs(g *group) []string {
	out := []string{}
	for _, i := range g.parts {
		out = append(out, w.d.model.profile.Parts[i].Ref)
	}
	return out
}

// maxSuspects is how many suspects are named.
const maxSuspects = 10

// suspects lists the most probable hypotheses.
func (w *weighing) suspects() []Suspect {
	out := []Suspect{}
	for _, g := range w.groups(false) {
		if len(out) == maxSuspects || g.p < 1e-6 {
			break
		}
		if g.sibling != nil {
			continue // it is no fault of this board: the conclusion names it
		}
		s := Suspect{Faults: []Fault{}, Probability: g.p, Why: w.whySuspect(&g)}
		for _, f := range g.faults {
			s.Faults = append(s.Faults, Fault{w.d.faults[f].part.Ref, w.d.faults[f].mode})
		}
		out = append(out, s)
	}
	return out
}

// whySuspect says what a hypothesis explains and what it does not.
func (w *weighing) whySuspect(g *group) string {
	h := &w.all[g.best]
	if len(w.evidence) == 0 && w.shown == nil {
		return "Nothing was read yet: this is how often such parts fail."
	}
	s := w.score(h.places)
	var not []string
	good, told := 0, 0
	off := w.offReadings(&s)
	for i := range w.evidence {
		if s.shapes[i].touched {
			told++
		}
		if off[i] {
			not = append(not, w.misfit(i, &s))
		} else {
			good++
		}
	}
	var text string
	switch n := len(w.evidence); {
	case n == 0:
		text = "No reading speaks for or against it yet."
	case len(not) == 0 && told == 0 && len(h.places) > 0:
		text = fmt.Sprintf("No reading so far would have shown it (%d of %d fit).", good, n)
	case len(not) == 0:
		text = fmt.Sprintf("Explains %s.", allOf(n))
	default:
		text = fmt.Sprintf("Explains %d of %d readings; does not explain: %s.", good, n, strings.Join(not[:min(3, len(not))], "; "))
	}
	if size := w.sizeText(h); size != "" {
		text += " " + size
	}
	if seen := w.whyShown(h); seen != "" {
		text += " " + seen
	}
	return text
}

// offReadings gives the readings that a hypothesis does not explain. Of readings
// that only contradict each other, those are meant that are off by themselves.
func (w *weighing) offReadings(s *scored) map[int]bool {
	off, alone := map[int]bool{}, map[int]bool{}
	for i, f := range s.fits {
		if f.ok() {
			continue
		}
		off[i] = true
		ev, fc := &w.evidence[i], &s.shapes[i]
		sd := math.Sqrt(w.covariance(fc, fc) + fc.variance)
		if f.bound || f.lost || fc.over >= 1 || math.Abs(ev.y-fc.y) > 3.3*sd {
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

// misfit names a reading and what would have been read.
func (w *weighing) misfit(i int, s *scored) string {
	ev := &w.evidence[i]
	return fmt.Sprintf("%s read %s, would be %s", placeText(ev.check), typed(ev.reading), w.outcomeText(ev.entry, &s.shapes[i].outcome))
}

// typed gives a reading as a person wrote it.
func typed(r *Reading) string {
	if r.Value.OverRange {
		return "OL"
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

// placeText names a check in a sentence.
func placeText(c profile.Check) string {
	at := "across " + c.Across
	if c.Across == "" {
		at = "at " + c.Red
		if c.Black != "" {
			at = c.Red + " to " + c.Black
		}
	}
	if c.Lifted {
		at += " lifted"
	}
	if c.Swapped {
		at += " swapped"
	}
	if c.ID != "" {
		return c.ID + " (" + at + ")"
	}
	return c.State + " " + at
}

// sizeText says of what size the faults are, where that is known.
func (w *weighing) sizeText(h *hypothesis) string {
	var out []string
	for _, p := range h.places {
		c := &w.d.causes[p.cause]
		if w.fitted[w.partOf(p.cause)] || c.width == 0 || p.part == 1 {
			continue
		}
		size := c.Size * math.Exp(p.at*c.width)
		switch part := w.d.faults[c.fault].part; {
		case c.Mode == profile.ModeOpen:
			out = append(out, fmt.Sprintf("%s about %s", c.Part, quantity.Format(size, 0, quantity.Ohm)))
		case resistive(part) && (c.Mode == profile.ModeHigh || c.Mode == profile.ModeLow):
			out = append(out, fmt.Sprintf("%s about %s instead of %s", c.Part,
				quantity.Format(round2(asResistance(part, profile.Defect{Mode: c.Mode, Size: size})), 0, quantity.Ohm), quantity.Format(part.Ohms(), 0, quantity.Ohm)))
		case c.Mode == profile.ModeLeaky:
			out = append(out, fmt.Sprintf("%s about %s beside it", c.Part, quantity.Format(round2(size), 0, quantity.Ohm)))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return strings.Join(out, ", ") + "."
}

// round2 rounds to two digits.
func round2(x float64) float64 {
	if x <= 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(x))-1)
	return math.Round(x/unit) * unit
}
