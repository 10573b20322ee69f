package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ohmstead/internal/belief"
)

// The thresholds of a conclusion.
const (
	conflictBelow  = 0.001
	healthyFrom    = 0.975 // the formats ask for 0.95 at least
	foundFrom      = 0.98
	tellsApartFrom = 1.0986 // ln 3: expected ln Bayes factor of all checks left
)

// conclude says where the diagnosis stands, and which checks to make next while
// it is undecided.
func (f *foresight) conclude(next func(least float64) []Next) (Conclusion, []Next) {
	parts := f.weighing.groups(true)
	if c, ok := f.conflict(parts); ok {
		return c, []Next{}
	}
	if c, ok := f.healthy(); ok {
		return c, []Next{}
	}
	if c, ok := f.found(parts); ok {
		f.readAgainBefore(&c, parts)
		return c, []Next{}
	}
	offered := next(leastGain)
	if len(offered) == 0 && len(f.rest(parts)) > mostGroups {
		offered = next(faintGain)
	}
	if c, ok := f.indistinguishable(parts, len(offered) > 0); ok {
		return c, []Next{}
	}
	c := Conclusion{Status: Undecided, Parts: []string{}, Why: f.whyUndecided(parts)}
	f.readAgainFirst(&c, parts, offered)
	return c, offered
}

func (f *foresight) whyUndecided(parts []group) string {
	for i := range parts {
		g := &parts[i]
		if g.sibling != nil {
			continue
		}
		if len(g.parts) == 0 && g.p < 0.5 {
			return "More readings would tell: those so far point to no part."
		}
		if len(g.parts) == 0 {
			return fmt.Sprintf("Nothing wrong so far (%.0f %%); what is not read yet could still show a fault.", 100*g.p)
		}
		verb := "leads"
		if len(g.parts) > 1 {
			verb = "lead together"
		}
		return fmt.Sprintf("More readings would tell; %s %s with %.0f %%.", list(f.refs(g)), verb, 100*g.p)
	}
	return "More readings would tell."
}

// conflict looks whether nothing explains the readings, or a sibling does better.
func (f *foresight) conflict(parts []group) (Conclusion, bool) {
	if len(parts) > 0 && parts[0].sibling != nil {
		id := parts[0].sibling.ID
		return Conclusion{Status: Conflict, Parts: []string{}, Sibling: id,
			Why: fmt.Sprintf("The readings fit %s better than %s: look at the printed revision.", titleOf(parts[0].sibling), titleOf(f.d.model.profile))}, true
	}
	if len(f.evidence) == 0 {
		return Conclusion{}, false
	}
	// The best hypothesis is the most probable that explains the readings; only
	// when none of any weight does is there a conflict.
	healthy := f.all[0].logL
	tried, left := 0, 1.0
	for i := range f.groups {
		g := &f.groups[i]
		h := &f.all[g.best]
		if tried == mostRivals || left < leastRivals {
			break
		}
		if left -= g.p; g.sibling != nil || tried > 0 && h.logL == healthy {
			continue // it explains what a healthy board does, and no more
		}
		if p, _, _ := f.explains(h.places); p >= conflictBelow {
			return Conclusion{}, false
		}
		tried++
	}
	return f.contradiction(), true
}

// contradiction is the conclusion that no likely fault explains the readings.
func (f *foresight) contradiction() Conclusion {
	_, worst, s := f.explains(f.all[f.best()].places)
	c := Conclusion{Status: Conflict, Parts: []string{},
		Why: "No fault that this profile knows explains all readings: a slipped probe, charge left on the board, or a fault outside the model."}
	switch {
	case worst < 0:
	case len(f.evidence[worst].fitted) < len(f.fitted): // that board is not there any more
		c.Why += fmt.Sprintf(" It was read before a part was put in: %s. Strike it out if the probe slipped.", f.misfit(worst, s))
	default:
		c.Why += fmt.Sprintf(" Read again: %s.", f.misfit(worst, s))
		c.Again = &f.evidence[worst].check
	}
	return c
}

// Hypotheses that are tried before readings count as contradictory: so many, or
// all but this probability.
const (
	mostRivals  = 80
	leastRivals = 0.001
)

// explains gives the probability of readings as far off as these under some
// causes, and the one that is worst off. A reading counts as a slip only when the
// same check, made again, fits: otherwise it is not explained.
func (w *weighing) explains(places []place) (p float64, worst int, s *scored) {
	s = ptr(w.score(places))
	clean := w.withoutSlips(s)
	worst = -1
	slips, confirmed := 0, 0
	for i, f := range s.fits {
		if f.slip <= 0.5 && !f.lost {
			continue
		}
		slips++
		if w.madeAgain(i, s, clean) {
			confirmed++
		} else if worst < 0 || math.Abs(f.z) > math.Abs(s.fits[worst].z) {
			worst = i
		}
	}
	n := len(w.evidence)
	if slips > confirmed {
		return 0, worst, s
	}
	p = 1
	if k := len(clean.rows); k > 0 {
		p = belief.ChiSquareTail(clean.joint.ChiSquare, k)
		for _, i := range clean.rows {
			z := math.Abs(clean.fits[i].z)
			if q := float64(n) * 2 * belief.Normal(-z); q < p {
				p, worst = q, i
			}
		}
	}
	for i, f := range s.fits {
		if f.bound && f.slip <= 0.5 && float64(n)*f.p < p {
			p, worst = float64(n)*f.p, i
		}
	}
	return p, worst, s
}

