package page

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

var (
	ansaID   = uuid.MustParse("0198c0de-0000-7000-8000-00000000000a")
	mirelaID = uuid.MustParse("0198c0de-0000-7000-8000-00000000000b")
	noon     = time.Date(2026, 3, 4, 12, 30, 0, 0, time.UTC)
	quay     = shop.Site{Name: "Lantern Quay Board Works", Address: "3 Lantern Quay\nQuernhithe", TZ: "Europe/Dublin", Locale: "en-IE", Currency: "EUR"}
	quayRate = quote.Tax{Category: "S", Rate: quote.Whole(20)}
	quayWays = shop.Settings{Taxes: []quote.Tax{quayRate}, LabourRate: quote.Whole(54), ExaminationFee: quote.Whole(25),
		CreditFee: true, GuaranteeDays: 180, AskPercent: 55}
)

func euros(minor int64) *quote.Money { return &quote.Money{Minor: minor, Currency: "EUR"} }

// sedge is a ticket on the bench: one chip of the sensing chain found open, its
// successor fitted, nothing quoted yet.
func sedge() *shop.Story {
	return &shop.Story{
		Ticket: shop.Ticket{ID: uuid.MustParse("0198c0de-0000-7000-8000-000000000001"), Number: 2041, State: shop.OnBench,
			Limit: euros(6000), Complaint: "Two blinks, pump does not start", Version: 17},
		Customer: shop.Customer{Name: "Brook Farm"},
		Board:    shop.Board{Serial: "SD-0417", FamilyName: "SEDGE", RevisionName: "D"},
		NewBoard: euros(31000),
		Entries: []journal.Entry{
			{Kind: journal.TakenIn, PersonID: mirelaID, PersonName: "Mirela", ReceivedAt: noon.Add(-time.Hour)},
			{Kind: journal.QuoteEdited, PersonID: ansaID, PersonName: "Ansa", ReceivedAt: noon},
		},
		Findings: []evidence.Finding{{Part: "R13", Mode: "open"}},
		Fitted:   []evidence.Fitted{{Part: "R13", What: "120k 1 % 1206"}},
	}
}

func someLines() []quote.Line {
	return []quote.Line{
		{ID: uuid.MustParse("0198c0de-0000-7000-8000-000000000101"), Kind: quote.Part, Text: "120k 1 % 1206 (R13)", Quantity: quote.Whole(6), UnitPrice: quote.Decimal(100_000), Tax: quayRate},
		{ID: uuid.MustParse("0198c0de-0000-7000-8000-000000000102"), Kind: quote.Labour, Text: "Replace R13 (open)", Quantity: quote.Decimal(750_000), UnitPrice: quote.Whole(54), Tax: quayRate},
	}
}

func withQuote(st *shop.Story, sent bool) *shop.Story {
	v := quote.Version{ID: uuid.MustParse("0198c0de-0000-7000-8000-000000000201"), TicketID: st.Ticket.ID, Number: 1,
		Currency: "EUR", Note: "Guarantee on the repair: 180 days from hand-over.", Lines: someLines(), CreatedAt: noon}
	if sent {
		v.SentAt, v.SentBy = &noon, &mirelaID
		content, _ := json.Marshal(quote.Offer{Version: v})
		st.Documents = []shop.Document{{Kind: "slip", Number: 4, Content: []byte(`{}`)}, {Kind: "quote", Number: 17, Content: content}}
	}
	st.Quotes = []quote.Version{v}
	return st
}

func quoteInput(st *shop.Story) QuoteInput {
	return QuoteInput{Story: st, Site: quay, Settings: quayWays, Now: noon,
		By: staff.Actor{Person: mirelaID, Name: "Mirela", Role: staff.Owner}}
}

func quayFrame() Frame {
	return Frame{Shop: quay.Name, Person: "Mirela", Role: "front desk", Locale: NewLocale(quay.Locale, quay.TZ)}
}

