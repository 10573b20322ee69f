package page

import (
	"slices"
	"strconv"
	"strings"

	"ohmstead/internal/profile"
	"ohmstead/web/ui"
)

// ExpectedFold is the checks of one block of the board in one state: a part of the
// table that opens by itself.
type ExpectedFold struct {
	Key   string // names it on the page
	Title string // "Bus sensing, cold"
	Note  string // "12 checks, 3 read, 1 bad"
	Open  bool   // the check at hand is in it
	Lines []ExpectedLine
}

// Folds cuts the table into its folds: blocks in the profile's order, the states of
// each together; places of no block last. A table of few lines is one.
func (t ExpectedTable) Folds() []ExpectedFold {
	var out []ExpectedFold
	for _, l := range t.Lines {
		i := slices.IndexFunc(out, func(f ExpectedFold) bool { return f.Key == l.Fold.Key })
		if i < 0 {
			i = len(out)
			out = append(out, ExpectedFold{Key: l.Fold.Key, Title: l.Fold.Title})
		}
		out[i].Lines = append(out[i].Lines, l)
		out[i].Open = out[i].Open || l.AtHand
	}
	slices.SortStableFunc(out, func(a, b ExpectedFold) int { return a.Lines[0].Fold.Place - b.Lines[0].Fold.Place })
	for i := range out {
		out[i].Note = noteOf(out[i].Lines)
		out[i].Open = out[i].Open || len(t.Lines) <= fewLines
	}
	return out
}

// fewLines is how many lines a table may have and still stand open.
const fewLines = 12

// noteOf counts what was read of some lines, and what is bad.
func noteOf(lines []ExpectedLine) string {
	read, bad := 0, 0
	for _, l := range lines {
		if l.Verdict != ui.None {
			read++
		}
		if l.Verdict == ui.Bad {
			bad++
		}
	}
	parts := []string{count(len(lines), "check")}
	if read > 0 {
		parts = append(parts, strconv.Itoa(read)+" read")
	}
	if bad > 0 {
		parts = append(parts, strconv.Itoa(bad)+" bad")
	}
	return strings.Join(parts, ", ")
}

// foldName says in which fold a check stands.
type foldName struct {
	Key, Title string
	Place      int // in the order of the folds
}

// foldOf finds the block of a check: the first that has the part across which it is
// taken, or one of whose parts is at its red place.
func foldOf(p *profile.Profile, c profile.Check) foldName {
	state := 0
	for i, st := range p.States {
		if st.ID == c.State {
			state = i
		}
	}
	for i := range p.Blocks {
		b := &p.Blocks[i]
		if !inBlock(p, b, c) {
			continue
		}
		title := b.Title
		if title == "" {
			title = b.ID
		}
		return foldName{Key: b.ID + "-" + c.State, Title: title + ", " + c.State, Place: i*(len(p.States)+1) + state}
	}
	title := "Other places, " + c.State
	if len(p.Blocks) == 0 {
		title = capital(c.State)
	}
	return foldName{Key: "-" + c.State, Title: title, Place: len(p.Blocks)*(len(p.States)+1) + state}
}

func inBlock(p *profile.Profile, b *profile.Block, c profile.Check) bool {
	if c.Across != "" {
		return slices.Contains(b.Parts, c.Across) || slices.Contains(b.Path, c.Across)
	}
	node := c.RedNode
	for _, name := range b.Path {
		if at, ok := p.Node(name); ok && at == node {
			return true
		}
	}
	for _, ref := range b.Parts {
		part, ok := p.Part(ref)
		if ok && slices.ContainsFunc(part.Pins, func(pin profile.Pin) bool { return pin.Node == node }) {
			return true
		}
	}
	return false
}
