package quote

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/fault"
)

func eur(minor int64) *Money { return &Money{minor, "EUR"} }

// The rule of the demo shop: ask when the total exceeds the authorised limit or
// 55 % of a new board fitted (310 EUR, so 170.50).
func TestReasonsToAsk(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		terms Terms
		total int64
		want  []string
	}{
		{"within both", Terms{eur(12000), eur(31000), 55}, 12000, nil},
		{"a cent above the limit", Terms{eur(12000), eur(31000), 55}, 12001, []string{"€0.01 above the limit of €120.00"}},
		{"exactly 55 %", Terms{eur(20000), eur(31000), 55}, 17050, nil},
		{"a cent beyond 55 %", Terms{eur(20000), eur(31000), 55}, 17051, []string{"more than 55 % of a new board fitted (€310.00)"}},
		{"beyond both", Terms{eur(12000), eur(31000), 55}, 18000, []string{"€60.00 above", "more than 55 %"}},
		{"no limit agreed", Terms{nil, nil, 55}, 100, []string{"No limit is agreed"}},
		{"nothing to pay", Terms{nil, nil, 55}, 0, nil},
		{"price of a new board not known", Terms{eur(20000), nil, 55}, 19000, nil},
		{"limit in another currency", Terms{&Money{99999, "NOK"}, nil, 55}, 100, []string{"limit is in NOK"}},
	} {
		got := c.terms.Reasons(Money{c.total, "EUR"}, "en-IE")
		if len(got) != len(c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
			continue
		}
		for i := range got {
			if !strings.Contains(got[i], c.want[i]) {
				t.Errorf("%s: %q does not say %q", c.name, got[i], c.want[i])
			}
		}
	}
}

func TestLinesAreChecked(t *testing.T) {
	t.Parallel()
	good := at("1", "0.10", "23")
	for _, c := range []struct {
		field  string
		change func(l *Line)
	}{
		{"", func(l *Line) {}},
		{"", func(l *Line) { l.Quantity = dec("-1") }},
		{"", func(l *Line) { l.Tax = Tax{Category: "AE"} }},
		{"kind", func(l *Line) { l.Kind = "gift" }},
		{"text", func(l *Line) { l.Text = "  " }},
		{"text", func(l *Line) { l.Text = "R12\x00" }},
		{"text", func(l *Line) { l.Text = strings.Repeat("ä", maxText+1) }},
		{"quantity", func(l *Line) { l.Quantity = 0 }},
		{"quantity", func(l *Line) { l.Quantity = maxQuantity + 1 }},
		{"unit_price", func(l *Line) { l.UnitPrice = -1 }},
		{"unit_price", func(l *Line) { l.UnitPrice = maxPrice + 1 }},
		{"tax", func(l *Line) { l.Tax = Tax{Category: "S"} }}, // EN 16931-1 BR-S-05
		{"tax", func(l *Line) { l.Tax = Tax{Category: "E", Rate: one} }},
		{"tax", func(l *Line) { l.Tax = Tax{Category: "S", Rate: Whole(101)} }},
		{"tax", func(l *Line) { l.Tax = Tax{Category: "Q"} }},
	} {
		l := good
		c.change(&l)
		wantOnly(t, l.Check(), c.field)
		if c.field != "" {
			wantOnly(t, Version{Currency: "EUR", Lines: []Line{good, l}}.Check(), "lines.1."+c.field)
		}
	}
	wantOnly(t, Version{Currency: "EUR", Lines: repeat(MaxLines+1, good)}.Check(), "lines")
	wantOnly(t, Version{Currency: "EUR", Note: strings.Repeat("x", 10*maxText+1)}.Check(), "note")
	if err := (Version{Currency: "CLF", Lines: repeat(MaxLines, at("100000", "1000000000", "20"))}).Check(); fault.KindOf(err) != fault.Invalid {
		t.Errorf("amounts too big to add: %v", err)
	}
}

// wantOnly checks that an error is about one field, or that there is none.
func wantOnly(t *testing.T, err error, field string) {
	t.Helper()
	var got []string
	for f := range fault.Fields(err) {
		got = append(got, f)
	}
	var want []string
	if field != "" {
		want = []string{field}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("fields (-want +got):\n%s%v", diff, err)
	}
}

func TestConsentsAreChecked(t *testing.T) {
	t.Parallel()
	good := Consent{About: AboutRepair, TextShown: "145,20 for the chain of resistors", Who: "Orla Fenwick", Answer: Yes, Way: "phone"}
	for _, c := range []struct {
		field  string
		change func(c *Consent)
	}{
		{"", func(c *Consent) {}},
		{"", func(c *Consent) { c.Answer, c.Limit = NewLimit, eur(15000) }},
		{"", func(c *Consent) { c.About, c.Answer = AboutScrap, No }},
		{"about", func(c *Consent) { c.About = "" }},
		{"text_shown", func(c *Consent) { c.TextShown = " " }},
		{"text_shown", func(c *Consent) { c.TextShown = strings.Repeat("é", 4001) }},
		{"who", func(c *Consent) { c.Who = "" }},
		{"who", func(c *Consent) { c.Who = "Orla\xff" }},
		{"way", func(c *Consent) { c.Way = "telepathy" }},
		{"answer", func(c *Consent) { c.Answer = "maybe" }},
		{"answer", func(c *Consent) { c.About, c.Answer, c.Limit = AboutScrap, NewLimit, eur(1) }},
		{"limit", func(c *Consent) { c.Answer = NewLimit }},
		{"limit", func(c *Consent) { c.Answer, c.Limit = NewLimit, eur(0) }},
		{"limit", func(c *Consent) { c.Limit = eur(100) }},
	} {
		consent := good
		c.change(&consent)
		wantOnly(t, consent.Check(), c.field)
	}
}
