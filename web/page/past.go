package page

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
)

// PastInput is how earlier boards went that are like the one of a page.
type PastInput struct {
	Like   past.Like
	Stays  []past.Stay
	Prices bool // who looks may see prices
}

// PastTable shows it.
type PastTable struct {
	Which  string // how many, and which boards these are
	Empty  string // said instead of the table; "" when there is one
	Any    bool   // whatever they showed: the lines say what
	Prices bool
	Lines  []PastLine
}

// PastLine is one earlier board.
type PastLine struct {
	Number, Address string
	Revision        string
	Shows           string // what it showed, where the lines differ in that
	Found           string // "" when no finding was recorded
	End             string // where that is no repair: "returned unrepaired"
	Minutes         string // at the bench; "" when nothing was recorded there
	Price           string // "" without one
	Back            bool
}

// pastOf makes the table; nil when the board's family is not known.
func pastOf(in *PastInput, l Locale) *PastTable {
	if in == nil {
		return nil
	}
	t := &PastTable{Any: in.Like.Any(), Prices: in.Prices}
	with := " of this family with this indication"
	if t.Any {
		with = " of this family, whatever they showed: of this board no indication is written down"
	}
	switch n := len(in.Stays); {
	case n == 0 && t.Any:
		t.Empty = "No other board of this family yet."
	case n == 0:
		t.Empty = "No other board of this family with this indication yet."
	case n < past.MostStays:
		t.Which = count(n, "other board") + with + "."
	default:
		t.Which = fmt.Sprintf("The last %d boards", n) + with + "."
	}
	for _, s := range in.Stays {
		t.Lines = append(t.Lines, pastLine(s, t.Any, in.Prices, l))
	}
	return t
}

func pastLine(s past.Stay, anyShown, prices bool, l Locale) PastLine {
	line := PastLine{Number: numeral(s.Number), Address: TicketAddress(s.Number), Revision: s.Revision, Back: s.Back}
	if anyShown {
		line.Shows = s.Indication
	}
	var found []string
	for _, f := range s.Findings {
		found = append(found, findingWords(f))
	}
	line.Found = strings.Join(found, "; ")
	switch {
	case !s.State.Ended():
		line.End = "still here"
	case s.State != shop.HandedOver:
		line.End = s.State.Title()
	}
	if s.Minutes != nil {
		line.Minutes = fmt.Sprint(*s.Minutes)
	}
	if prices && s.Price != nil {
		line.Price = l.Money(*s.Price)
	}
	return line
}

// findingWords names a cause: part and way of failing, or the technician's words.
func findingWords(f past.Finding) string {
	if f.Part != "" && f.Mode != "" {
		return f.Part + " " + modeWords(profile.Mode(f.Mode))
	}
	return join(": ", f.Part, shorten(f.Words, mostFoundWords))
}

// mostFoundWords is how many characters of somebody's own words a line shows.
const mostFoundWords = 60

// shorten cuts a text at a word's end.
func shorten(s string, most int) string {
	r := []rune(strings.Join(strings.Fields(s), " "))
	if len(r) <= most {
		return string(r)
	}
	cut := string(r[:most])
	if i := strings.LastIndex(cut, " "); i > most/2 {
		cut = cut[:i]
	}
	return cut + " …"
}

// foundBefore says which of the suspects were the cause on other boards of the
// family; "" when none was.
func foundBefore(causes past.Causes, suspects []analysis.Set) string {
	type part struct {
		ref   string
		times int
	}
	var parts []part
	for _, s := range suspects[:min(mostSuspects, len(suspects))] {
		for _, ref := range s.Parts {
			n := causes.Of(ref)
			if n > 0 && !slices.ContainsFunc(parts, func(p part) bool { return p.ref == ref }) {
				parts = append(parts, part{ref, n})
			}
		}
	}
	if len(parts) == 0 {
		return ""
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(b.times, a.times) })
	var words []string
	for i, p := range parts {
		w := fmt.Sprintf("%d: %s", p.times, p.ref)
		if i == 0 {
			w = fmt.Sprintf("%d of the last %d boards of this family with a confirmed cause: %s", p.times, causes.Boards(), p.ref)
		}
		words = append(words, w)
	}
	return strings.Join(words, "; ") + ". It is weighed in."
}
