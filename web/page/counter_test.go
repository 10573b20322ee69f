package page

import (
	"strings"
	"testing"
	"time"

	"ohmstead/internal/shop"
)

// friday is when the pages of these tests are looked at.
var friday = time.Date(2026, 11, 27, 15, 0, 0, 0, time.UTC)

func dublin() Frame {
	return Frame{Locale: NewLocale("en-IE", "Europe/Dublin"), Shop: "Lantern Quay Board Works"}
}

func day(y int, m time.Month, d int) *time.Time {
	t := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	return &t
}

func summary(number int64, s shop.State, since time.Time) shop.Summary {
	return shop.Summary{Number: number, State: s, StateSince: since, CustomerName: "Brook Farm", PhoneDigits: "35315550133",
		FamilyName: "SEDGE", RevisionName: "D", TakenInAt: since}
}

func TestReadAloud(t *testing.T) {
	t.Parallel()
	tuesday := friday.AddDate(0, 0, -3)
	cases := []struct {
		state    shop.State
		promised *time.Time
		want     string
	}{
		{shop.OnBench, day(2026, 11, 28), "Ticket 2041, SEDGE D: on the bench since Tuesday; promised for tomorrow."},
		{shop.OnBench, nil, "Ticket 2041, SEDGE D: on the bench since Tuesday."},
		{shop.OnBench, day(2026, 11, 20), "Ticket 2041, SEDGE D: on the bench since Tuesday; it was promised for Fri 20 Nov and is late."},
		{shop.TakenIn, nil, "Ticket 2041, SEDGE D: taken in on Tuesday, not looked at yet."},
		{shop.OnShelf, nil, "Ticket 2041, SEDGE D: on the shelf since Tuesday, waiting for its turn."},
		{shop.WaitingForYes, nil, "Ticket 2041, SEDGE D: waiting for your yes since Tuesday."},
		{shop.WaitingForPart, nil, "Ticket 2041, SEDGE D: waiting for a part since Tuesday."},
		{shop.OnSoak, nil, "Ticket 2041, SEDGE D: running under load since Tuesday."},
		{shop.ToHandOver, nil, "Ticket 2041, SEDGE D: ready to be collected since Tuesday."},
		{shop.HandedOver, day(2026, 11, 20), "Ticket 2041, SEDGE D: handed over on Tuesday."},
		{shop.ReturnedUnrepaired, nil, "Ticket 2041, SEDGE D: returned unrepaired on Tuesday."},
		{shop.Scrapped, nil, "Ticket 2041, SEDGE D: scrapped with consent on Tuesday."},
	}
	for _, c := range cases {
		s := summary(2041, c.state, tuesday)
		s.PromisedOn = c.promised
		if got := ReadAloud(s, dublin().Locale, friday); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.state, got, c.want)
		}
	}
}

func TestCounterGroupsInTheOrderOfTheJob(t *testing.T) {
	t.Parallel()
	late := summary(7, shop.OnBench, friday.AddDate(0, 0, -9))
	late.PromisedOn, late.Bay = day(2026, 11, 24), "B3"
	p := NewCounter(dublin(), []shop.Summary{
		summary(9, shop.TakenIn, friday.Add(-time.Hour)), late, summary(8, shop.OnBench, friday),
		summary(5, shop.WaitingForYes, friday.AddDate(0, 0, -2)), summary(6, shop.WaitingForPart, friday),
		summary(4, shop.OnSoak, friday), summary(3, shop.ToHandOver, friday.AddDate(0, 0, -1)),
	}, false, friday)
	if p.Frame.Title != "In the shop: 7 boards, 1 late." {
		t.Errorf("title %q", p.Frame.Title)
	}
	doc := drawn(t, Counter(p))
	reads(t, doc, "tr.group h2", "Taken in", "On the bench", "Waiting for a yes", "Waiting for a part", "On soak", "To be handed over")
	reads(t, doc, "table .late", "3 days late")
	moves := map[string]string{"9": "ours", "7": "ours", "5": "the customer’s", "6": "a supplier’s", "4": "the clock’s", "3": "the customer’s"}
	for _, g := range p.Groups {
		for _, line := range g.Lines {
			if want, ok := moves[line.Number]; ok && line.Move != want {
				t.Errorf("ticket %s: the move is %s, want %s", line.Number, line.Move, want)
			}
		}
	}
	calls := pick(doc, "#calls")
	if len(calls) != 1 || len(p.Calls) != 2 {
		t.Fatalf("%d calls, want that for a yes and that for collecting", len(p.Calls))
	}
	said := words(pick(doc, "ul.sentences")[0])
	for _, want := range []string{"3531 555 0133 Brook Farm: ticket 5", "SEDGE D, has waited for a yes or a no since Wednesday.", "ticket 3", "SEDGE D, has been ready to be collected since yesterday."} {
		if !strings.Contains(said, want) {
			t.Errorf("%q does not say %q", said, want)
		}
	}
}

