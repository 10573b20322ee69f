package page

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
)

func TestHistoryInSentences(t *testing.T) {
	t.Parallel()
	cases := []struct {
		kind   journal.Kind
		change journal.Change
		want   string
	}{
		{journal.TakenIn, journal.Change{Note: "taken in from Brook Farm"}, "Tobin took the board in."},
		{journal.TakenIn, journal.Change{Field: "revision", Old: "SEDGE D", New: "SEDGE F"}, "Tobin took the board in; read “SEDGE F” on it, while it is known as “SEDGE D”."},
		{journal.Moved, journal.Change{Old: "on_the_bench", New: "waiting_for_a_part"}, "Tobin moved it from “on the bench” to “waiting for a part”."},
		{journal.Corrected, journal.Change{Field: "bay", Old: "", New: "C1"}, "Tobin corrected the bay from “nothing” to “C1”."},
		{journal.Corrected, journal.Change{Field: "state", Old: "on_soak", New: "on_the_bench"}, "Tobin corrected the state from “on soak” to “on the bench”."},
		{journal.Corrected, journal.Change{Field: "limit", Old: "120.00 EUR", New: "ask first"}, "Tobin corrected the limit from “€120.00” to “ask first”."},
		{journal.Corrected, journal.Change{Field: "promised_on", Old: "2026-12-04", New: ""}, "Tobin corrected the promised day from “Fri 4 Dec” to “nothing”."},
		{journal.Corrected, journal.Change{Field: "if_not_repaired", Old: "scrap", New: "return"}, "Tobin corrected the wish if not repaired from “scrap it” to “give it back”."},
		{journal.Voided, journal.Change{Reason: "twice"}, "Tobin made the ticket void."},
		{journal.Revision, journal.Change{Old: "", New: "SEDGE D"}, "Tobin set the board’s revision from “nothing” to “SEDGE D”."},
		{journal.Revision, journal.Change{Old: "SEDGE D", New: "SEDGE D"}, "Tobin said that the board is “SEDGE D” as it was taken for."},
		{journal.Readings, journal.Change{Note: "3 readings"}, "Tobin stored 3 readings."},
		{journal.Struck, journal.Change{Reason: "slipped"}, "Tobin struck out a reading."},
		{journal.DeadProof, journal.Change{New: "dead_handling", Note: "C1"}, "Tobin read C1 dead, low enough to be handled."},
		{journal.DeadProof, journal.Change{New: "dead_resistance", Note: "C2"}, "Tobin read C2 dead, low enough for resistance and diode checks."},
		{journal.DeadProof, journal.Change{New: "unproven", Note: "C2"}, "Tobin read C2: not proven dead."},
		{journal.Power, journal.Change{New: "on", Note: "live"}, "Tobin switched the board’s power on, live."},
		{journal.Power, journal.Change{New: "off", Note: "live"}, "Tobin switched the board’s power off."},
		{journal.Found, journal.Change{New: "U7 output_short"}, "Tobin found U7 output shorted."},
		{journal.Found, journal.Change{New: "R13 open", Note: "crack."}, "Tobin found R13 open: crack."},
		{journal.Withdrawn, journal.Change{Reason: "wrong"}, "Tobin withdrew a finding."},
		{journal.Overruled, journal.Change{Note: "R14", Reason: "lifted"}, "Tobin ruled R14 out as the cause."},
		{journal.Overruled, journal.Change{Note: "TP3", New: "bad"}, "Tobin called the reading at TP3 bad."},
		{journal.Overruled, journal.Change{Note: "R3", New: "not_bad"}, "Tobin called the reading at R3 not bad."},
		{journal.Reconsidered, journal.Change{Reason: "wrong board"}, "Tobin took back an overruling."},
		{journal.Fitted, journal.Change{New: "R13", Note: "120k"}, "Tobin fitted R13: 120k."},
		{journal.Seen, journal.Change{New: "C2", Note: "bulged"}, "Tobin looked at C2: bulged."},
		{journal.QuoteEdited, journal.Change{Note: "version 2"}, "Tobin changed the quote, version 2."},
		{journal.QuoteSent, journal.Change{New: "129.60 EUR"}, "Tobin sent the quote of €129.60."},
		{journal.Answered, journal.Change{New: "new_limit", Note: "Orla, phone: repair"}, "Tobin wrote down the answer “new limit” (Orla, phone: repair)."},
		{journal.Limit, journal.Change{Old: "60.00 EUR", New: "150.00 EUR"}, "Tobin took the limit from “€60.00” to “€150.00” as the customer said."},
		{journal.Documented, journal.Change{Note: "slip 3, given to Orla"}, "Tobin gave out slip 3, given to Orla."},
		{"a_kind_of_later", journal.Change{Note: "x"}, "Tobin a kind of later: x."},
	}
	for _, c := range cases {
		e := journal.Entry{Kind: c.kind, Change: c.change, PersonName: "Tobin", TakenAt: friday}
		if got := sentence(e, dublin().Locale, "EUR"); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.kind, got, c.want)
		}
	}
}

