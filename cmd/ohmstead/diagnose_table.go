package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// isTerminal tells whether a person looks at w and wants colour.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && os.Getenv("NO_COLOR") == "" && term.IsTerminal(int(f.Fd()))
}

// style is how a result is written for a person. The words carry the meaning;
// colour only repeats them.
type style struct {
	colour bool
}

// words are the verdicts as a technician says them.
var words = map[analysis.Verdict]string{
	analysis.Nonconforming: "BAD",
	analysis.Conforming:    "not bad",
	analysis.Inconclusive:  "cannot tell",
	analysis.NotRead:       "",
}

// paints are the terminal colours of the verdicts.
var paints = map[analysis.Verdict]string{
	analysis.Nonconforming: "\x1b[1;31m",
	analysis.Conforming:    "\x1b[32m",
	analysis.Inconclusive:  "\x1b[33m",
}

// write writes the whole answer.
func (s style) write(w io.Writer, p *profile.Profile, m *meter.Meter, r *analysis.Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s), read with: %s\n", p.Title, p.ID, m.Name)
	s.table(&b, r.Table)
	s.suspects(&b, r.Suspects)
	s.next(&b, r.Next)
	fmt.Fprintf(&b, "\nSo far: %s. %s\n", conclusionWords(r.Conclusion), r.Conclusion.Why)
	if len(r.Conclusion.Unseen) > 0 {
		var names []string
		for _, f := range r.Conclusion.Unseen {
			names = append(names, faults([]analysis.Fault{f}))
		}
		fmt.Fprintf(&b, "Could still hide: %s.\n", strings.Join(names, ", "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// table writes the readings with their verdicts, then what was not read.
func (s style) table(b *strings.Builder, rows []analysis.Row) {
	lines := [][]string{{"check", "state", "measure", "where", "a good board reads", "read", "verdict"}}
	for _, row := range rows {
		lines = append(lines, []string{
			row.Check.ID, row.Check.State, string(row.Check.Measure), where(row.Check), band(row), actual(row), words[row.Verdict],
		})
	}
	widths := make([]int, len(lines[0]))
	for _, line := range lines {
		for i, cell := range line {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	b.WriteString("\n")
	for i, line := range lines {
		var paint string
		if i > 0 && s.colour {
			paint = paints[rows[i-1].Verdict]
		}
		b.WriteString(s.line(line, widths, paint))
		if i > 0 && rows[i-1].Verdict != analysis.NotRead && rows[i-1].Why != "" {
			fmt.Fprintf(b, "    %s\n", rows[i-1].Why)
		}
	}
}

// line writes one row, its cells padded; the last is painted.
func (s style) line(cells []string, widths []int, paint string) string {
	var b strings.Builder
	for i, cell := range cells {
		pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+2)
		if paint != "" && i == len(cells)-1 {
			cell = paint + cell + "\x1b[0m"
		}
		b.WriteString(cell + pad)
	}
	return strings.TrimRight(b.String(), " ") + "\n"
}

// where says where the probes are.
func where(c analysis.CheckRef) string {
	at := "across " + c.Across
	if c.Across == "" {
		at = c.Red
		if c.Black != "" {
			at += " to " + c.Black
		}
	}
	if c.Lifted {
		at += ", lifted"
	}
	if c.Swapped {
		at += ", swapped"
	}
	return at
}

// band writes what a good board reads, at the bus that was read where that is known.
func band(row analysis.Row) string {
	e := row.ExpectedHere
	if e == nil {
		e = row.Expected
	}
	if e == nil {
		return "?"
	}
	show := func(x *float64) string {
		if x == nil {
			return "OL"
		}
		return quantity.Format(*x, row.Resolution, e.Unit)
	}
	low, high := show(e.Low), show(e.High)
	if low == high {
		return low
	}
	return low + " to " + high
}

// actual writes a reading as it was typed, empty when it was not taken.
func actual(row analysis.Row) string {
	if row.Reading == nil {
		return ""
	}
	return row.Reading.Value.Typed
}

func (s style) suspects(b *strings.Builder, all []analysis.Suspect) {
	if len(all) == 0 {
		return
	}
	b.WriteString("\nSuspects\n")
	for i, x := range all {
		share := fmt.Sprintf("%3.0f %%", 100*x.Probability)
		if x.Probability < leastShown {
			if i >= mostUnlikely {
				break
			}
			share = " <1 %"
		}
		name := x.Words
		if name == "" {
			name = faults(x.Faults)
		}
		fmt.Fprintf(b, "  %s  %s  %s\n", share, name, x.Why)
	}
}

// Suspects below leastShown are told only until mostUnlikely are; a program asks
// for all of them with --json.
const (
	leastShown   = 0.005
	mostUnlikely = 3
)

// faults names a hypothesis.
func faults(all []analysis.Fault) string {
	if len(all) == 0 {
		return "nothing wrong"
	}
	var parts []string
	for _, f := range all {
		parts = append(parts, f.Part+" "+strings.ReplaceAll(string(f.Mode), "_", " "))
	}
	return strings.Join(parts, " and ")
}

func (s style) next(b *strings.Builder, all []analysis.Next) {
	if len(all) == 0 {
		return
	}
	b.WriteString("\nNext\n")
	for _, n := range all {
		name := n.Check.ID
		if name != "" {
			name += ": "
		}
		fmt.Fprintf(b, "  %s%s %s %s  %s\n", name, n.Check.State, n.Check.Measure, where(n.Check), n.Why)
	}
}

// conclusionWords says where the diagnosis stands.
func conclusionWords(c analysis.Conclusion) string {
	switch c.Status {
	case analysis.Found:
		return "found " + strings.Join(c.Parts, " and ")
	case analysis.Indistinguishable:
		return "one of " + c.OneOf()
	case analysis.Conflict:
		return "the readings contradict each other"
	case analysis.Healthy:
		return "nothing wrong was found"
	}
	return "undecided"
}
