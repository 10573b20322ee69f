package page

import (
	"strings"

	"ohmstead/internal/quote"
)

// Figure is a number of a column that lines up at the decimal mark: Text is
// what is read, Pad keeps the place of the decimals it does not have and is
// never shown.
type Figure struct {
	Text string
	Pad  string
	Unit string // "h", "kΩ"; "" without one
}

// Figures sets the numbers of one column, written with a point, as the shop
// writes them. An empty number stays empty.
func (l Locale) Figures(numbers ...string) []Figure {
	longest := 0
	for _, n := range numbers {
		longest = max(longest, decimals(n))
	}
	out := make([]Figure, len(numbers))
	for i, n := range numbers {
		if n == "" {
			continue
		}
		d := decimals(n)
		out[i].Text = l.Decimal(strings.Replace(n, "-", "−", 1))
		switch {
		case d < longest && d == 0:
			out[i].Pad = l.Decimal(".") + strings.Repeat("0", longest)
		case d < longest:
			out[i].Pad = strings.Repeat("0", longest-d)
		}
	}
	return out
}

// decimals counts the digits behind the point.
func decimals(number string) int {
	if i := strings.IndexByte(number, '.'); i >= 0 {
		return len(number) - i - 1
	}
	return 0
}

// ofMoney is the locale with the decimal mark of its amounts, which some locales
// write otherwise than in other numbers.
func (l Locale) ofMoney() Locale {
	l.decimal = quote.Mark(l.Tag())
	return l
}

// Money writes an amount with its currency, as in a sentence.
func (l Locale) Money(m quote.Money) string { return m.Format(l.Tag()) }

// priceText writes a unit price with at least the currency's own decimals:
// "0.10", not "0.1".
func priceText(d quote.Decimal, currency string) string {
	digits, _ := quote.Digits(currency)
	s := d.String()
	if missing := digits - decimals(s); missing > 0 {
		if decimals(s) == 0 {
			s += "."
		}
		s += strings.Repeat("0", missing)
	}
	return s
}