// What one person does several times in a row is one line; anything in between, or
// another person, or another result, begins a new one.
func TestHistoryJoinsWhatIsDoneInARow(t *testing.T) {
	t.Parallel()
	read := func(n string) journal.Entry {
		return journal.Entry{Kind: journal.Readings, Change: journal.Change{Note: n}, PersonID: atBench, PersonName: "Tobin", TakenAt: friday}
	}
	dead := func(part, result string) journal.Entry {
		return journal.Entry{Kind: journal.DeadProof, Change: journal.Change{New: result, Note: part}, PersonID: atBench, PersonName: "Tobin", TakenAt: friday}
	}
	other := read("2 readings")
	other.PersonID, other.PersonName = atDesk, "Pell"
	struck := journal.Entry{Kind: journal.Struck, PersonID: atBench, PersonName: "Tobin", TakenAt: friday}
	var got []string
	for _, h := range NewHistory([]journal.Entry{
		dead("C1", "dead_resistance"), dead("C2", "dead_resistance"), dead("C3", "dead_handling"),
		read("1 reading"), read("12 readings"), other, read("1 reading"), struck, read("1 reading"),
	}, dublin().Locale, "EUR") {
		got = append(got, h.Text)
	}
	want := []string{
		"Tobin read C1 and C2 dead, low enough for resistance and diode checks.", "Tobin read C3 dead, low enough to be handled.",
		"Tobin stored 13 readings.", "Pell stored 2 readings.", "Tobin stored 1 reading.", "Tobin struck out a reading.", "Tobin stored 1 reading.",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestHistoryGivesTheReason(t *testing.T) {
	t.Parallel()
	h := NewHistory([]journal.Entry{{Kind: journal.Voided, Change: journal.Change{Reason: "taken in twice"}, PersonName: "Mirela", TakenAt: friday}}, dublin().Locale, "EUR")
	if len(h) != 1 || h[0].When != "27 Nov 2026, 15:00" || h[0].Reason != "taken in twice" || !strings.HasPrefix(h[0].Stamp, "2026-11-27T15:00:00") {
		t.Errorf("history %+v", h)
	}
}

func TestChangedSinceNamesWhoAndWhat(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	if got := changedSince(st.Entries, 2, dublin().Locale, "EUR", changesState); got != "24 Nov 2026, 09:00: Tobin moved it from “on the shelf” to “on the bench”." {
		t.Errorf("since version 2: %q", got)
	}
	if got := changedSince(st.Entries, 3, dublin().Locale, "EUR", changesState); got != "" {
		t.Errorf("since the newest version: %q", got)
	}
}

// A form for every field that can be corrected opens with what stands there.
func TestCorrectFormsOpenWithWhatStandsThere(t *testing.T) {
	t.Parallel()
	for _, field := range shop.CorrectableFields() {
		st := sedgeStory()
		doc := drawn(t, Correct(NewCorrect(dublin(), CorrectInput{Story: st, Currency: "EUR", Field: field})))
		seen := pick(doc, "form [name=seen]")
		if len(pick(doc, "form [name=reason]")) != 1 || len(seen) != 1 {
			t.Fatalf("%s: the form lacks its reason or version", field)
		}
		if v, _ := attribute(seen[0], "value"); v != "3" {
			t.Errorf("%s: the form was made from version %q, want 3", field, v)
		}
		if n := len(pick(doc, "form [name=new]")) + len(pick(doc, "form [name=who]")); n == 0 {
			t.Errorf("%s: nothing can be typed", field)
		}
	}
	p := NewCorrect(dublin(), CorrectInput{Story: sedgeStory(), Currency: "EUR", Field: "limit"})
	if p.Typed.New != "120.00" || p.Now != "€120.00" {
		t.Errorf("the limit opens with %q and says %q", p.Typed.New, p.Now)
	}
}
