package page

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

var (
	atDesk  = uuid.MustParse("019ac000-0000-7000-8000-000000000001")
	atBench = uuid.MustParse("019ac000-0000-7000-8000-000000000002")
)

// sedgeStory is a board on the bench with a little of everything.
func sedgeStory() *shop.Story {
	at := time.Date(2026, 11, 24, 9, 0, 0, 0, time.UTC)
	st := &shop.Story{
		Ticket: shop.Ticket{Number: 2041, State: shop.OnBench, StateSince: at, PromisedOn: day(2026, 11, 25), Bay: "B3",
			Limit: euros(12000), Complaint: "does not start", Indication: "two blinks.", Version: 3, TakenInAt: at.AddDate(0, 0, -1), IfNotRepaired: shop.WishReturn},
		Customer: shop.Customer{Name: "Brook Farm", Phone: "061 555 0134"},
		Board:    shop.Board{Serial: "SD-0417", FamilyName: "SEDGE", RevisionName: "D"},
	}
	say := func(who uuid.UUID, name string, k journal.Kind, c journal.Change) {
		v := int64(len(st.Entries) + 1)
		st.Entries = append(st.Entries, journal.Entry{TicketVersion: v, Kind: k, Change: c, PersonID: who, PersonName: name, TakenAt: at})
	}
	say(atDesk, "Mirela", journal.TakenIn, journal.Change{})
	say(atDesk, "Mirela", journal.Moved, journal.Change{Field: "state", Old: "taken_in", New: "on_the_shelf"})
	say(atBench, "Tobin", journal.Moved, journal.Change{Field: "state", Old: "on_the_shelf", New: "on_the_bench"})
	return st
}

func ticketPage(st *shop.Story, role staff.Role) TicketPage {
	return NewTicket(dublin(), TicketInput{Story: st, Site: shop.Site{Currency: "EUR", Address: "Quernhithe"},
		Settings: shop.Settings{AskPercent: 55}, By: staff.Actor{Role: role}, Now: friday})
}

func TestTicketTitleIsASentence(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	if got := TicketTitle(st); got != "Ticket 2041: SEDGE D, two blinks, on the bench with Tobin." {
		t.Errorf("title %q", got)
	}
	st.Ticket.Indication, st.Board = "", shop.Board{}
	if got := TicketTitle(st); got != "Ticket 2041: board not known yet, on the bench with Tobin." {
		t.Errorf("title %q", got)
	}
	st.Ticket.VoidedAt = day(2026, 11, 26)
	if got := TicketTitle(st); got != "Ticket 2041: board not known yet, void." {
		t.Errorf("title %q", got)
	}
}

func TestThePathShowsWhereTheTicketStands(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Ticket(ticketPage(sedgeStory(), staff.Bench)))
	reads(t, doc, ".path li", "taken in", "on the shelf", "on the bench", "waiting for a yes", "waiting for a part", "on soak", "to be handed over", "handed over")
	reads(t, doc, ".path li[aria-current=step]", "on the bench")
	reads(t, doc, ".path li.been", "taken in", "on the shelf", "on the bench")

	st := sedgeStory()
	st.Ticket.State = shop.Scrapped
	path := ticketPath(st)
	if last := path[len(path)-1]; last.Title != "scrapped with consent" || !last.Here {
		t.Errorf("a scrapped board's path ends in %+v", last)
	}
}

// The buttons of a role are exactly the steps that the shop's table allows it.
func TestStepsAreThoseOfTheTable(t *testing.T) {
	t.Parallel()
	for _, role := range staff.Roles() {
		for _, state := range shop.States() {
			st := sedgeStory()
			st.Ticket.State = state
			steps, waits := ticketSteps(st, staff.Actor{Role: role})
			var got, want []string
			for _, s := range steps {
				got = append(got, s.To)
			}
			for _, tr := range shop.Steps(staff.Actor{Role: role}, state) {
				want = append(want, string(tr.To))
			}
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("%s, %s:\n%s", role, state, d)
			}
			if (waits != "") != (len(want) == 0 && !state.Ended()) {
				t.Errorf("%s, %s: %d steps and %q", role, state, len(want), waits)
			}
		}
	}
}

