package page

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
)

// stays are n earlier boards that showed two blinks.
func stays(n int) []past.Stay {
	var out []past.Stay
	for i := range n {
		out = append(out, past.Stay{Number: int64(100 - i), State: shop.HandedOver, Revision: "D", Indication: "two blinks", TakenInAt: time.Unix(0, 0)})
	}
	return out
}

// The words say how many boards stand there and which: never "the last ten" when
// there are fewer.
func TestPastSaysWhichBoards(t *testing.T) {
	t.Parallel()
	two := past.Like{Texts: []string{"two blinks"}}
	for _, c := range []struct {
		like         past.Like
		n            int
		which, empty string
	}{
		{two, 0, "", "No other board of this family with this indication yet."},
		{two, 1, "1 other board of this family with this indication.", ""},
		{two, 9, "9 other boards of this family with this indication.", ""},
		{two, 10, "The last 10 boards of this family with this indication.", ""},
		{past.Like{}, 0, "", "No other board of this family yet."},
		{past.Like{}, 3, "3 other boards of this family, whatever they showed: of this board no indication is written down.", ""},
	} {
		got := pastOf(&PastInput{Like: c.like, Stays: stays(c.n)}, NewLocale("en-IE", "UTC"))
		if got.Which != c.which || got.Empty != c.empty || len(got.Lines) != c.n {
			t.Errorf("%+v, %d boards: %q, %q", c.like, c.n, got.Which, got.Empty)
		}
	}
	if pastOf(nil, Locale{}) != nil {
		t.Error("a board of no known family has a past")
	}
}

func TestPastLine(t *testing.T) {
	t.Parallel()
	l := NewLocale("de-DE", "Europe/Berlin")
	minutes := 44
	long := strings.Repeat("corroded joint ", 10)
	s := past.Stay{Number: 1998, State: shop.HandedOver, Revision: "D", Indication: "two blinks", Minutes: &minutes, Back: true,
		Price:    &quote.Money{Minor: 12350, Currency: "EUR"},
		Findings: []past.Finding{{Part: "R13", Mode: "open", Words: "under its cap"}, {Words: "water"}, {Part: "U1", Words: long}}}
	want := PastLine{Number: "1998", Address: "/tickets/1998", Revision: "D", Minutes: "44", Price: "123,50\u00a0€", Back: true,
		Found: "R13 open; water; U1: corroded joint corroded joint corroded joint corroded joint …"}
	if d := cmp.Diff(want, pastLine(s, false, true, l)); d != "" {
		t.Error(d)
	}
	if got := pastLine(s, true, false, l); got.Price != "" || got.Shows != "two blinks" {
		t.Errorf("without leave to see prices, of any indication: %+v", got)
	}
	for state, end := range map[shop.State]string{shop.OnBench: "still here", shop.HandedOver: "", shop.ReturnedUnrepaired: "returned unrepaired",
		shop.Scrapped: "scrapped with consent"} {
		if got := pastLine(past.Stay{State: state}, false, true, l); got.End != end || got.Found != "" || got.Minutes != "" || got.Price != "" {
			t.Errorf("%s: %+v", state, got)
		}
	}
}

// The table has no column of prices for those who may not see them.
func TestPastHidesPrices(t *testing.T) {
	t.Parallel()
	one := stays(1)
	one[0].Price = &quote.Money{Minor: 12350, Currency: "EUR"}
	for _, prices := range []bool{true, false} {
		var b strings.Builder
		if err := pastTable(pastOf(&PastInput{Like: past.Like{Texts: []string{"2"}}, Stays: one, Prices: prices}, NewLocale("en-IE", "UTC"))).Render(t.Context(), &b); err != nil {
			t.Fatal(err)
		}
		doc := b.String()
		if got := strings.Contains(doc, "Price") && strings.Contains(doc, "123.50"); got != prices {
			t.Errorf("may see prices: %v, and the table says:\n%s", prices, doc)
		}
	}
}

// Which suspects were the cause before is said once for a part, the most frequent
// first, and only of those that are suspects now.
func TestFoundBefore(t *testing.T) {
	t.Parallel()
	var causes past.Causes
	for i, refs := range []string{"C18", "C18 R13", "C18", "R13", "C18", "R99", "R99", "F1", "R2"} {
		for ref := range strings.FieldsSeq(refs) {
			causes = append(causes, past.Cause{Ticket: uuid.UUID{byte(i + 1)}, Part: ref, Mode: "open"})
		}
	}
	suspect := func(refs ...string) analysis.Set { return analysis.Set{Parts: refs} }
	for _, c := range []struct {
		suspects []analysis.Set
		want     string
	}{
		{nil, ""},
		{[]analysis.Set{suspect(), suspect("R17")}, ""},
		{[]analysis.Set{suspect("R13"), suspect("R13", "C18"), suspect()},
			"4 of the last 9 boards of this family with a confirmed cause: C18; 2: R13. It is weighed in."},
		{[]analysis.Set{suspect("R1"), suspect("R3"), suspect("R4"), suspect("R5"), suspect("R6"), suspect("C18")}, ""}, // not shown
	} {
		if got := foundBefore(causes, c.suspects); got != c.want {
			t.Errorf("%v: %q, want %q", c.suspects, got, c.want)
		}
	}
}