func TestAnEmptyQuoteOffersWhatTheBenchFound(t *testing.T) {
	t.Parallel()
	p := NewQuote(quayFrame(), quoteInput(sedge()))
	if p.Frame.Title != "Quote for ticket 2041: SEDGE D, Brook Farm" {
		t.Errorf("title %q", p.Frame.Title)
	}
	doc := drawn(t, Quote(p))
	reads(t, doc, ".work button", "Replace R13 (open)", "Examination fee €25.00, credited on repair")
	reads(t, doc, ".work button[value=add-R13]", "Replace R13 (open)")
	reads(t, doc, ".quote-lines tbody th", "new")
	reads(t, doc, "textarea#f-note", "Without the repair the examination fee of €30.00, tax included, is charged. Guarantee on the repair: 180 days from hand-over.")
	reads(t, doc, ".against-limit")
	if n := len(pick(doc, "tfoot")); n != 0 {
		t.Error("an empty quote has totals")
	}
}

// 6 × 0.10 + 0.75 × 54.00 = 0.60 + 40.50 = 41.10; 20 % of it 8.22; together
// 49.32, worked by hand.
func TestADraftShowsItsLinesTotalsAndLimit(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(withQuote(sedge(), false)))))
	reads(t, doc, ".quote-lines tbody .amount", "Amount 0.60", "Amount 40.50", "")
	reads(t, doc, ".quote-lines tfoot tr", "Without tax 41.10", "Tax 20 % on 41.10 8.22", "Total EUR, tax included 49.32")
	reads(t, doc, ".against-limit", "€10.68 under the limit of €60.00.", "That is 15 % of a new board fitted (€310.00); we ask above 55 %.")
	reads(t, doc, ".work .choices span", "Replace R13 (open): in the lines")
	for selector, want := range map[string]string{
		"input#f-quantity-0": "6", "input#f-price-0": "0.10", "input#f-price-1": "54.00", "input#f-quantity-1": "0.75",
		"input[name=seen]": "17", "input[name=rows]": "3", "input[name=id-1]": "0198c0de-0000-7000-8000-000000000102",
	} {
		found := pick(doc, selector)
		if len(found) != 1 {
			t.Fatalf("%s: %d elements", selector, len(found))
		}
		if got, _ := attribute(found[0], "value"); got != want {
			t.Errorf("%s holds %q, want %q", selector, got, want)
		}
	}
	reads(t, doc, ".order button[value=up-0]")
	reads(t, doc, ".order button[value=down-0]", "↓")
	reads(t, doc, ".order button[value=up-1]", "↑")
	reads(t, doc, ".order button[value=down-1]")
	reads(t, doc, ".order button[value=remove-1]", "Remove")
}

// Enter in a field presses the form's first button: it has to be the harmless one.
func TestEnterStoresAndNothingElse(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(withQuote(sedge(), false)))))
	first := pick(doc, "form#quote button")[0]
	if do, _ := attribute(first, "value"); do != "save" {
		t.Errorf("the first button of the form does %q", do)
	}
}

func TestAQuoteAboveTheLimitSaysAskTheCustomer(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), false)
	st.Ticket.Limit, st.NewBoard = euros(4132), euros(8900)
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(st))))
	reads(t, doc, ".against-limit.ask strong",
		"The total, €49.32, is €8.00 above the limit of €41.32: ask the customer.",
		"The total, €49.32, is more than 55 % of a new board fitted (€89.00): ask whether to repair or replace.")
}

