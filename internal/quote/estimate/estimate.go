// Package estimate proposes the lines of a quote from what was found on a board
// and fitted to it: a line for the part, one for the labour with a usual time,
// and the examination fee with its credit.
//
// It knows the shop's terms and the trade's usual bench times; it knows no
// prices of parts, which a person types, and no storage or pages.
package estimate

import (
	"fmt"
	"strings"
	"unicode"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// Work is one repair on a board that can be put into the quote in one go.
type Work struct {
	Key    string      // what a form calls it: the designator, or the finding's key
	Title  string      // "Replace R13 (open)"
	Part   *quote.Line // without a price yet; nil when no part is needed
	Labour quote.Line
}

// Lines gives the lines that the work adds to a quote, part first.
func (w Work) Lines() []quote.Line {
	if w.Part == nil {
		return []quote.Line{w.Labour}
	}
	return []quote.Line{*w.Part, w.Labour}
}

// In tells whether lines speak of the work already: its labour's text stands
// there, or its designator as a word of its own.
func (w Work) In(lines []quote.Line) bool {
	for _, l := range lines {
		if l.Text == w.Labour.Text || w.Part != nil && names(l.Text, w.Key) {
			return true
		}
	}
	return false
}

// names tells whether a text has the designator as a word: "R1" is not in "R13".
func names(text, ref string) bool {
	words := strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' })
	for _, w := range words {
		if strings.EqualFold(w, ref) {
			return true
		}
	}
	return false
}

// From proposes one work for each part that was found bad or fitted, and one for
// each finding that names no part, in the order found. Findings that were
// withdrawn are left out. Lines bear the shop's usual tax.
func From(findings []evidence.Finding, fitted []evidence.Fitted, set shop.Settings) []Work {
	var out []Work
	known := map[string]int{}
	for _, f := range findings {
		ref := strings.TrimSpace(f.Part)
		switch _, again := known[ref]; {
		case f.WithdrawnAt != nil || again:
		case ref == "":
			out = append(out, repair(f, set))
		default:
			known[ref] = len(out)
			out = append(out, replace(ref, modeWords(f.Mode), set))
		}
	}
	for _, p := range fitted {
		ref := strings.TrimSpace(p.Part)
		if ref == "" {
			continue
		}
		at, ok := known[ref]
		if !ok {
			at = len(out)
			known[ref] = at
			out = append(out, replace(ref, "", set))
		}
		if what := strings.TrimSpace(p.What); what != "" {
			out[at].Part.Text = clip(what + " (" + ref + ")")
		}
	}
	return out
}

// replace is a part that comes out and a new one that goes in.
func replace(ref, mode string, set shop.Settings) Work {
	title := "Replace " + ref
	if mode != "" {
		title += " (" + mode + ")"
	}
	part := quote.Line{Kind: quote.Part, Text: clip("Part for " + ref), Quantity: quote.Whole(1), Tax: UsualTax(set)}
	return Work{Key: ref, Title: title, Part: &part, Labour: labour(title, Hours(ref), set)}
}

// repair is work on something that is no part: a joint, a track, a connector.
func repair(f evidence.Finding, set shop.Settings) Work {
	words := strings.TrimSpace(f.Words)
	if words == "" {
		words = modeWords(f.Mode)
	}
	title := "Repair: " + words
	return Work{Key: f.ID.String(), Title: title, Labour: labour(title, otherHours, set)}
}

func labour(text string, hours quote.Decimal, set shop.Settings) quote.Line {
	return quote.Line{Kind: quote.Labour, Text: clip(text), Quantity: hours, UnitPrice: set.LabourRate, Tax: UsualTax(set)}
}

// modeWords gives a way of failing in words: "led_open" is "LED open".
func modeWords(mode string) string {
	return strings.Replace(strings.ReplaceAll(mode, "_", " "), "led ", "LED ", 1)
}

// Fee proposes the line of the examination fee and, where the shop's terms say
// so, the line that credits it because the board is repaired. No fee, no lines.
func Fee(set shop.Settings) []quote.Line {
	if set.ExaminationFee <= 0 {
		return nil
	}
	fee := quote.Line{Kind: quote.Fee, Text: "Examination fee", Quantity: quote.Whole(1), UnitPrice: set.ExaminationFee, Tax: UsualTax(set)}
	if !set.CreditFee {
		return []quote.Line{fee}
	}
	credit := fee
	credit.Text, credit.Quantity = "Examination fee, credited on repair", quote.Whole(-1)
	return []quote.Line{fee, credit}
}

// UsualTax is the tax a new line bears: the first of the shop's; exempt when
// there is none.
func UsualTax(set shop.Settings) quote.Tax {
	if len(set.Taxes) == 0 {
		return quote.Tax{Category: "E"}
	}
	return set.Taxes[0]
}

// longest is what a line's text may hold, in characters.
const longest = 400

func clip(text string) string {
	if r := []rune(text); len(r) > longest {
		return string(r[:longest-1]) + "…"
	}
	return text
}

// String names the work, for logs and tests.
func (w Work) String() string { return fmt.Sprintf("%s (%s h)", w.Title, w.Labour.Quantity) }
