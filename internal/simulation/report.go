package simulation

import (
	"fmt"
	"io"
	"math/rand/v2"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
)

// RepairDrawn repairs a board with so many faults drawn at random.
func (t *Technician) RepairDrawn(w World, rng *rand.Rand, faults int) *Repair {
	return t.Repair(w, rng, drawDefects(t.Profile, faults, w, rng)...)
}

// Every gives every mode of every part once, of a drawn size.
func (t *Technician) Every(rng *rand.Rand) []profile.Defect {
	var out []profile.Defect
	for i := range t.Profile.Parts {
		part := &t.Profile.Parts[i]
		for _, mode := range part.Kind.Modes() {
			if mode != profile.ModeShort || part.Ohms() == 0 || part.Ohms() >= 1 {
				out = append(out, Sized(part, mode, rng))
			}
		}
	}
	return out
}

// Report counts repairs.
type Report struct {
	repairs []*Repair
}

// Add counts a repair.
func (r *Report) Add(x *Repair) { r.repairs = append(r.repairs, x) }

// bins of probability for the calibration.
const bins = 10

// Write writes the figures.
func (r *Report) Write(w io.Writer) {
	var visible, exact, three, found, right, condemned, cured, missed, readings, inOrder int
	minutes := 0.0
	status := map[analysis.Status]int{}
	var claimed, correct [bins]float64
	for _, x := range r.repairs {
		if len(x.Good) > 0 {
			condemned++
		}
		if x.Status == analysis.Found {
			found++
			if subset(x.Claimed, x.bad()) {
				right++
			}
		}
		for _, s := range x.Top {
			b := min(int(s.Probability*bins), bins-1)
			claimed[b] += s.Probability
			if sameFaults(s, x) {
				correct[b]++
			}
		}
		if !x.Visible {
			continue
		}
		visible++
		status[x.Status]++
		readings += x.Readings
		inOrder += x.InOrder
		minutes += x.Minutes
		count(&exact, x.Exact())
		count(&three, x.InThree())
		count(&cured, x.Cured)
		count(&missed, !x.Cured && x.Final == analysis.Healthy)
	}
	n := float64(max(visible, 1))
	fmt.Fprintf(w, "  %d boards, %d with a fault that some check reveals\n", len(r.repairs), visible)
	fmt.Fprintf(w, "  of these: exact at the first conclusion %.1f %%, in the first three %.1f %%, nothing left that a check reveals after fitting and measuring again %.1f %%, called healthy with one left %.1f %%\n",
		100*float64(exact)/n, 100*float64(three)/n, 100*float64(cured)/n, 100*float64(missed)/n)
	fmt.Fprintf(w, "  first conclusion: found %d, indistinguishable %d, healthy %d, conflict %d, undecided %d\n",
		status[analysis.Found], status[analysis.Indistinguishable], status[analysis.Healthy], status[analysis.Conflict], status[analysis.Undecided])
	fmt.Fprintf(w, "  readings %.1f, minutes %.1f until then; top to bottom, the first reading that shows anything is number %.1f (%.0f %%)\n",
		float64(readings)/n, minutes/n, float64(inOrder)/n, 100*float64(readings)/float64(max(inOrder, 1)))
	fmt.Fprintf(w, "  all boards: found claimed %d, right %.1f %%; a good part called bad on %.1f %%\n",
		found, 100*float64(right)/float64(max(found, 1)), 100*float64(condemned)/float64(max(len(r.repairs), 1)))
	var b strings.Builder
	for k := range bins {
		fmt.Fprintf(&b, " %.0f/%.1f", correct[k], claimed[k])
	}
	fmt.Fprintf(w, "  suspects by tenths of probability, true/foreseen:%s\n", b.String())
}

func count(n *int, yes bool) {
	if yes {
		*n++
	}
}

func subset(a, b []string) bool {
	in := map[string]bool{}
	for _, x := range b {
		in[x] = true
	}
	for _, x := range a {
		if !in[x] {
			return false
		}
	}
	return true
}

// sameFaults tells whether a suspect is what is wrong, modes included.
func sameFaults(s analysis.Suspect, x *Repair) bool {
	if len(s.Faults) != len(x.Defects) {
		return false
	}
	for _, d := range x.Defects {
		ok := false
		for _, f := range s.Faults {
			ok = ok || f.Part == d.Part && f.Mode == d.Mode
		}
		if !ok {
			return false
		}
	}
	return true
}

// String writes a repair on one line.
func (r *Repair) String() string {
	var defects []string
	for _, d := range r.Defects {
		defects = append(defects, fmt.Sprintf("%s %s %.3g", d.Part, d.Mode, d.Size))
	}
	var top []string
	for _, s := range r.Top[:min(4, len(r.Top))] {
		top = append(top, fmt.Sprintf("%v %.3f", s.Faults, s.Probability))
	}
	mark := "ok "
	if !r.Exact() {
		mark = "NOT"
	}
	if !r.Visible {
		mark = "-  "
	}
	return fmt.Sprintf("%s %s | code %s | %s %v %v after %d readings; then %s, left %v, wrongly %v: %s %v", mark, strings.Join(defects, ", "),
		r.Code, r.Status, r.Claimed, r.Groups, r.Readings, r.Final, r.Left, r.Good, r.Why, top)
}