func TestLimitSentences(t *testing.T) {
	t.Parallel()
	l := NewLocale("de-DE", "Europe/Berlin")
	cases := []struct {
		name  string
		terms quote.Terms
		total int64
		want  []LimitSentence
	}{
		{"no limit", quote.Terms{AskPercent: 55}, 100, []LimitSentence{{"No limit is agreed: ask the customer.", true}}},
		{"exactly", quote.Terms{Limit: euros(100)}, 100, []LimitSentence{{"Exactly at the limit of 1,00\u00a0€.", false}}},
		{"under", quote.Terms{Limit: euros(6000)}, 4760, []LimitSentence{{"12,40\u00a0€ under the limit of 60,00\u00a0€.", false}}},
		{"covered but a large share", quote.Terms{Limit: euros(20000), NewBoard: euros(10000), AskPercent: 55}, 5501, []LimitSentence{
			{"144,99\u00a0€ under the limit of 200,00\u00a0€.", false},
			{"The total, 55,01\u00a0€, is more than 55 % of a new board fitted (100,00\u00a0€): ask whether to repair or replace.", true}}},
	}
	for _, c := range cases {
		if d := cmp.Diff(c.want, LimitSentences(c.terms, *euros(c.total), l)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

func TestASentQuoteIsReadAndChangedByANewVersion(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(withQuote(sedge(), true)))))
	reads(t, doc, ".paper-lines tbody tr", "120k 1 % 1206 (R13) 6 0.10 20 % 0.60", "Replace R13 (open) 0.75 h 54.00 20 % 40.50")
	reads(t, doc, "details summary", "Change it: begin the next version")
	for _, want := range []string{"Version 1 counts: sent 4 Mar 2026, 12:30 by Mirela as quote 17.", "Store as the next version"} {
		if !strings.Contains(words(doc), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestARefusedRowKeepsWhatWasTypedBesideItsMessage(t *testing.T) {
	t.Parallel()
	in := quoteInput(withQuote(sedge(), true))
	in.Typed = &QuoteForm{Seen: "12", Note: "n", Rows: []QuoteRow{{Kind: "part", Text: "fuse", Quantity: "2", Price: "3 euro", Tax: "S 20"}}}
	in.Refusal = Refusal{Text: "This cannot be stored yet.", Fields: []FieldProblem{{"price-0", "Type a price in digits, such as 12.50."}}}
	doc := drawn(t, Quote(NewQuote(quayFrame(), in)))
	reads(t, doc, "#f-price-0-problem", "Type a price in digits, such as 12.50.")
	reads(t, doc, ".refused a", "Type a price in digits, such as 12.50.")
	if typed, _ := attribute(pick(doc, "#f-price-0")[0], "value"); typed != "3 euro" {
		t.Errorf("the price field holds %q", typed)
	}
	if seen, _ := attribute(pick(doc, "input[name=seen]")[0], "value"); seen != "12" {
		t.Errorf("a mistake in typing made the form forget what it had seen: %q", seen)
	}
	if len(pick(doc, "tfoot")) != 0 || !strings.Contains(words(doc), "The totals follow when every line can be read.") {
		t.Error("totals of lines that cannot be read")
	}
	if len(pick(doc, "details form#quote")) != 0 {
		t.Error("the refused form is folded away")
	}
}

func TestAConflictShowsBothAndLosesNothing(t *testing.T) {
	t.Parallel()
	in := quoteInput(withQuote(sedge(), false))
	in.Typed = &QuoteForm{Seen: "12", Rows: []QuoteRow{{Kind: "other", Text: "my line", Quantity: "1", Price: "7", Tax: "S 20"}}}
	in.Lines = []quote.Line{{Kind: quote.Other, Text: "my line", Quantity: quote.Whole(1), UnitPrice: quote.Whole(7), Tax: quayRate}}
	in.Clash = true
	doc := drawn(t, Quote(NewQuote(quayFrame(), in)))
	reads(t, doc, ".conflict h2", "What is stored now (Ansa, 4 Mar 2026, 12:30)")
	if got := words(pick(doc, ".conflict table")...); !strings.Contains(got, "120k 1 % 1206 (R13)") {
		t.Errorf("what is stored reads %q", got)
	}
	if typed, _ := attribute(pick(doc, "#f-text-0")[0], "value"); typed != "my line" {
		t.Errorf("the typed line is %q", typed)
	}
	if seen, _ := attribute(pick(doc, "input[name=seen]")[0], "value"); seen != "17" {
		t.Errorf("storing again would meet the same conflict: seen %q", seen)
	}
	reads(t, doc, "form#quote .actions a", "Keep what is stored")
}

func TestLinesWithoutAPriceAreNamedBeforeSending(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), false)
	st.Quotes[0].Lines[0].UnitPrice = 0
	p := NewQuote(quayFrame(), quoteInput(st))
	doc := drawn(t, Quote(p))
	reads(t, doc, ".quote-lines .price .small", "no price yet")
	if got := words(doc); !strings.Contains(got, "Line 1 is free of charge") {
		t.Errorf("nobody is asked about the line without a price: %s", got)
	}
	p.Unpriced = []int{1, 2, 5}
	if got := p.unpricedWords(); got != "Lines 1, 2 and 5 are free of charge" {
		t.Errorf("got %q", got)
	}
}

func TestTaxOptionsKeepATaxTheShopNoLongerHas(t *testing.T) {
	t.Parallel()
	var got []string
	for _, o := range TaxOptions([]quote.Tax{quayRate}, "S 23", NewLocale("de-DE", "")) {
		got = append(got, o.Value+" = "+o.Label)
	}
	want := []string{"S 20 = 20\u00a0%", "S 23 = 23\u00a0%", "Z 0 = zero rate", "E 0 = exempt from tax", "AE 0 = reverse charge", "O 0 = outside tax"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	for _, bad := range []string{"", "S", "S x", "S 1,5"} {
		if _, ok := ReadTax(bad); ok {
			t.Errorf("ReadTax(%q) was read", bad)
		}
	}
}

func TestTheQuoteOfABoardThatHasLeftIsOnlyRead(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), true)
	st.Ticket.State = shop.HandedOver
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(st))))
	reads(t, doc, "main form")
	reads(t, doc, ".paper-totals .grand", "Total EUR, tax included 49.32")

	void := sedge()
	void.Ticket.VoidedAt = &noon
	doc = drawn(t, Quote(NewQuote(quayFrame(), quoteInput(void))))
	reads(t, doc, "main form")
	if !strings.Contains(words(doc), "The ticket is void; its quote does not change any more.") {
		t.Errorf("a void ticket says: %s", words(doc))
	}
}

