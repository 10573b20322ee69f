package page

import (
	"strconv"
	"strings"
	"time"

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
	return e.PersonName + " " + strings.TrimRight(deed(e, l, currency), ".") + "."
}

// deed says what was done to the ticket; what was done on the board stands in
// workDeed.
func deed(e journal.Entry, l Locale, currency string) string {
	c := e.Change
	switch e.Kind {
	case journal.TakenIn:
		if c.Field == "revision" {
			return "took the board in; read " + quoted(c.New) + " on it, while it is known as " + quoted(c.Old)
		}
		return "took the board in"
	case journal.Moved:
		return "moved it from " + quoted(shop.State(c.Old).Title()) + " to " + quoted(shop.State(c.New).Title())
	case journal.Corrected:
		return corrected(c, l, currency)
	case journal.Voided:
		return "made the ticket void"
	case journal.Revision:
		return "set the board’s revision from " + quoted(orNot(c.Old)) + " to " + quoted(orNot(c.New))
	case journal.QuoteEdited:
		return join(", ", "changed the quote", c.Note)
	case journal.QuoteSent:
		return join(" of ", "sent the quote", moneyWords(c.New, l))
	case journal.Answered:
		return "wrote down the answer " + quoted(strings.ReplaceAll(c.New, "_", " ")) + " (" + c.Note + ")"
	case journal.Limit:
		return "took the limit from " + quoted(moneyWords(c.Old, l)) + " to " + quoted(moneyWords(c.New, l)) + " as the customer said"
	case journal.Documented:
		return join(": ", "gave a paper out", c.Note)
	}
	return workDeed(e)
}

// workDeed says what was done on the board.
func workDeed(e journal.Entry) string {
	c := e.Change
	switch e.Kind {
	case journal.Readings:
		return "stored " + c.Note
	case journal.Struck:
		return "struck out a reading"
	case journal.DeadProof:
		return join(": ", join(" on ", "measured whether the board is dead", c.Note), strings.ReplaceAll(c.New, "_", " "))
	case journal.Power:
		return join(", ", "switched the board’s power "+c.New, c.Note)
	case journal.Found:
		return join(": ", "found "+strings.ReplaceAll(c.New, "_", " "), c.Note)
	case journal.Withdrawn:
		return "withdrew a finding"
	case journal.Fitted:
		return join(": ", "fitted "+c.New, c.Note)
	case journal.Seen:
		return join(": ", "looked at "+c.New, c.Note)
	}
	return join(": ", strings.ReplaceAll(string(e.Kind), "_", " "), c.Note)
}

// corrected says what a correction changed.
func corrected(c journal.Change, l Locale, currency string) string {
	name := strings.ToLower(FieldTitle(c.Field))
	old, now := fieldWords(c.Field, c.Old, l, currency), fieldWords(c.Field, c.New, l, currency)
	return "corrected the " + name + " from " + quoted(orNot(old)) + " to " + quoted(orNot(now))
}

// FieldTitle names a field that can be corrected.
func FieldTitle(field string) string { return capital(shop.FieldWords(field)) }

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
		return moneyWords(stored, l)
	}
	return stored
}

// moneyWords writes an amount that the journal holds as "120.00 EUR" as people
// do; other words stay.
func moneyWords(stored string, l Locale) string {
	number, code, ok := strings.Cut(stored, " ")
	if !ok {
		return stored
	}
	m, err := quote.ParseMoney(number, code, "en")
	if err != nil {
		return stored
	}
	return l.Money(m)
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

func numeral(n int64) string { return strconv.FormatInt(n, 10) }
