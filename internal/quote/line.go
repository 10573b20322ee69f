package quote

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"ohmstead/internal/fault"
)

// What a line may hold.
const (
	MaxLines    = 200 // in one quote
	maxText     = 400 // characters
	maxQuantity = Decimal(100_000) * one
	maxPrice    = Decimal(1_000_000_000) * one
)

// Kinds lists the kinds of line in the order a form offers them.
func Kinds() []Kind { return []Kind{Part, Labour, Fee, Other} }

// Check refuses a line that cannot stand in a quote, with a message by field:
// kind, text, quantity, unit_price, tax.
func (l Line) Check() error {
	bad := map[string]string{}
	if !slices.Contains(Kinds(), l.Kind) {
		bad["kind"] = "Choose part, labour, fee or other."
	}
	if text := strings.TrimSpace(l.Text); text == "" {
		bad["text"] = "Say what this line is for."
	} else if !plain(text, maxText) {
		bad["text"] = fmt.Sprintf("Use at most %d characters of plain text.", maxText)
	}
	if l.Quantity == 0 || l.Quantity > maxQuantity || l.Quantity < -maxQuantity {
		bad["quantity"] = "Enter a quantity other than 0, at most 100000; a minus makes it a discount."
	}
	if l.UnitPrice < 0 || l.UnitPrice > maxPrice {
		bad["unit_price"] = "Enter a price of 0 or more, at most 1000000000."
	}
	if err := l.Tax.Check(); err != nil {
		bad["tax"] = fault.Text(err)
	}
	return fault.Form(bad)
}

// Check refuses a tax that does not exist, on field "tax". A standard-rated line
// has a rate above zero (BR-S-05), all others have none.
func (t Tax) Check() error {
	switch {
	case !slices.Contains([]string{"S", "Z", "E", "O", "AE"}, t.Category):
		return fault.Field("tax", "Choose a tax category: S, Z, E, O or AE.")
	case t.Category == "S" && (t.Rate <= 0 || t.Rate > Whole(100)):
		return fault.Field("tax", "A standard rate is above 0 %% and at most 100 %%.")
	case t.Category != "S" && t.Rate != 0:
		return fault.Field("tax", "Only a standard-rated line bears tax.")
	}
	return nil
}

// plain tells whether s is text of at most max characters that can be stored.
func plain(s string, max int) bool {
	return utf8.RuneCountInString(s) <= max && utf8.ValidString(s) && !strings.ContainsRune(s, 0)
}

// Check refuses a version whose note or lines cannot stand; the fields of the
// lines are named "lines.N.FIELD", N counting from 0.
func (v Version) Check() error {
	bad := map[string]string{}
	if !plain(v.Note, 10*maxText) {
		bad["note"] = fmt.Sprintf("Use at most %d characters of plain text.", 10*maxText)
	}
	if len(v.Lines) > MaxLines {
		bad["lines"] = fmt.Sprintf("Use at most %d lines.", MaxLines)
	}
	for i, l := range v.Lines {
		for field, text := range fault.Fields(l.Check()) {
			bad[fmt.Sprintf("lines.%d.%s", i, field)] = text
		}
	}
	if len(bad) > 0 {
		return fault.Form(bad)
	}
	if _, err := Sum(v.Lines, v.Currency); err != nil {
		return fault.Wrap(err, fault.Invalid, "These amounts are too big to add up.")
	}
	return nil
}
