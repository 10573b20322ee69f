package page

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/quote"
)

func TestFiguresLineUpAtTheDecimalMark(t *testing.T) {
	t.Parallel()
	de := NewLocale("de-DE", "Europe/Berlin")
	got := de.Figures("0.25", "1", "-12.5", "", "OL")
	want := []Figure{{Text: "0,25"}, {Text: "1", Pad: ",00"}, {Text: "−12,5", Pad: "0"}, {}, {Text: "OL", Pad: ",00"}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("column (-want +got):\n%s", d)
	}
	if got := de.Figures("3", "17"); got[0].Pad != "" {
		t.Errorf("whole numbers got a pad: %+v", got)
	}
}

func TestPriceTextHasTheCurrencysDecimals(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		price    quote.Decimal
		currency string
		want     string
	}{
		{quote.Whole(54), "EUR", "54.00"},
		{quote.Decimal(100_000), "EUR", "0.10"},
		{quote.Decimal(12_345), "EUR", "0.012345"},
		{quote.Whole(54), "JPY", "54"},
		{quote.Decimal(1_500_000), "KWD", "1.500"},
	} {
		if got := priceText(c.price, c.currency); got != c.want {
			t.Errorf("priceText(%s, %s) = %q, want %q", c.price, c.currency, got, c.want)
		}
	}
}
