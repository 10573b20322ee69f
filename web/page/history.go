package page

import (
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
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

// NewHistory says what happened to a ticket, oldest first. What somebody did several
// times in a row stands in one line, under the time of the first.
func NewHistory(entries []journal.Entry, l Locale, currency string) []HistoryLine {
	out := make([]HistoryLine, 0, len(entries))
	for _, e := range inRuns(entries) {
		out = append(out, HistoryLine{Stamp: l.Stamp(e.TakenAt), When: l.Moment(e.TakenAt),
			Text: sentence(e, l, currency), Reason: e.Change.Reason})
	}
	return out
}

// inRuns joins readings stored and stores of energy read dead by one person one after
// the other.
func inRuns(entries []journal.Entry) []journal.Entry {
	var out []journal.Entry
	for i := 0; i < len(entries); i++ {
		e, notes := entries[i], []string{entries[i].Change.Note}
		for ; i+1 < len(entries) && continues(e, entries[i+1]); i++ {
			notes = append(notes, entries[i+1].Change.Note)
		}
		switch e.Kind {
		case journal.Readings:
			e.Change.Note = readingsIn(notes)
		case journal.DeadProof:
			e.Change.Note = sentenceList(notes)
		}
		out = append(out, e)
	}
	return out
}

// continues tells whether b is more of the same as a.
func continues(a, b journal.Entry) bool {
	return a.Kind == b.Kind && (a.Kind == journal.Readings || a.Kind == journal.DeadProof) &&
		a.PersonID == b.PersonID && a.Change.New == b.Change.New && a.Change.Reason == b.Change.Reason
}

// readingsIn adds up notes such as "3 readings".
func readingsIn(notes []string) string {
	sum := 0
	for _, note := range notes {
		number, _, _ := strings.Cut(note, " ")
		n, err := strconv.Atoi(number)
		if err != nil {
			return strings.Join(notes, ", ")
		}
		sum += n
	}
	return count(sum, "reading")
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
		if c.New != "" && c.New == c.Old {
			return "said that the board is " + quoted(c.New) + " as it was taken for"
		}
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
		return "gave out " + orNot(c.Note)
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
		return proofDeed(c)
	case journal.Power:
		if c.New == "off" {
			return "switched the board’s power off"
		}
		return join(", ", "switched the board’s power "+c.New, c.Note)
	case journal.Found:
		return join(": ", "found "+foundWords(c.New), c.Note)
	case journal.Overruled:
		switch c.New {
		case "":
			return "ruled " + c.Note + " out as the cause"
		case string(evidence.RuledBad):
			return "called the reading at " + c.Note + " bad"
		}
		return "called the reading at " + c.Note + " not bad"
	case journal.Reconsidered:
		return "took back an overruling"
	case journal.Withdrawn:
		return "withdrew a finding"
	case journal.Fitted:
		return join(": ", "fitted "+c.New, c.Note)
	case journal.Seen:
		return join(": ", "looked at "+c.New, c.Note)
	}
	return join(": ", strings.ReplaceAll(string(e.Kind), "_", " "), c.Note)
}

// proofDeed says what reading stores of energy has shown.
func proofDeed(c journal.Change) string {
	switch evidence.GateState(c.New) {
	case evidence.DeadResistance:
		return "read " + c.Note + " dead, low enough for resistance and diode checks"
	case evidence.DeadHandling:
		return "read " + c.Note + " dead, low enough to be handled"
	}
	return "read " + c.Note + ": not proven dead"
}

// foundWords writes a finding's part and way of failing as people say it: "R14
// open", "U7 output shorted".
func foundWords(stored string) string {
	if i := strings.LastIndexByte(stored, ' '); i >= 0 {
		return stored[:i+1] + modeWords(profile.Mode(stored[i+1:]))
	}
	return modeWords(profile.Mode(stored))
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
