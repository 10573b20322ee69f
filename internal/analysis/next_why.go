package analysis

import (
	"fmt"
	"slices"
	"strings"

	"ohmstead/internal/belief"
	"ohmstead/internal/profile"
)

// Words of a proposed check: so many suspects are told apart, so many parts named
// as cleared.
const (
	mostWould  = 3
	mostClears = 4
)

// tellNext says what the outcomes of a check would mean: what is read when none
// of the suspects that it would show is at fault, and what the likeliest of those
// would read.
func (f *foresight) tellNext(n *Next) {
	i := slices.IndexFunc(f.entries, func(e *entry) bool { return e.check.Key() == n.Measured.Key() })
	if i < 0 {
		return
	}
	e := f.entries[i]
	n.Leaves = f.textOf(e, f.base[i])
	said := map[string]bool{n.Leaves: true}
	for gi := range f.groups {
		g := &f.groups[gi]
		if len(g.faults) == 0 || g.sibling != nil {
			continue
		}
		fc := f.foresee(e, f.now(&f.all[g.best]))
		if !f.apart(&fc, f.base[i]) {
			continue
		}
		if ref := f.d.faults[g.faults[0]].part.Ref; len(g.faults) == 1 && len(n.Clears) < mostClears && !slices.Contains(n.Clears, ref) {
			n.Clears = append(n.Clears, ref)
		}
		text, words := f.outcomeText(e, &fc.outcome), f.named(&f.all[g.best])
		if !said[text] && !said[words] && len(n.Would) < mostWould {
			said[text], said[words] = true, true
			n.Would = append(n.Would, Would{Words: words, Reads: text})
		}
		if len(n.Would) == mostWould && len(n.Clears) == mostClears {
			break
		}
	}
	n.Why = n.why()
}

// why puts it into one sentence.
func (n *Next) why() string {
	var would []string
	for i, w := range n.Would {
		verb := " would read "
		if i > 0 {
			verb = " "
		}
		would = append(would, w.Words+verb+w.Reads)
	}
	text := "About " + n.Leaves
	if len(n.Clears) > 0 {
		text += " clears " + list(n.Clears)
	} else {
		text += " clears what is suspected"
	}
	if len(would) > 0 {
		text += "; " + strings.Join(would, ", ")
	}
	return text + "."
}

// list joins names in a sentence.
func list(names []string) string {
	switch len(names) {
	case 0:
		return "nothing"
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// some joins the first of names in a sentence and counts the others.
func some(names []string, most int, word string) string {
	if len(names) <= most+1 {
		return strings.Join(names, " "+word+" ")
	}
	return fmt.Sprintf("%s %s %d others", strings.Join(names[:most], " "+word+" "), word, len(names)-most)
}

func (f *foresight) textOf(e *entry, o belief.Outcome) string {
	return f.outcomeText(e, &outcome{y: o.Mean, over: o.Over})
}

// titleOf names a profile: by its title up to the first comma, "SEDGE D".
func titleOf(p *profile.Profile) string {
	short, _, _ := strings.Cut(p.Title, ",")
	if short == "" {
		return p.ID
	}
	return short
}
