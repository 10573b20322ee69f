package quote

import (
	"errors"
	"math"
	"strings"
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
