package page

import (
	"fmt"
	"strings"

	"ohmstead/internal/quote"
	"ohmstead/internal/quote/estimate"
	"ohmstead/internal/shop"
)

// TotalsView is a quote added up, set in one column.
type TotalsView struct {
	Currency string
	Lines    []Figure
	Net      Figure
	Taxes    []TaxView
	Gross    Figure
	Text     string // the total as in a sentence
}

// TaxView is the tax under one category and rate.
type TaxView struct {
	Words  string // "Tax 23 % on 120.50"
	Amount Figure
}

// NewTotals sets totals in one column that lines up at the decimal mark.
func NewTotals(t quote.Totals, l Locale) TotalsView {
	amounts := []string{t.Net.Plain(), t.Gross.Plain()}
	for _, m := range t.Lines {
		amounts = append(amounts, m.Plain())
	}
	for _, x := range t.Taxes {
		amounts = append(amounts, x.Amount.Plain())
	}
	figures := l.ofMoney().Figures(amounts...)
	v := TotalsView{Currency: t.Gross.Currency, Net: figures[0], Gross: figures[1], Text: l.Money(t.Gross), Lines: figures[2 : 2+len(t.Lines)]}
	for i, x := range t.Taxes {
		v.Taxes = append(v.Taxes, TaxView{Words: taxLine(x, l), Amount: figures[2+len(t.Lines)+i]})
	}
	return v
}

// taxLine says what is taxed and how.
func taxLine(x quote.TaxTotal, l Locale) string {
	on := l.ofMoney().Decimal(strings.Replace(x.Taxable.Plain(), "-", "−", 1))
	switch x.Tax.Category {
	case "S":
		return "Tax " + taxWords(x.Tax, l) + " on " + on
	case "AE":
		return "Reverse charge, the customer accounts for the tax, on " + on
	}
	return capital(taxWords(x.Tax, l)) + ", on " + on
}

// LimitSentences says what a total means against what was agreed. Without a
// reason to ask it says by how much the total is covered.
func LimitSentences(terms quote.Terms, total quote.Money, l Locale) []LimitSentence {
	var out []LimitSentence
	limit := terms.Limit
	if limit != nil && limit.Currency == total.Currency && total.Minor <= limit.Minor {
		under := quote.Money{Minor: limit.Minor - total.Minor, Currency: total.Currency}
		text := l.Money(under) + " under the limit of " + l.Money(*limit) + "."
		if under.Minor == 0 {
			text = "Exactly at the limit of " + l.Money(*limit) + "."
		}
		out = append(out, LimitSentence{Text: text})
	}
	why := terms.Reasons(total, l.Tag())
	for _, text := range why {
		out = append(out, LimitSentence{Text: text, Ask: true})
	}
	if share, ok := shareOf(total, terms.NewBoard); ok && len(why) == 0 {
		out = append(out, LimitSentence{Text: fmt.Sprintf("That is %d %% of a new board fitted (%s); we ask above %d %%.",
			share, l.Money(*terms.NewBoard), terms.AskPercent)})
	}
	return out
}

// shareOf gives a total in whole per cent of a new board, rounded down.
func shareOf(total quote.Money, board *quote.Money) (int64, bool) {
	if board == nil || board.Minor <= 0 || board.Currency != total.Currency || total.Minor < 0 || total.Minor > 1e15 {
		return 0, false
	}
	return total.Minor * 100 / board.Minor, true
}

// TermsNote proposes the words that go with a quote: what it costs to decide
// against the repair, and the guarantee.
func TermsNote(set shop.Settings, currency string, l Locale) string {
	var s []string
	if fee := feeGross(set, currency); fee.Minor > 0 {
		s = append(s, "Without the repair the examination fee of "+l.Money(fee)+", tax included, is charged.")
	}
	if set.GuaranteeDays > 0 {
		s = append(s, "Guarantee on the repair: "+count(set.GuaranteeDays, "day")+" from hand-over.")
	}
	return strings.Join(s, "\n")
}

// feeGross is the examination fee with its tax; zero without a fee.
func feeGross(set shop.Settings, currency string) quote.Money {
	fee := estimate.Fee(set)
	if len(fee) == 0 {
		return quote.Money{Currency: currency}
	}
	t, err := quote.Sum(fee[:1], currency)
	if err != nil {
		return quote.Money{Currency: currency}
	}
	return t.Gross
}

// plainMoney writes a price without tax as in a sentence.
func (l Locale) plainMoney(d quote.Decimal, currency string) string {
	m, err := quote.LineNet(quote.Line{Quantity: quote.Whole(1), UnitPrice: d}, currency)
	if err != nil {
		return l.ofMoney().Decimal(d.String()) + " " + currency
	}
	return l.Money(m)
}
