package quote

import (
	"math/big"

	"ohmstead/internal/fault"
)

// TaxTotal is the tax under one category and rate.
type TaxTotal struct {
	Tax     Tax
	Taxable Money // the sum of the lines' net amounts (BR-S-08)
	Amount  Money // taxable x rate / 100, rounded once (BR-CO-17)
}

// Totals is a quote added up. All amounts are of one currency.
type Totals struct {
	Lines []Money // net amount of each line, in the order of the lines
	Net   Money   // their sum (BR-CO-10, BR-CO-13)
	Taxes []TaxTotal
	Tax   Money // the sum of the taxes (BR-CO-14)
	Gross Money // net + tax (BR-CO-15)
}

// LineNet gives a line's amount: quantity x unit price, rounded to the
// currency's decimals (EN 16931 as bound by Peppol BIS Billing 3: each part of a
// line is rounded on its own).
func LineNet(l Line, code string) (Money, error) {
	digits, ok := Digits(code)
	if !ok {
		return Money{}, fault.New(fault.Invalid, "%q is not a currency.", code)
	}
	n := new(big.Int).Mul(big.NewInt(int64(l.Quantity)), big.NewInt(int64(l.UnitPrice)))
	m, err := minor(rounded(n.Mul(n, ten(digits)), ten(2*decimalDigits)))
	return Money{Minor: m, Currency: code}, err
}

// Sum adds lines up in a currency: net amounts, tax once per category and rate,
// totals. Taxes stand in the order in which the lines first name them. It fails
// on an unknown currency and on sums beyond 9e18 minor units.
func Sum(lines []Line, code string) (Totals, error) {
	if _, ok := Digits(code); !ok {
		return Totals{}, fault.New(fault.Invalid, "%q is not a currency.", code)
	}
	zero := Money{Currency: code}
	t := Totals{Net: zero, Tax: zero, Gross: zero}
	for _, l := range lines {
		net, err := LineNet(l, code)
		if err != nil {
			return Totals{}, err
		}
		t.Lines = append(t.Lines, net)
		group := t.group(l.Tax, code)
		if group.Taxable, err = group.Taxable.plus(net); err != nil {
			return Totals{}, err
		}
		if t.Net, err = t.Net.plus(net); err != nil {
			return Totals{}, err
		}
	}
	return t.taxed()
}

// group finds or begins the total of a category and rate.
func (t *Totals) group(tax Tax, code string) *TaxTotal {
	for i := range t.Taxes {
		if t.Taxes[i].Tax == tax {
			return &t.Taxes[i]
		}
	}
	t.Taxes = append(t.Taxes, TaxTotal{Tax: tax, Taxable: Money{Currency: code}, Amount: Money{Currency: code}})
	return &t.Taxes[len(t.Taxes)-1]
}

// taxed works out each category's tax and the totals above them.
func (t Totals) taxed() (Totals, error) {
	for i := range t.Taxes {
		g := &t.Taxes[i]
		n := new(big.Int).Mul(big.NewInt(g.Taxable.Minor), big.NewInt(int64(g.Tax.Rate)))
		amount, err := minor(rounded(n, ten(decimalDigits+2)))
		if err != nil {
			return Totals{}, err
		}
		g.Amount.Minor = amount
		if t.Tax, err = t.Tax.plus(g.Amount); err != nil {
			return Totals{}, err
		}
	}
	var err error
	t.Gross, err = t.Net.plus(t.Tax)
	return t, err
}

// Due gives what is left to pay after a payment in advance (BR-CO-16).
func (t Totals) Due(paid Money) (Money, error) {
	return t.Gross.plus(Money{Minor: -paid.Minor, Currency: paid.Currency})
}

// plus adds an amount of the same currency.
func (m Money) plus(o Money) (Money, error) {
	if m.Currency != o.Currency {
		return Money{}, fault.New(fault.Invalid, "%s and %s cannot be added.", m.Currency, o.Currency)
	}
	sum, err := minor(new(big.Int).Add(big.NewInt(m.Minor), big.NewInt(o.Minor)))
	return Money{Minor: sum, Currency: m.Currency}, err
}