// Whatever stands in a row reads back as the same number, in every way of writing
// numbers; fr-CH writes money with a point and other numbers with a comma.
func TestRowsReadBackAsTheyAre(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		tag := rapid.SampledFrom([]string{"en-IE", "de-DE", "fr-FR", "de-CH", "fr-CH", "en-US", "pt-PT", "sv-SE", "hi-IN", "ja-JP"}).Draw(t, "locale")
		currency := rapid.SampledFrom([]string{"EUR", "JPY", "KWD"}).Draw(t, "currency")
		line := quote.Line{
			Kind: quote.Part, Text: "x", Tax: quayRate,
			Quantity:  quote.Decimal(rapid.Int64Range(-1e11, 1e11).Draw(t, "quantity")),
			UnitPrice: quote.Decimal(rapid.Int64Range(0, 1e15).Draw(t, "price")),
		}
		row := RowsOf([]quote.Line{line}, currency, NewLocale(tag, "UTC"))[0]
		if q, err := quote.ParseDecimal(row.Quantity, tag, "a quantity"); err != nil || q != line.Quantity {
			t.Errorf("quantity %s was written %q and read %s, %v", line.Quantity, row.Quantity, q, err)
		}
		if p, err := quote.ParseDecimal(row.Price, tag, "a price"); err != nil || p != line.UnitPrice {
			t.Errorf("price %s was written %q and read %s, %v", line.UnitPrice, row.Price, p, err)
		}
		if tax, ok := ReadTax(row.Tax); !ok || tax != line.Tax {
			t.Errorf("tax %v was written %q", line.Tax, row.Tax)
		}
	})
}
