package page

import (
	"strings"
	"testing"

	"ohmstead/internal/quote"
)

func TestAQuoteOnPaperHasNothingOfTheScreen(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), true)
	p, err := NewQuotePaper(quayFrame(), st, quay, &st.Quotes[0])
	if err != nil {
		t.Fatal(err)
	}
	doc := drawn(t, PrintedQuote(p))
	reads(t, doc, "h1", "Quote 17")
	reads(t, doc, ".paper-top .from", "Lantern Quay Board Works 3 Lantern Quay Quernhithe")
	reads(t, doc, ".facts dd", "Brook Farm", "SEDGE D, serial SD-0417", "2041, version 1 of the quote", "Two blinks, pump does not start")
	reads(t, doc, ".paper-totals tr", "Without tax 41.10", "Tax 20 % on 41.10 8.22", "Total EUR, tax included 49.32")
	reads(t, doc, ".signature div", "Place and day", "Name and signature")
	for _, screen := range []string{".signpost", "form", ".foot", ".draft"} {
		if len(pick(doc, screen)) != 0 {
			t.Errorf("%s stands on the paper", screen)
		}
	}
}

func TestADraftSaysThatItIsOne(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), false)
	p, err := NewQuotePaper(quayFrame(), st, quay, &st.Quotes[0])
	if err != nil {
		t.Fatal(err)
	}
	doc := drawn(t, PrintedQuote(p))
	reads(t, doc, ".draft", "Draft: not sent, not binding.")
	reads(t, doc, "h1", "Draft of a quote")
	if len(pick(doc, ".signature")) != 0 {
		t.Error("a draft asks for a signature")
	}
}

// Two rates, an exempt line and a discount: taxable amounts and taxes worked by
// hand. 100.00 at 20 % = 20.00; 10.05 at 9 % = 0.9045, rounded to 0.90; −5.00 exempt.
func TestTaxStandsOnceForEachRate(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), true)
	st.Quotes[0].Lines = []quote.Line{
		{Kind: quote.Labour, Text: "a", Quantity: quote.Whole(2), UnitPrice: quote.Whole(50), Tax: quayRate},
		{Kind: quote.Part, Text: "b", Quantity: quote.Whole(1), UnitPrice: quote.Decimal(10_050_000), Tax: quote.Tax{Category: "S", Rate: quote.Whole(9)}},
		{Kind: quote.Other, Text: "c", Quantity: quote.Whole(-1), UnitPrice: quote.Whole(5), Tax: quote.Tax{Category: "E"}},
	}
	p, err := NewQuotePaper(quayFrame(), st, quay, &st.Quotes[0])
	if err != nil {
		t.Fatal(err)
	}
	doc := drawn(t, PrintedQuote(p))
	reads(t, doc, ".paper-totals tr", "Without tax 105.05", "Tax 20 % on 100.00 20.00", "Tax 9 % on 10.05 0.90",
		"Exempt from tax, on −5.00 0.00", "Total EUR, tax included 125.95")
	if got := words(pick(doc, ".paper-lines tbody tr")[2]); !strings.Contains(got, "−1") || !strings.Contains(got, "−5.00") {
		t.Errorf("the discount reads %q", got)
	}
}
