package quote

import (
	"errors"
	"math"
	"strings"

	"github.com/bojanz/currency"
	"golang.org/x/text/width"

	"ohmstead/internal/fault"
)

var errNumber = errors.New("not a plain decimal number")

// parsePlain reads an optional minus, digits, and after a point at most digits
// decimals, and gives the number times 10^digits. Nothing is rounded.
func parsePlain(s string, digits int) (int64, error) {
	rest, negative := strings.CutPrefix(s, "-")
	whole, frac, point := strings.Cut(rest, ".")
	if whole == "" || point && frac == "" || len(frac) > digits {
		return 0, errNumber
	}
	frac += strings.Repeat("0", digits-len(frac))
	var n int64
	for _, c := range whole + frac {
		if c < '0' || c > '9' || n > (math.MaxInt64-int64(c-'0'))/10 {
			return 0, errNumber
		}
		n = n*10 + int64(c-'0')
	}
	if negative {
		n = -n
	}
	return n, nil
}

// parseTyped reads a number as a person of the locale types it and gives it
// times 10^digits. what names it in the message. Separators of thousands are
// refused, not guessed: "1.250" is one thing in Berlin and another in London.
// Digits of full width, as keyboards in East Asia give them, are digits.
func parseTyped(s, locale string, digits int, what string) (int64, error) {
	s = strings.Replace(strings.TrimSpace(width.Fold.String(s)), "\u2212", "-", 1)
	own := Mark(locale)
	example := "12"
	if digits > 0 {
		example = "12" + own + "50"
	}
	if s == "" {
		return 0, fault.New(fault.Invalid, "Type %s, such as %s.", what, example)
	}
	if strings.Count(s, ",")+strings.Count(s, ".") > 1 || strings.ContainsAny(s, "' \u00a0\u202f\u2019") {
		return 0, fault.New(fault.Invalid, "Type %s without separators for thousands, such as 1250.", what)
	}
	i := strings.IndexAny(s, ",.")
	if i >= 0 && s[i:i+1] != own && len(s)-i-1 == 3 {
		return 0, fault.New(fault.Invalid, "%s could mean two things here. Type %s for decimals, and no separator for thousands.", s, own)
	}
	if i >= 0 && len(s)-i-1 > digits {
		if digits == 0 {
			return 0, fault.New(fault.Invalid, "Type %s without decimals.", what)
		}
		return 0, fault.New(fault.Invalid, "Type %s with at most %d decimals.", what, digits)
	}
	n, err := parsePlain(strings.Replace(s, ",", ".", 1), digits)
	if err != nil {
		return 0, fault.New(fault.Invalid, "Type %s in digits, such as %s.", what, example)
	}
	return n, nil
}

// Mark gives the decimal mark that a locale writes in amounts: a comma or a point.
// It may differ from the one in other numbers (fr-CH, as CLDR has it).
func Mark(locale string) string {
	a, err := currency.NewAmount("1.5", "EUR")
	if err != nil {
		return "."
	}
	f := currency.NewFormatter(currency.NewLocale(locale))
	f.CurrencyDisplay = currency.DisplayNone
	if strings.ContainsRune(f.Format(a), ',') {
		return ","
	}
	return "."
}
