package quote

import (
	"database/sql/driver"
	"fmt"
	"strings"
)

// Decimal is an exact number with up to six decimals: a quantity, a unit price
// or a rate in per cent. It counts millionths; binary floating point never
// touches money (1.005 and 365.125 would round the wrong way).
type Decimal int64

const (
	decimalDigits = 6
	one           = Decimal(1_000_000)
)

// Whole gives n as a Decimal.
func Whole(n int64) Decimal { return Decimal(n) * one }

// String writes the number with a point and without trailing zeros.
func (d Decimal) String() string {
	sign, u := "", uint64(d)
	if d < 0 {
		sign, u = "-", -u
	}
	s := fmt.Sprintf("%s%d.%06d", sign, u/uint64(one), u%uint64(one))
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// Float gives the number as near as binary can, for what is no money.
func (d Decimal) Float() float64 { return float64(d) / float64(one) }

// Field writes the number with the locale's decimal mark, as ParseDecimal reads it.
func (d Decimal) Field(locale string) string {
	return strings.Replace(d.String(), ".", Mark(locale), 1)
}

// DecimalFrom reads what String writes.
func DecimalFrom(s string) (Decimal, error) {
	n, err := parsePlain(s, decimalDigits)
	return Decimal(n), err
}

// ParseDecimal reads what a person of the locale typed; what names it in the
// message ("a quantity"). The error is a fault.Invalid that says what to type.
func ParseDecimal(typed, locale, what string) (Decimal, error) {
	n, err := parseTyped(typed, locale, decimalDigits, what)
	return Decimal(n), err
}

// MarshalText writes the number as text, so that JSON holds "12.5".
func (d Decimal) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Decimal) UnmarshalText(b []byte) error {
	v, err := DecimalFrom(string(b))
	if err == nil {
		*d = v
	}
	return err
}

// Scan reads a numeric column.
func (d *Decimal) Scan(src any) error {
	s, ok := src.(string)
	if !ok {
		return fmt.Errorf("decimal: cannot read %T", src)
	}
	return d.UnmarshalText([]byte(s))
}

// Value writes a numeric column.
func (d Decimal) Value() (driver.Value, error) { return d.String(), nil }