// Whatever the page offers, the shop's rules accept with what it asks for.
func TestOfferedStepsCanBeTaken(t *testing.T) {
	t.Parallel()
	by := staff.Actor{Role: staff.Owner}
	answers := map[string][]quote.Consent{
		"nothing":          nil,
		"yes":              {{About: quote.AboutRepair, Answer: quote.Yes, RecordedAt: friday}},
		"no":               {{About: quote.AboutRepair, Answer: quote.No, RecordedAt: friday}},
		"limit":            {{About: quote.AboutRepair, Answer: quote.NewLimit, RecordedAt: friday}},
		"old yes":          {{About: quote.AboutRepair, Answer: quote.Yes, RecordedAt: friday.AddDate(0, -1, 0)}},
		"scrap":            {{About: quote.AboutScrap, Answer: quote.Yes, RecordedAt: friday.AddDate(0, -1, 0)}},
		"scrap taken back": {{About: quote.AboutScrap, Answer: quote.Yes, RecordedAt: friday}, {About: quote.AboutScrap, Answer: quote.No, RecordedAt: friday}},
	}
	for name, consents := range answers {
		for _, state := range shop.States() {
			st := sedgeStory()
			st.Ticket.State, st.Consents = state, consents
			steps, _ := ticketSteps(st, by)
			for _, s := range steps {
				f := answersOf(st)
				if s.Ask != "" {
					f.Reason = "because"
				}
				f.Slip = s.Link != "" && s.Missing == ""
				err := shop.Step(by, state, shop.State(s.To), f)
				if (err == nil) != (s.Missing == "") {
					t.Errorf("%s, from %s to %s: offered %+v, the rules say %v", name, state, s.To, s, err)
				}
			}
		}
	}
}

func TestTicketFacts(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	doc := drawn(t, Ticket(ticketPage(st, staff.FrontDesk)))
	said := words(pick(doc, ".facts")...)
	for _, want := range []string{"Customer Brook Farm", "Phone 061 555 0134", "Board SEDGE D", "Serial SD-0417", "Limit €120.00, tax included",
		"Promised for Wed 25 Nov 2 days late", "If not repaired give it back", "Bay B3", "When it happens not written down"} {
		if !strings.Contains(said, want) {
			t.Errorf("the facts do not say %q:\n%s", want, said)
		}
	}
	if strings.Contains(said, "E-mail") {
		t.Error("an e-mail that nobody gave takes a line")
	}
	for _, field := range append(shop.CorrectableFields(), "revision") {
		if len(pick(doc, "a[href=/tickets/2041/correct?field="+field+"]")) != 1 {
			t.Errorf("%s cannot be corrected from the page", field)
		}
	}
	st.Customer.ErasedAt = day(2026, 11, 20)
	if said := words(drawn(t, Ticket(ticketPage(st, staff.FrontDesk)))); !strings.Contains(said, "erased on 20 Nov 2026") {
		t.Error("an erased customer is not called so")
	}
}

func TestTicketMoney(t *testing.T) {
	t.Parallel()
	line := func(euros int64) []quote.Line {
		return []quote.Line{{Kind: quote.Labour, Text: "Repair", Quantity: quote.Whole(1), UnitPrice: quote.Whole(euros), Tax: quote.Tax{Category: "S", Rate: quote.Whole(20)}}}
	}
	cases := []struct {
		name   string
		quotes []quote.Version
		limit  *quote.Money
		total  string
		says   string
	}{
		{"none", nil, euros(12000), "", ""},
		{"within", []quote.Version{{Currency: "EUR", Lines: line(50)}}, euros(12000), "€60.00, tax included (draft, not sent)", "This is within the limit of €120.00."},
		{"above", []quote.Version{{Currency: "EUR", Lines: line(200), SentAt: day(2026, 11, 26)}}, euros(12000), "€240.00, tax included (sent 26 Nov 2026, 00:00)", "€120.00 above the limit of €120.00: ask the customer."},
		{"ask first", []quote.Version{{Currency: "EUR", Lines: line(50)}}, nil, "€60.00, tax included (draft, not sent)", "No limit is agreed: ask the customer."},
		{"empty", []quote.Version{{Currency: "EUR"}}, nil, "€0.00, tax included (draft, not sent)", ""},
	}
	for _, c := range cases {
		st := sedgeStory()
		st.Quotes, st.Ticket.Limit = c.quotes, c.limit
		p := ticketPage(st, staff.FrontDesk)
		if p.Total != c.total {
			t.Errorf("%s: total %q, want %q", c.name, p.Total, c.total)
		}
		if said := words(drawn(t, Ticket(p))); !strings.Contains(said, c.says) {
			t.Errorf("%s: the page does not say %q", c.name, c.says)
		}
	}
}