func TestEmptyCounterSaysWhatToDo(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Counter(NewCounter(dublin(), nil, false, friday)))
	reads(t, doc, "h1", "No board is in the shop.")
	if len(pick(doc, ".empty a[href=/take-in]")) != 1 || len(pick(doc, "table")) != 0 {
		t.Error("an empty shop does not lead to taking a board in")
	}
}

func TestCounterSaysWhenItDoesNotListAll(t *testing.T) {
	t.Parallel()
	p := NewCounter(dublin(), []shop.Summary{summary(1, shop.OnShelf, friday)}, true, friday)
	if said := words(drawn(t, Counter(p))); !strings.Contains(said, "more boards than fit here") || !strings.Contains(said, "more than 1 board") {
		t.Errorf("it says %q", said)
	}
}

func TestFindSaysWhatWasSought(t *testing.T) {
	t.Parallel()
	cases := []struct {
		typed, says string
	}{
		{"", "How to find a board"},
		{"x", "How to find a board"},
		{"0133", "phone numbers that begin or end with 0133"},
		{"#2041", "Looked for the ticket’s number."},
		{"SN-4711", "the serial or tag SN4711"},
		{"brook fa", "names with brook fa"},
	}
	for _, c := range cases {
		doc := drawn(t, Find(NewFind(dublin(), c.typed, nil, friday)))
		if said := words(doc); !strings.Contains(said, c.says) {
			t.Errorf("%q: the page does not say %q:\n%s", c.typed, c.says, said)
		}
	}
}

func TestFindListsLinesToReadAloud(t *testing.T) {
	t.Parallel()
	f := dublin()
	f.Person = "Mirela"
	p := NewFind(f, "brook", []shop.Summary{summary(2041, shop.OnBench, friday.AddDate(0, 0, -3)), summary(1990, shop.HandedOver, friday.AddDate(0, -1, 0))}, friday)
	doc := drawn(t, Find(p))
	if got, _ := attribute(pick(doc, "input#find")[0], "value"); got != "brook" {
		t.Errorf("the find field holds %q", got)
	}
	lines := pick(doc, "p.aloud a")
	if len(lines) != 2 {
		t.Fatalf("%d lines, want 2", len(lines))
	}
	if got, _ := attribute(lines[0], "href"); got != "/tickets/2041" {
		t.Errorf("leads to %q", got)
	}
	if got := words(lines[1]); got != "Ticket 1990, SEDGE D: handed over on 27 Oct 2026." {
		t.Errorf("says %q", got)
	}
}

func TestBoardNames(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ family, revision, want string }{
		{"SEDGE", "D", "SEDGE D"}, {"SEDGE", "", "SEDGE, revision not known"}, {"", "", "board not known yet"},
	} {
		if got := BoardName(c.family, c.revision); got != c.want {
			t.Errorf("BoardName(%q, %q) = %q, want %q", c.family, c.revision, got, c.want)
		}
	}
}