// madeAgain tells whether the check of a reading was made again later, on the same
// board, and fits: a number beside those that are no slips.
func (w *weighing) madeAgain(i int, s, clean *scored) bool {
	for k := i + 1; k < len(w.evidence); k++ {
		if w.evidence[k].entry != w.evidence[i].entry || len(w.evidence[k].fitted) != len(w.evidence[i].fitted) {
			continue
		}
		fit := s.fits[k]
		if slices.Contains(clean.rows, k) {
			fit = clean.fits[k]
		}
		if fit.ok() {
			return true
		}
	}
	return false
}

// healthy looks whether the board is healthy, or has nothing that the readings
// speak for and no check would show.
func (f *foresight) healthy() (Conclusion, bool) {
	p := 0.0
	type hidden struct {
		fault int
		p     float64
	}
	unseen := map[int]float64{}
	for gi := range f.groups {
		g := &f.groups[gi]
		if g.sibling != nil {
			continue
		}
		for _, i := range g.members {
			h := &f.all[i]
			if f.separates(h) {
				continue
			}
			p += h.p
			for _, k := range g.faults {
				unseen[k] += h.p
			}
		}
	}
	if p < healthyFrom {
		return Conclusion{}, false
	}
	var list []hidden
	for k, q := range unseen {
		if q > leastUnseen {
			list = append(list, hidden{k, q})
		}
	}
	slices.SortFunc(list, func(a, b hidden) int {
		if a.p != b.p {
			return int(math.Copysign(1, b.p-a.p))
		}
		return a.fault - b.fault
	})
	c := Conclusion{Status: Healthy, Parts: []string{}, Why: f.sinceFitted() + " is what a good board reads, and no check of this profile would show otherwise."}
	for _, h := range list {
		k := &f.d.faults[h.fault]
		c.Unseen = append(c.Unseen, Fault{k.part.Ref, k.mode})
	}
	if len(c.Unseen) > 0 {
		c.Why += fmt.Sprintf(" %d faults could still hide from every check of this profile.", len(c.Unseen))
	}
	return c, true
}

// sinceFitted names the readings of the board as it now stands.
func (f *foresight) sinceFitted() string {
	var refs []string
	for i := range f.d.model.profile.Parts {
		if f.fitted[i] {
			refs = append(refs, f.d.model.profile.Parts[i].Ref)
		}
	}
	switch len(refs) {
	case 0:
		return "Every reading"
	case 1:
		return "Every reading since " + refs[0] + " was put in"
	}
	return "Every reading since " + list(refs) + " were put in"
}

// leastUnseen is the probability from which a fault that could hide is named.
const leastUnseen = 2e-4

// separates tells whether a hypothesis is to be told from a healthy board: by the
// readings made, which speak for it, or by a check that can still be made.
func (f *foresight) separates(h *hypothesis) bool {
	now := f.now(h)
	switch {
	case len(now) == 0:
		return false
	case len(now) > 1:
		return f.separatesAnew(now)
	case f.separable[now[0].cause] <= tellsApartFrom:
		return false
	case h.logL > f.healthiest()+tellsApartFrom:
		return true
	}
	return f.unmade[now[0].cause] > tellsApartFrom
}

// healthiest gives the best likelihood of a board on which nothing is wrong now.
func (f *foresight) healthiest() float64 {
	if !f.known {
		f.known, f.healthyLogL = true, math.Inf(-1)
		for i := range f.all {
			if h := &f.all[i]; h.sibling == nil && len(f.now(h)) == 0 {
				f.healthyLogL = max(f.healthyLogL, h.logL)
			}
		}
	}
	return f.healthyLogL
}

// separability gives by cause, of any size within its cell, how far checks together
// set it apart from a healthy board: as distance does.
func (d *dictionary) separability(entries []*entry) []float64 {
	out := make([]float64, len(d.causes))
	for _, e := range entries {
		for _, x := range e.distances(d) {
			out[x.cause] += x.distance
		}
	}
	return out
}

// apart is how far an entry sets a cause apart from a healthy board.
type apart struct {
	cause    int32
	distance float64
}

// distances gives how far an entry sets each cause apart that moves it.
func (e *entry) distances(d *dictionary) []apart {
	e.measured.Do(func() {
		good := d.foresee(e, nil)
		for id := range e.with {
			fc := d.foresee(e, []place{{cause: int(id), part: 1}})
			if x := d.distance(&fc, &good); x > 0 {
				e.aparts = append(e.aparts, apart{id, x})
			}
		}
		slices.SortFunc(e.aparts, func(a, b apart) int { return int(a.cause - b.cause) })
	})
	return e.aparts
}

