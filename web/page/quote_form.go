package page

import (
	"strconv"
	"strings"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop/journal"
	"ohmstead/web/ui"
)

// QuoteForm is a quote as typed.
type QuoteForm struct {
	Seen string // the ticket's version that the person saw
	Note string
	Rows []QuoteRow
	Free string // "yes": lines at a price of 0 are meant
	Wait string // "yes": after sending, the ticket waits for a yes
}

// QuoteRow is one line as typed.
type QuoteRow struct {
	ID                          string // of a line that is stored; "" for a new one
	Kind, Text, Quantity, Price string
	Tax                         string // see TaxCode
}

// Blank tells whether nothing was typed into the row.
func (r QuoteRow) Blank() bool {
	return strings.TrimSpace(r.Text) == "" && strings.TrimSpace(r.Price) == ""
}

// RowsOf writes lines as the shop's people would type them, so that they read
// back as they are.
func RowsOf(lines []quote.Line, currency string, l Locale) []QuoteRow {
	out := make([]QuoteRow, 0, len(lines))
	for _, line := range lines {
		out = append(out, QuoteRow{
			ID: line.ID.String(), Kind: string(line.Kind), Text: line.Text, Quantity: line.Quantity.Field(l.Tag()),
			Price: l.ofMoney().Decimal(priceText(line.UnitPrice, currency)), Tax: TaxCode(line.Tax),
		})
	}
	return out
}

// QuoteFields lists the form's fields in the order of the page, for as many rows.
func QuoteFields(rows int) []string {
	var out []string
	for i := range rows {
		n := "-" + strconv.Itoa(i)
		out = append(out, "kind"+n, "text"+n, "quantity"+n, "price"+n, "tax"+n)
	}
	return append(out, "note", "free")
}

// field names a field of the row in the form.
func (v QuoteRowView) field(name string) string { return name + "-" + strconv.Itoa(v.Number-1) }

// label names a field of the row for those who do not see the column's head.
func (v QuoteRowView) label(name string) string { return name + ", " + v.name() }

// name says which row it is.
func (v QuoteRowView) name() string {
	if v.New {
		return "new line"
	}
	return "line " + strconv.Itoa(v.Number)
}

// do is what a button of the row sends.
func (v QuoteRowView) do(what string) string { return what + "-" + strconv.Itoa(v.Number-1) }

// TaxCode writes a tax as a form sends it: "S 23".
func TaxCode(t quote.Tax) string { return t.Category + " " + t.Rate.String() }

// ReadTax reads what TaxCode wrote.
func ReadTax(code string) (quote.Tax, bool) {
	category, rate, ok := strings.Cut(code, " ")
	if !ok {
		return quote.Tax{}, false
	}
	d, err := quote.DecimalFrom(rate)
	return quote.Tax{Category: category, Rate: d}, err == nil
}

// taxWords says a tax in words: "23 %", "exempt from tax".
func taxWords(t quote.Tax, l Locale) string {
	switch t.Category {
	case "Z":
		return "zero rate"
	case "E":
		return "exempt from tax"
	case "AE":
		return "reverse charge"
	case "O":
		return "outside tax"
	}
	return l.Decimal(t.Rate.String()) + "\u00a0%"
}

// TaxOptions offers the shop's taxes, what the row has already, and the
// categories without a rate.
func TaxOptions(own []quote.Tax, chosen string, l Locale) []ui.Option {
	taxes := append([]quote.Tax{}, own...)
	if t, ok := ReadTax(chosen); ok {
		taxes = append(taxes, t)
	}
	for _, category := range []string{"Z", "E", "AE", "O"} {
		taxes = append(taxes, quote.Tax{Category: category})
	}
	var out []ui.Option
	seen := map[quote.Tax]bool{}
	for _, t := range taxes {
		if !seen[t] {
			seen[t] = true
			out = append(out, ui.Option{Value: TaxCode(t), Label: taxWords(t, l)})
		}
	}
	return out
}

func kindOptions() []ui.Option {
	var out []ui.Option
	for _, k := range quote.Kinds() {
		out = append(out, ui.Option{Value: string(k), Label: string(k)})
	}
	return out
}

func isQuoteEntry(k journal.Kind) bool { return k == journal.QuoteEdited || k == journal.QuoteSent }
