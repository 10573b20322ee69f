package page

import (
	"strings"
	"time"

	"ohmstead/internal/shop"
)

// FindPage is what a search found, or how to search.
type FindPage struct {
	Frame   Frame
	Query   string // as typed
	Sought  string // what was looked for, in words: "ticket 2041 and phone digits 2041"; "" nothing to look for
	Found   []Found
	Most    bool // the list is as long as it gets; there may be more
	Nothing bool // something was looked for and not found
	Short   bool // something was typed that cannot be looked for
}

// Found is one ticket with the line to read to the caller.
type Found struct {
	Ticket TicketLine
	Aloud  string
}

// mostFound is the longest list that a search gives.
const mostFound = 50

// NewFind makes the page of a search.
func NewFind(f Frame, typed string, list []shop.Summary, now time.Time) FindPage {
	f.Query = typed
	p := FindPage{Frame: f, Query: typed, Sought: soughtWords(shop.ParseQuery(typed)), Most: len(list) >= mostFound}
	for _, t := range list {
		p.Found = append(p.Found, Found{TicketLineOf(t, f.Locale, now), ReadAloud(t, f.Locale, now)})
	}
	p.Nothing = p.Sought != "" && len(list) == 0
	p.Short = p.Sought == "" && strings.TrimSpace(typed) != ""
	switch {
	case p.Short:
		p.Frame.Title = "“" + brief(typed) + "” is not enough to find a board by."
	case p.Sought == "":
		p.Frame.Title = "Find a board"
	case p.Nothing:
		p.Frame.Title = "Nothing was found for “" + brief(typed) + "”."
	default:
		p.Frame.Title = count(len(list), "ticket") + " found for “" + brief(typed) + "”."
	}
	return p
}

// brief shortens what was typed for a title.
func brief(typed string) string {
	if r := []rune(strings.TrimSpace(typed)); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return strings.TrimSpace(typed)
}

// soughtWords says what a query was taken for.
func soughtWords(q shop.Query) string {
	var parts []string
	if q.Number > 0 {
		parts = append(parts, "the ticket’s number")
	}
	if q.Digits != "" {
		parts = append(parts, "phone numbers that begin or end with "+q.Digits)
	}
	if q.Serial != "" {
		parts = append(parts, "the serial or tag "+q.Serial)
	}
	if len(q.Words) > 0 {
		parts = append(parts, "names with "+strings.Join(q.Words, " "))
	}
	return sentenceList(parts)
}

// sentenceList joins parts as a sentence does: "a, b and c".
func sentenceList(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}
