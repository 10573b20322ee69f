package page

import (
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
)

// HistoryLine is one change of a ticket, in a sentence.
type HistoryLine struct {
	Stamp  string // for machines
	When   string
	Text   string
	Reason string // why; "" when none was given
}

// NewHistory says what happened to a ticket, oldest first.
func NewHistory(entries []journal.Entry, l Locale, currency string) []HistoryLine {
	out := make([]HistoryLine, 0, len(entries))
	for _, e := range entries {
		out = append(out, HistoryLine{Stamp: l.Stamp(e.TakenAt), When: l.Moment(e.TakenAt),
			Text: sentence(e, l, currency), Reason: e.Change.Reason})
	}
	return out
}

// sentence says what an entry records: who did what.
func sentence(e journal.Entry, l Locale, currency string) string {
	c := e.Change
	what := ""
	switch e.Kind {
	case journal.TakenIn:
		what = "took the board in"
	case journal.Moved:
		what = "moved it from " + quoted(shop.State(c.Old).Title()) + " to " + quoted(shop.State(c.New).Title())
	case journal.Corrected:
		what = corrected(c, l, currency)
	case journal.Voided:
		what = "made the ticket void"
	case journal.Revision:
		what = "set the board’s revision to " + quoted(orNot(c.New)) + ", it was " + quoted(orNot(c.Old))
	default:
		what = doneOnTheBoard(e.Kind)
	}
	if c.Note != "" {
		what += ": " + c.Note
	}
	return e.PersonName + " " + strings.TrimRight(what, ".") + "."
}

// doneOnTheBoard says the kinds of entry that their note completes.
func doneOnTheBoard(k journal.Kind) string {
	switch k {
	case journal.Readings:
		return "stored readings"
	case journal.Struck:
		return "struck out a reading"
	case journal.DeadProof:
		return "read whether the board is dead"
	case journal.Power:
		return "changed the board’s power"
	case journal.Found:
		return "confirmed a finding"
	case journal.Withdrawn:
		return "withdrew a finding"
	case journal.Fitted:
		return "fitted a part"
	case journal.Seen:
		return "wrote down what was seen"
	case journal.QuoteEdited:
		return "changed the quote"
	case journal.QuoteSent:
		return "sent the quote"
	case journal.Answered:
		return "wrote down the customer’s answer"
	case journal.Documented:
		return "gave a paper out"
	}
	return strings.ReplaceAll(string(k), "_", " ")
}

// corrected says what a correction changed.
func corrected(c journal.Change, l Locale, currency string) string {
	name := strings.ToLower(FieldTitle(c.Field))
	if c.Field == "customer" && (isKey(c.Old) || isKey(c.New)) {
		return "gave the ticket to another customer"
	}
	old, now := fieldWords(c.Field, c.Old, l, currency), fieldWords(c.Field, c.New, l, currency)
	return "corrected the " + name + " from " + quoted(orNot(old)) + " to " + quoted(orNot(now))
}

// FieldTitle names a field that can be corrected.
func FieldTitle(field string) string {
	switch field {
	case "when_happens":
		return "When it happens"
	case "touched_before":
		return "Who worked on it before"
	case "if_not_repaired":
		return "Wish if not repaired"
	case "promised_on":
		return "Promised day"
	case "revision":
		return "Family and revision"
	}
	return capital(strings.ReplaceAll(field, "_", " "))
}

// fieldWords writes a field's stored value as people read it.
func fieldWords(field, stored string, l Locale, currency string) string {
	switch field {
	case "state":
		return shop.State(stored).Title()
	case "if_not_repaired":
		return wishWords(stored)
	case "promised_on":
		if day, err := time.Parse(time.DateOnly, stored); err == nil {
			return l.Day(day)
		}
	case "limit":
		if n, err := strconv.ParseInt(stored, 10, 64); err == nil {
			return l.Money(quote.Money{Minor: n, Currency: currency})
		}
		if stored == "" {
			return "ask first"
		}
	}
	return stored
}

// changedSince says what others did to a ticket after a version that somebody
// had seen, as far as it matters; "" when nothing did.
func changedSince(entries []journal.Entry, seen int64, l Locale, currency string, matters func(journal.Entry) bool) string {
	var parts []string
	for _, e := range entries {
		if e.TicketVersion > seen && matters(e) {
			parts = append(parts, l.Moment(e.TakenAt)+": "+sentence(e, l, currency))
		}
	}
	return strings.Join(parts, " ")
}

func quoted(s string) string { return "“" + s + "”" }

func orNot(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

func isKey(s string) bool {
	_, err := uuid.Parse(s)
	return err == nil
}

func numeral(n int64) string { return strconv.FormatInt(n, 10) }