func TestReadingsStandWithTheirUnits(t *testing.T) {
	t.Parallel()
	num := func(x float64) *float64 { return &x }
	st := sedgeStory()
	st.Readings = []evidence.Reading{
		{Across: "R17", Measure: "resistance", State: "cold", Typed: "6,78k", Value: num(6780), PersonID: atBench, TakenAt: friday},
		{Red: "adb", Black: "v5", Measure: "diode", State: "cold", Typed: "OL", OverRange: true, Swapped: true, Lifted: true, Moving: "up", Residue: num(0.02), TakenAt: friday},
		{CheckKey: "live:TP3", Measure: "dc_volts", State: "live", Agrees: true, BandLow: num(2.9), BandHigh: num(3.1), TakenAt: friday},
		{CheckKey: "k9", Measure: "esr", State: "cold", Typed: "-", NotPossible: true, TakenAt: friday},
		{Across: "R16", Measure: "resistance", State: "cold", Typed: "1.2", Condition: evidence.ConditionNotOnMetal, Subject: evidence.SubjectOld,
			Stage: evidence.StageAfter, TakenAt: friday, Struck: &evidence.Strike{Reason: "probe slipped"}},
	}
	doc := drawn(t, Ticket(ticketPage(st, staff.Bench)))
	reads(t, doc, "td[data-label=Read]", "6.78 kΩ", "OL", "agrees with 2.9 V to 3.1 V", "cannot be made on this board", "1.2")
	reads(t, doc, "td[data-label=Measure]", "resistance, cold", "diode, cold", "DC volts, live", "ESR, cold", "resistance, cold")
	reads(t, doc, "table th[scope=row]", "R17", "adb to v5", "live:TP3", "k9", "R16")
	reads(t, doc, "td[data-label=How]", "", "one leg lifted, probes swapped, still creeping up, 20 mV before", "", "",
		"after a part was fitted, the removed part, not on metal struck out: probe slipped")
	reads(t, doc, "tr.struck th", "R16")
}

func TestWorkIsShownWithWhatWasWithdrawn(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	st.Findings = []evidence.Finding{
		{Part: "R13", Mode: "open", Words: "crack", ConfirmedBy: atBench, TakenAt: friday},
		{Part: "U1", Mode: "stuck_low", ConfirmedBy: atBench, TakenAt: friday, WithdrawnAt: &friday, WithdrawnReason: "it was R17"},
	}
	st.Fitted = []evidence.Fitted{{Part: "R13", What: "120k 1206", Note: "200 V", PersonID: atBench, TakenAt: friday}}
	st.Seen = []evidence.Seen{{Part: "C2", What: "bulged", PersonID: atBench, TakenAt: friday}}
	doc := drawn(t, Ticket(ticketPage(st, staff.Bench)))
	reads(t, doc, "section[aria-label=Found] li", "R13 open: crack Tobin, 27 Nov 2026, 15:00", "U1 stuck low Tobin, 27 Nov 2026, 15:00 Withdrawn: it was R17")
	reads(t, doc, "section[aria-label=Fitted] li", "R13 120k 1206; 200 V Tobin, 27 Nov 2026, 15:00")
	reads(t, doc, "section[aria-label=Seen] li", "C2 bulged Tobin, 27 Nov 2026, 15:00")
	reads(t, doc, "section[aria-label=Found] li.struck strong", "U1")
}

func TestATicketOfNobodysBusinessOffersNothing(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	st.Ticket.VoidedAt, st.Ticket.VoidReason = day(2026, 11, 26), "taken in twice"
	doc := drawn(t, Ticket(ticketPage(st, staff.Owner)))
	if n := len(pick(doc, "main form")) + len(pick(doc, "a[href=/tickets/2041/void]")); n != 0 {
		t.Errorf("a void ticket offers %d things to do", n)
	}
}

func TestPapersLeadToWhereTheyAreRead(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	offer, err := json.Marshal(quote.Offer{Version: quote.Version{Number: 2}})
	if err != nil {
		t.Fatal(err)
	}
	st.Documents = []shop.Document{{Kind: "quote", Number: 17, Content: offer, CreatedAt: friday}, {Kind: "slip", Number: 9, CreatedAt: friday}}
	doc := drawn(t, Ticket(ticketPage(st, staff.FrontDesk)))
	reads(t, doc, "a[href=/tickets/2041/quote/2]", "Quote 17, 27 Nov 2026, 15:00")
	reads(t, doc, "a[href=/tickets/2041/slip/9]", "Slip 9, 27 Nov 2026, 15:00")
}

// Each shop of a company counts for itself: the other's ticket 7 is not ours.
func TestAStayInAnotherShopLeadsNowhere(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	st.Ticket.SiteID = atDesk
	was := shop.Summary{SiteID: atDesk, Number: 7, State: shop.HandedOver, StateSince: friday.AddDate(0, 0, -1), CustomerName: "Brook Farm", FamilyName: "SEDGE"}
	there := was
	there.SiteID, there.Number = atBench, 8
	st.Before = []shop.Summary{was, there}
	doc := drawn(t, Ticket(ticketPage(st, staff.Bench)))
	reads(t, doc, "section[aria-labelledby=before] li", "Ticket 7 : SEDGE, revision not known of Brook Farm, handed over yesterday",
		"Ticket 8: SEDGE, revision not known of Brook Farm, handed over yesterday, in another shop of ours")
	reads(t, doc, "section[aria-labelledby=before] a", "Ticket 7")
}
