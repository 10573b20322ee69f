package simulation

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"ohmstead/internal/analysis"
)

// Report counts repairs of one kind.
type Report struct {
	Title   string // such as "1 fault"
	repairs []*Repair
	bounds  []Bound
}

// Add counts a repair of a board for which there is a bound of readings, or none
// (nil).
func (r *Report) Add(x *Repair, b *Bound) {
	r.repairs = append(r.repairs, x)
	if b != nil {
		r.bounds = append(r.bounds, *b)
	}
}

// Calibrations gives claimed against true: at the first conclusions, and after
// half of the readings until then.
func (r *Report) Calibrations() (atFirst, midway Calibration) {
	for _, x := range r.repairs {
		atFirst.Add(x, x.Top)
		midway.Add(x, x.Midway)
	}
	return atFirst, midway
}

// line is one line of the table of figures.
type line struct{ name, value string }

// tally is everything that a report counts.
type tally struct {
	visible, exact, three, cured, healthyWrong, asked share // of boards with a fault that some check reveals
	condemned, healthy, needless                      share // of all boards
	right, rightEver                                  share // of claims
	missed                                            share // of parts
	status                                            map[analysis.Status]int
	readings, minutes, inOrder, total, slips          float64 // sums
	fixed                                             fixedTally
}

// fixedTally compares both ways of reading the same boards.
type fixedTally struct {
	exact                                      share
	readings, minutes, offered, offeredMinutes float64 // sums
}

func (r *Report) tally() *tally {
	t := &tally{status: map[analysis.Status]int{}}
	for _, x := range r.repairs {
		t.visible.count(x.Visible)
		t.condemned.count(len(x.Good) > 0)
		t.needless.count(len(x.Needless) > 0)
		t.slips += float64(x.Slips)
		t.total += float64(x.Total)
		if x.Status == analysis.Found {
			t.right.count(subset(x.Claimed, x.bad()))
		}
		t.rightEver.of += x.Claims - x.False
		t.rightEver.all += x.Claims
		if !x.Visible {
			t.healthy.count(x.Status == analysis.Healthy)
			continue
		}
		t.status[x.Status]++
		t.exact.count(x.Exact())
		t.three.count(x.InThree())
		t.cured.count(x.Cured)
		t.asked.count(x.Again > 0)
		t.healthyWrong.count(!x.Cured && x.Final == analysis.Healthy)
		t.missed.of += len(x.Missed)
		t.missed.all += len(x.Telling)
		t.readings += float64(x.Readings)
		t.minutes += x.Minutes
		t.inOrder += float64(x.InOrder)
		t.fixed.add(x)
	}
	return t
}

func (f *fixedTally) add(x *Repair) {
	if x.Fixed == nil {
		return
	}
	f.exact.count(x.Fixed.Exact)
	f.readings += float64(x.Fixed.Readings)
	f.minutes += x.Fixed.Minutes
	f.offered += float64(x.Readings)
	f.offeredMinutes += x.Minutes
}

// lines gives the figures. Those of the first conclusion, of readings and of what
// is left are of boards with a fault that some check reveals.
func (r *Report) lines() []line {
	t := r.tally()
	n := float64(max(t.visible.of, 1))
	boards := float64(max(len(r.repairs), 1))
	var statuses []string
	for _, s := range []analysis.Status{analysis.Found, analysis.Indistinguishable, analysis.Healthy, analysis.Conflict, analysis.Undecided} {
		statuses = append(statuses, fmt.Sprintf("%s %d", s, t.status[s]))
	}
	out := []line{
		{"boards", fmt.Sprint(len(r.repairs))},
		{"with a fault that some check reveals", fmt.Sprint(t.visible.of)},
		{"exact at the first conclusion", t.exact.String()},
		{"among the first three", t.three.String()},
		{"nothing left that a check reveals, after fitting and measuring again", t.cured.String()},
		{"called healthy with such a fault left", t.healthyWrong.String()},
		{"faulty parts missed, of those that a check reveals", t.missed.String()},
		{"boards on which a good part is called bad", t.condemned.String()},
		{"\"found\" claimed first, all its parts bad", t.right.String()},
		{"\"found\" claimed at any time, all its parts bad", t.rightEver.String()},
		{"boards on which good parts are exchanged with others that nothing tells from them", t.needless.String()},
		{"nothing to reveal, and called healthy", t.healthy.String()},
		{"first conclusions", strings.Join(statuses, ", ")},
		{"boards on which a reading is asked for again", t.asked.String()},
		{"slips a board", fmt.Sprintf("%.2f of %.1f readings", t.slips/boards, t.total/boards)},
		{"readings until the first conclusion", fmt.Sprintf("%.1f", t.readings/n)},
		{"minutes until then", fmt.Sprintf("%.1f", t.minutes/n)},
		{"number of the first reading in the profile's order that shows anything", fmt.Sprintf("%.1f", t.inOrder/n)},
	}
	out = append(out, t.fixed.lines()...)
	return append(out, boundLines(r.bounds)...)
}

