package page

import (
	"math"
	"slices"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/web/ui"
)

// StripChoice is one block whose strip can be drawn.
type StripChoice struct {
	ID    string
	Title string
	Here  bool
}

// stripChoices lists the blocks that have a path.
func stripChoices(in BenchInput) []StripChoice {
	var out []StripChoice
	for _, b := range in.Model.Profile.Blocks {
		if len(b.Path) == 0 {
			continue
		}
		title := b.Title
		if title == "" {
			title = b.ID
		}
		out = append(out, StripChoice{ID: b.ID, Title: title, Here: in.Strip != nil && in.Strip.Block.ID == b.ID})
	}
	return out
}

// stripOf makes the drawing of a block; nil when there is none.
func stripOf(in BenchInput) *ui.Strip {
	v := in.Strip
	if v == nil || v.Block == nil {
		return nil
	}
	d := stripDrawer{in: in, broken: brokenParts(in), onPath: map[string]bool{}}
	for _, st := range v.Stages {
		if st.Part != nil {
			d.onPath[st.Part.Ref] = true
		}
	}
	s := &ui.Strip{Title: v.Block.Title}
	if s.Title == "" {
		s.Title = v.Block.ID
	}
	s.Source = d.source(v)
	for _, st := range v.Stages {
		if st.Part != nil {
			part := d.part(st.Part, st.Rows)
			s.Stops = append(s.Stops, ui.Stop{Part: &part})
			continue
		}
		node := d.node(st)
		s.Stops = append(s.Stops, ui.Stop{Node: &node})
	}
	if b := v.Believes; b != nil {
		s.Believes, s.Note = believes(in.Locale, b)
	}
	s.Words = stripWords(s)
	return s
}

// stripDrawer carries what every stage needs.
type stripDrawer struct {
	in     BenchInput
	broken map[string]bool
	onPath map[string]bool
	hung   map[string]bool
}

// brokenParts are those whose fault was found: the engine's conclusion, or a
// finding that somebody confirmed and nobody withdrew. A part fitted since is whole.
func brokenParts(in BenchInput) map[string]bool {
	out := map[string]bool{}
	if in.Judged != nil && in.Judged.Result.Conclusion.Status == analysis.Found {
		for _, ref := range in.Judged.Result.Conclusion.Parts {
			out[ref] = true
		}
	}
	for _, f := range in.Story.Findings {
		if f.WithdrawnAt != nil || f.Part == "" {
			continue
		}
		out[f.Part] = !slices.ContainsFunc(in.Story.Fitted, fittedAfter(f.Part, f.TakenAt))
	}
	return out
}

// source says what feeds the chain: the source whose plus is the first node.
func (d *stripDrawer) source(v *analysis.StripView) string {
	if v.State == nil || len(v.Stages) == 0 {
		return ""
	}
	for _, s := range v.State.Sources {
		if s.Plus == v.Stages[0].Node {
			return s.Name
		}
	}
	return ""
}

// node draws a node with the parts that hang from it: those of the block that
// are not on the path themselves.
func (d *stripDrawer) node(st analysis.Stage) ui.StripNode {
	n := ui.StripNode{Name: st.Name, Level: levelText(d.in.Locale, st.Level)}
	if row := newestRead(st.Rows); row != nil {
		n.Read, n.Verdict = d.read(row), ui.Verdict(row.Verdict)
	}
	for _, ref := range d.in.Strip.Block.Parts {
		part, ok := d.in.Model.Profile.Part(ref)
		if !ok || d.onPath[ref] || !hangs(part, st.Node) {
			continue
		}
		d.onPath[ref] = true
		leg := d.part(part, d.rowsAcross(ref))
		leg.To = otherEnd(part, st.Node)
		n.Legs = append(n.Legs, leg)
	}
	return n
}

// hangs tells whether a two-pin part has a leg on the node.
func hangs(part *profile.Part, node string) bool {
	return len(part.Pins) == 2 && (part.Pins[0].Node == node || part.Pins[1].Node == node)
}

func otherEnd(part *profile.Part, node string) string {
	if part.Pins[0].Node == node {
		return part.Pins[1].Node
	}
	return part.Pins[0].Node
}

// rowsAcross lists the rows taken across a part in place.
func (d *stripDrawer) rowsAcross(ref string) []analysis.Row {
	var out []analysis.Row
	if d.in.Judged == nil {
		return nil
	}
	for _, row := range d.in.Judged.Result.Table {
		if row.Measured.Across == ref && !row.Measured.Lifted {
			out = append(out, row)
		}
	}
	return out
}

