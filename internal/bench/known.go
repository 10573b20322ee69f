package bench

import (
	"cmp"
	"slices"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
)

// Known is what is known of a board beside its own ticket.
type Known struct {
	Causes   past.Causes      // confirmed on other boards of its family
	Siblings []Sibling        // the revisions that it might be instead; see Model.Siblings
	Prices   *analysis.Prices // what danger and lifting count as; nil: the engine's own
}

// about makes the engine's case of a ticket: its readings, what the board shows and
// bears, and what else is known but the siblings, which ask adds.
func (m *Model) about(story *shop.Story, readings []analysis.Reading, code string, k Known) analysis.Case {
	return analysis.Case{Readings: readings, Code: code, Seen: m.marks(story.Seen), RuledOut: evidence.RuledOut(story.Overrules),
		Findings: k.findings(), Prices: k.Prices}
}

// findings counts on how many boards each fault was confirmed: one board counts
// once for a fault, however often somebody wrote it down.
func (k Known) findings() []analysis.Finding {
	var out []analysis.Finding
	seen := map[past.Cause]bool{}
	for _, c := range k.Causes {
		if seen[c] {
			continue
		}
		seen[c] = true
		f := analysis.Fault{Part: c.Part, Mode: profile.Mode(c.Mode)}
		i := slices.IndexFunc(out, func(o analysis.Finding) bool { return o.Fault == f })
		if i < 0 {
			out = append(out, analysis.Finding{Fault: f})
			i = len(out) - 1
		}
		out[i].Times++
	}
	slices.SortFunc(out, func(a, b analysis.Finding) int { // the same findings are the same question
		return cmp.Or(cmp.Compare(a.Part, b.Part), cmp.Compare(a.Mode, b.Mode))
	})
	return out
}

// marks gives what the eye found on parts of the profile. Words of somebody's own
// may say that a part looks good, and an earlier repair is no damage: both are left
// out.
func (m *Model) marks(list []evidence.Seen) []analysis.Seen {
	var out []analysis.Seen
	for _, s := range list {
		_, known := m.Profile.Part(s.Part)
		if known && s.What != evidence.RepairedBefore && slices.Contains(evidence.SeenWords(), s.What) {
			out = append(out, analysis.Seen{Part: s.Part, What: s.What})
		}
	}
	return out
}

// Like says which earlier boards are like a ticket's: of its family, and showing
// the same, in whichever way Code understands it. Where nothing was written down,
// whatever they showed; false when the family is not known. m may be nil.
func (m *Model) Like(story *shop.Story) (past.Like, bool) {
	if story.Board.FamilyID == nil {
		return past.Like{}, false
	}
	l := past.Like{Family: *story.Board.FamilyID, Board: story.Board.ID}
	written := strings.TrimSpace(story.Ticket.Indication)
	if written == "" {
		return l, true
	}
	l.Texts = []string{written}
	if m == nil {
		return l, true
	}
	code := m.Code(written)
	if code == shownNothing {
		l.Texts = append(l.Texts, nothingWords...)
	}
	for _, in := range m.Profile.Indications {
		if in.Code == code {
			l.Texts, l.Prefix = append(l.Texts, in.Code), in.Code+":"
			if in.Shows != "" {
				l.Texts = append(l.Texts, in.Shows)
			}
		}
	}
	return l, true
}