// distance gives how far a forecast stands from another: squared, in variances of
// both; +Inf where only one of them is over-range, 0 where one may show anything.
func (d *dictionary) distance(f, g *forecast) float64 {
	switch {
	case !f.touched || f.lost:
		return 0
	case math.Abs(f.over-g.over) > 0.5:
		return math.Inf(1)
	}
	v := &view{d: d}
	y := f.y - g.y
	return y * y / (v.covariance(f, f) + f.variance + v.covariance(g, g) + g.variance + 1e-300)
}

// separatesAnew is whether the offered checks tell several causes on one board
// from a healthy one.
func (f *foresight) separatesAnew(now []place) bool {
	sum := 0.0
	for _, e := range f.offered {
		fc, good := f.foresee(e, now), f.foresee(e, nil)
		if sum += f.d.distance(&fc, &good); sum > tellsApartFrom {
			return true
		}
	}
	return false
}

// found looks whether one set of parts holds nearly all probability.
func (f *foresight) found(parts []group) (Conclusion, bool) {
	for i := range parts {
		g := &parts[i]
		if g.sibling != nil || len(g.parts) == 0 {
			continue
		}
		if g.p < foundFrom {
			break
		}
		if p, _, _ := f.explains(f.all[g.best].places); p < conflictBelow {
			break
		}
		return Conclusion{Status: Found, Parts: f.refs(g), Why: f.whyFound(g)}, true
	}
	return Conclusion{}, false
}

func (f *foresight) whyFound(g *group) string {
	return fmt.Sprintf("%s: %.1f %%. %s", f.named(&f.all[g.best]), 100*min(g.p, 0.999), f.whySuspect(g))
}

// foldHidden counts what no check of this profile would show with the healthy
// board: it is no rival of a fault that was seen.
func (f *foresight) foldHidden(parts []group) []group {
	var out []group
	healthy := group{best: 0}
	for _, g := range parts {
		if g.sibling == nil && !f.separates(&f.all[g.best]) {
			healthy.p += g.p
			continue
		}
		out = append(out, g)
	}
	out = append(out, healthy)
	slices.SortStableFunc(out, func(a, b group) int { return cmp.Compare(rank(b.p), rank(a.p)) })
	return out
}

// readAgain names in a conclusion the reading that only a slip would explain on
// a healthy board.
func (f *foresight) readAgain(c *Conclusion) {
	if _, worst, s := f.explains(nil); worst >= 0 {
		c.Why += fmt.Sprintf(" Nothing being wrong, one reading was a slip; make it again: %s.", f.misfit(worst, s))
		c.Again = &f.evidence[worst].check
	}
}

// rest gives the fewest sets of parts that hold nearly all probability, what no
// check of this profile would show among "nothing".
func (f *foresight) rest(parts []group) []group {
	var rest []group
	mass := 0.0
	for _, g := range f.foldHidden(parts) {
		if g.sibling != nil {
			continue
		}
		rest = append(rest, g)
		if mass += g.p; mass >= foundFrom {
			break
		}
	}
	return rest
}

// mostGroups is how many sets may remain for them to be called
// indistinguishable while checks are left.
const mostGroups = 10

// indistinguishable looks whether no available check would tell the rest apart:
// the fewest sets of parts that hold nearly all probability.
func (f *foresight) indistinguishable(parts []group, offers bool) (Conclusion, bool) {
	rest := f.rest(parts)
	if len(rest) > mostGroups && offers {
		return Conclusion{}, false
	}
	if len(rest) == 1 { // it leads by far, and yet does not explain the readings
		if offers {
			return Conclusion{}, false
		}
		return f.contradiction(), true
	}
	if offers {
		s, classes := f.study(rest)
		b := s.Simulate(2 * studyDraws)
		j := b.Nothing()
		for t := range s.Tests {
			if b.Tells(t) {
				j.Add(t)
			}
		}
		for x := range len(classes) {
			for y := range len(classes) {
				if j.Factor(x, y) >= tellsApartFrom {
					return Conclusion{}, false
				}
			}
		}
	}
	c := Conclusion{Status: Indistinguishable, Parts: []string{}}
	var names []string
	for i := range rest {
		refs := f.refs(&rest[i])
		c.Groups = append(c.Groups, refs)
		for _, r := range refs {
			if !slices.Contains(c.Parts, r) {
				c.Parts = append(c.Parts, r)
			}
		}
		if len(refs) == 0 {
			names = append(names, "nothing")
		} else {
			names = append(names, list(refs))
		}
	}
	c.Why = fmt.Sprintf("No check that can still be made tells these apart: %s.", some(names, 6, "or"))
	if slices.Contains(names, "nothing") {
		f.readAgain(&c)
	}
	return c, true
}