// part draws a part with the newest reading across it, or the band of its
// first check.
func (d *stripDrawer) part(part *profile.Part, rows []analysis.Row) ui.StripPart {
	p := ui.StripPart{Ref: part.Ref, Nominal: nominal(d.in.Locale, part), Broken: d.broken[part.Ref], Suspect: d.suspect(part.Ref)}
	row := newestRead(rows)
	if row != nil {
		p.Read, p.Verdict = d.read(row), ui.Verdict(row.Verdict)
	} else if len(rows) > 0 {
		row = &rows[0]
	}
	if row != nil && row.Expected != nil {
		s := ui.NewScale(scaledOf(row, ui.PartWidth))
		p.Scale = &s
	}
	return p
}

// suspect tells whether the engine thinks at least one in five of a part.
func (d *stripDrawer) suspect(ref string) bool {
	if d.in.Judged == nil {
		return false
	}
	share := 0.0
	for _, h := range d.in.Judged.Result.Suspects {
		if slices.ContainsFunc(h.Faults, func(f analysis.Fault) bool { return f.Part == ref }) {
			share += h.Probability
		}
	}
	return share >= 0.2
}

func (d *stripDrawer) read(row *analysis.Row) string {
	switch {
	case row.Reading.Value.Typed == bench.Agreed:
		return "agrees"
	case row.Actual == nil:
		return "OL"
	}
	return d.in.Locale.value(*row.Actual, math.Max(row.Reading.Value.Digit, threeDigits(*row.Actual)/10), row.Measured.Measure.Unit())
}

// newestRead gives the newest row with a reading, nil when there is none.
func newestRead(rows []analysis.Row) *analysis.Row {
	for i := len(rows) - 1; i >= 0; i-- {
		if rows[i].Reading != nil {
			return &rows[i]
		}
	}
	return nil
}

// nominal writes what is printed on a part: its value, or what its kind has
// instead.
func nominal(l Locale, part *profile.Part) string {
	for _, p := range []struct {
		name string
		unit quantity.Unit
	}{{"value", quantity.Ohm}, {"resistance", quantity.Ohm}, {"volts", quantity.Volt}, {"zener", quantity.Volt}, {"forward", quantity.Volt}} {
		v := part.Param(p.name)
		if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) || part.Kind == profile.InputPin {
			continue
		}
		unit := p.unit
		if part.Kind == profile.Capacitor {
			unit = quantity.Farad
		}
		return l.value(v, 0, unit)
	}
	return strings.ReplaceAll(string(part.Kind), "_", " ")
}

// levelText writes where a healthy node stands: "3.03 V", "floats".
func levelText(l Locale, v analysis.Level) string {
	if v.Floating {
		return "floats"
	}
	switch size := math.Abs(v.Typical); {
	case math.IsNaN(size) || math.IsInf(size, 0):
		return ""
	case size < 1e-4: // what a solver leaves of nothing
		return "0 V"
	}
	return l.value(v.Typical, threeDigits(v.Typical), quantity.Volt)
}

// believes says what the controller believes, and what lies beside it.
func believes(l Locale, b *analysis.Belief) (text, note string) {
	// A thousandth of full scale is as finely as anybody cares what is believed.
	least := threeDigits(math.Max(math.Abs(b.Nominal), math.Abs(b.FullScale)) / 10)
	write := func(v float64) string {
		if math.Abs(v) < least {
			return l.value(0, 1, b.Unit)
		}
		return l.value(v, math.Max(threeDigits(v), least), b.Unit)
	}
	healthy := "healthy: " + write(b.Nominal)
	switch {
	case b.Read == nil:
		return b.Of + " " + write(b.Nominal), "on a good board; not read yet"
	case b.Read.FullScale:
		text, note = "full scale, "+write(b.FullScale)+" or more", healthy
	default:
		text, note = b.Of+" "+write(b.Read.Value), healthy
	}
	if b.Actual != nil {
		note = "read at the source: " + write(*b.Actual)
	}
	return text, note
}

// stripWords tells the drawing in a sentence.
func stripWords(s *ui.Strip) string {
	var parts []string
	add := func(words ...string) {
		text := ""
		for _, w := range words {
			if w != "" {
				text += " " + w
			}
		}
		parts = append(parts, strings.TrimSpace(text))
	}
	partWords := func(p ui.StripPart, lead string) {
		read := ""
		if p.Read != "" {
			read = "read " + p.Read + ", " + p.Verdict.Word()
		}
		broken := ""
		if p.Broken {
			broken = "found faulty"
		}
		add(lead, p.Ref, p.Nominal, read, broken)
	}
	if s.Source != "" {
		add("From", s.Source)
	}
	for _, stop := range s.Stops {
		if stop.Part != nil {
			partWords(*stop.Part, "")
			continue
		}
		read := ""
		if stop.Node.Read != "" {
			read = "read " + stop.Node.Read + ", " + stop.Node.Verdict.Word()
		}
		add("node", stop.Node.Name, stop.Node.Level, read)
		for _, leg := range stop.Node.Legs {
			partWords(leg, "from there to "+leg.To)
		}
	}
	if s.Believes != "" {
		add("the controller believes", s.Believes)
	}
	return strings.Join(parts, "; ") + "."
}