func (f *fixedTally) lines() []line {
	n := float64(f.exact.all)
	if n == 0 {
		return nil
	}
	against := func(a, b float64) string {
		return fmt.Sprintf("%.1f, offered %.1f: %.0f %%", a/n, b/n, 100*b/a)
	}
	return []line{
		{"the same boards in the profile's order, exact", f.exact.String()},
		{"readings in the profile's order", against(f.readings, f.offered)},
		{"minutes in the profile's order", against(f.minutes, f.offeredMinutes)},
	}
}

// boundLines writes the bounds; over several profiles, their means.
func boundLines(bounds []Bound) []line {
	if len(bounds) == 0 {
		return nil
	}
	groups, half, bits, n := 0.0, 0.0, 0.0, float64(len(bounds))
	for _, b := range bounds {
		groups += float64(b.Groups) / n
		half += float64(b.HalfSplit) / n
		bits += b.Bits / n
	}
	return []line{
		{"groups of parts that some check tells apart", fmt.Sprintf("%.1f", groups)},
		{"half-split bound of two-way checks, readings", fmt.Sprintf("%.1f", half)},
		{"Shannon bound of two-way checks, readings on average", fmt.Sprintf("%.2f", bits)},
	}
}

// Text writes reports one under the other.
func Text(w io.Writer, reports ...*Report) {
	for _, r := range reports {
		fmt.Fprintf(w, "  %s\n", r.Title)
		for _, l := range r.lines() {
			fmt.Fprintf(w, "    %-80s %s\n", l.name, l.value)
		}
	}
}

// Markdown writes reports as the columns of one table.
func Markdown(w io.Writer, reports ...*Report) {
	var names []string
	columns := make([]map[string]string, len(reports))
	fmt.Fprint(w, "| |")
	for i, r := range reports {
		fmt.Fprintf(w, " %s |", r.Title)
		columns[i] = map[string]string{}
		for _, l := range r.lines() {
			columns[i][l.name] = l.value
			if !slices.Contains(names, l.name) {
				names = append(names, l.name)
			}
		}
	}
	fmt.Fprintf(w, "\n|---|%s\n", strings.Repeat("---|", len(reports)))
	for _, name := range names {
		fmt.Fprintf(w, "| %s |", name)
		for i := range reports {
			fmt.Fprintf(w, " %s |", columns[i][name])
		}
		fmt.Fprintln(w)
	}
}

// Misses writes a table of the boards with a fault that some check reveals whose
// first conclusion was not exact; nothing when there are none.
func Misses(w io.Writer, profile string, repairs []*Repair) {
	head := "| profile | fault | first conclusion | after readings | first suspect |\n|---|---|---|---|---|\n"
	for _, r := range repairs {
		if r.Visible && !r.Exact() {
			fmt.Fprintf(w, "%s| %s | %s | %s | %d | %s |\n", head, profile, r.planted(), r.concluded(), r.Readings, r.first())
			head = ""
		}
	}
}

func (r *Repair) planted() string {
	var out []string
	for _, d := range r.Defects {
		out = append(out, fmt.Sprintf("%s %s %.3g", d.Part, d.Mode, d.Size))
	}
	return strings.Join(out, ", ")
}

func (r *Repair) concluded() string {
	switch r.Status {
	case analysis.Found:
		return fmt.Sprintf("found %s", strings.Join(r.Claimed, ", "))
	case analysis.Indistinguishable:
		var sets []string
		for _, g := range r.Groups {
			if len(g) == 0 {
				g = []string{"nothing"}
			}
			sets = append(sets, strings.Join(g, " and "))
		}
		return strings.Join(sets, " or ")
	}
	return string(r.Status)
}

// first gives the first suspect.
func (r *Repair) first() string {
	if len(r.Top) == 0 {
		return ""
	}
	return fmt.Sprintf("%v %.3f", r.Top[0].Faults, r.Top[0].Probability)
}

// String writes a repair on one line.
func (r *Repair) String() string {
	var top []string
	for _, s := range r.Top[:min(4, len(r.Top))] {
		top = append(top, fmt.Sprintf("%v %.3f", s.Faults, s.Probability))
	}
	mark := "ok "
	switch {
	case !r.Visible:
		mark = "-  "
	case !r.Exact():
		mark = "NOT"
	}
	fixed := ""
	if r.Fixed != nil {
		fixed = fmt.Sprintf(" (in order %d)", r.Fixed.Readings)
	}
	return fmt.Sprintf("%s %s | code %s | %s %s after %d readings%s, %d again, %d slips; then %s, left %v, wrongly %v: %s %v", mark, r.planted(),
		r.Code, r.Status, r.concluded(), r.Readings, fixed, r.Again, r.Slips, r.Final, r.Left, r.Good, r.Why, top)
}
