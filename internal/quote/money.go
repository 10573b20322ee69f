package quote

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"github.com/bojanz/currency"
	"golang.org/x/text/width"

	"ohmstead/internal/fault"
)

// Money is an amount in minor units (cents) of an ISO 4217 currency.
type Money struct {
	Minor    int64
	Currency string
}

// errTooBig says that a sum does not fit; no shop gets there by honest prices.
var errTooBig = errors.New("amount too big")

// Digits gives the number of decimals of a currency as ISO 4217 has it (0 for
// JPY, 3 for KWD); false when there is no such currency.
func Digits(code string) (int, bool) {
	if code == "" {
		return 0, false
	}
	d, ok := currency.GetDigits(code)
	return int(d), ok
}

// Plain writes the amount with a point and all its decimals, "-12.50".
func (m Money) Plain() string {
	digits, _ := Digits(m.Currency)
	sign, u := "", uint64(m.Minor)
	if m.Minor < 0 {
		sign, u = "-", -u
	}
	s := fmt.Sprintf("%0*d", digits+1, u)
	if digits == 0 {
		return sign + s
	}
	return sign + s[:len(s)-digits] + "." + s[len(s)-digits:]
}

// Format writes the amount as people of the locale do, "1.234,50 €".
func (m Money) Format(locale string) string {
	a, err := currency.NewAmount(m.Plain(), m.Currency)
	if err != nil { // a currency that the table does not know: say it plainly
		return m.Plain() + " " + m.Currency
	}
	return currency.NewFormatter(currency.NewLocale(locale)).Format(a)
}

// Field writes the amount as a form field shows it, so that ParseMoney reads it
// back: the locale's decimal mark, no grouping, no symbol.
func (m Money) Field(locale string) string {
	return strings.Replace(m.Plain(), ".", Mark(locale), 1)
}

// String writes amount and code, for logs and tests.
func (m Money) String() string { return m.Plain() + " " + m.Currency }

// ParseMoney reads what a person typed into a money field: not negative, with
// the locale's decimal mark, or with the other one where that cannot be a
// thousands separator. The currency's symbol or code may stand beside it. The
// error is a fault.Invalid without a field; its text says what to type.
func ParseMoney(typed, code, locale string) (Money, error) {
	digits, ok := Digits(code)
	if !ok {
		return Money{}, fault.New(fault.Invalid, "%q is not a currency.", code)
	}
	s := strings.TrimSpace(width.Fold.String(typed))
	symbol, _ := currency.GetSymbol(code, currency.NewLocale(locale))
	for _, sign := range []string{code, width.Fold.String(symbol)} {
		if sign == "" {
			continue
		}
		s = strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(s, sign), sign))
	}
	n, err := parseTyped(s, locale, digits, "an amount")
	if err != nil {
		return Money{}, err
	}
	if n < 0 {
		return Money{}, fault.New(fault.Invalid, "Type an amount without a minus.")
	}
	return Money{Minor: n, Currency: code}, nil
}

// rounded gives n / d rounded half away from zero, the rule of EN 16931 and of
// tax authorities (0.125 is 0.13, -2.345 is -2.35; never minus zero).
func rounded(n, d *big.Int) *big.Int {
	q, r := new(big.Int).QuoRem(n, d, new(big.Int))
	if r.Abs(r).Lsh(r, 1).CmpAbs(d) >= 0 {
		q.Add(q, big.NewInt(int64(n.Sign()*d.Sign())))
	}
	return q
}

// minor gives x as minor units, or errTooBig.
func minor(x *big.Int) (int64, error) {
	if !x.IsInt64() {
		return 0, errTooBig
	}
	return x.Int64(), nil
}

// ten gives 10^n.
func ten(n int) *big.Int { return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil) }

// Scan reads "1234 EUR", minor units and code, as queries write a pair of columns.
func (m *Money) Scan(src any) error {
	s, ok := src.(string)
	n, code, two := strings.Cut(s, " ")
	if !ok || !two {
		return fmt.Errorf("money: cannot read %T %q", src, s)
	}
	v, err := parsePlain(n, 0)
	*m = Money{Minor: v, Currency: code}
	return err
}
