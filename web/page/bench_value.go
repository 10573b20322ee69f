package page

import (
	"math"
	"strconv"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/quantity"
)

// rowScale is the prefix and the number of decimals in which the values of one
// row are written, so that 7.91 kΩ stands under 8.20 kΩ and shows the
// difference by itself.
type rowScale struct {
	exp    int // power of ten of the prefix
	places int
	name   string // "kΩ"
	unit   quantity.Unit
}

var prefixExponent = map[string]int{"p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}

// scaleOfRow takes prefix and decimals from a value at a resolution.
func scaleOfRow(x, resolution float64, unit quantity.Unit) rowScale {
	number, name := quantity.Split(x, resolution, unit)
	return rowScale{
		exp:    prefixExponent[strings.TrimSuffix(name, string(unit))],
		places: decimals(number), name: name, unit: unit,
	}
}

// number writes a value with the row's prefix and decimals, but no more than
// four digits: a meter in a higher range shows fewer decimals.
func (s rowScale) number(x float64) string {
	x *= math.Pow10(-s.exp)
	places := s.places
	if x != 0 {
		places = min(places, max(0, 3-int(math.Floor(math.Log10(math.Abs(x))+1e-9))))
	}
	n := strconv.FormatFloat(x, 'f', places, 64)
	if strings.Trim(n, "-0.") == "" {
		n = strings.TrimPrefix(n, "-")
	}
	return n
}

// typed writes a value with all decimals of the scale, as they were typed.
func (s rowScale) typed(x float64) string {
	n := strconv.FormatFloat(x*math.Pow10(-s.exp), 'f', s.places, 64)
	if strings.Trim(n, "-0.") == "" {
		n = strings.TrimPrefix(n, "-")
	}
	return n
}

// reading writes a reading in the row's prefix, with the digits that were
// typed; far from the row's values it keeps a prefix of its own.
func (s rowScale) reading(x, digit float64) (number, name string) {
	size := math.Abs(x) * math.Pow10(-s.exp)
	if x != 0 && (size < 0.01 || size >= 10000) {
		return quantity.Split(x, digit, s.unit)
	}
	own := s
	if digit > 0 {
		own.places = min(max(0, s.exp-int(math.Floor(math.Log10(digit)+1e-9))), 6)
	}
	return own.typed(x), s.name
}

// bandTexts are the three values of a band, as they stand in a table.
type bandTexts struct {
	low, typical, high string // numbers with a point, or "OL"
	unit               string
	scale              rowScale
}

// textsOf writes a band; nil gives empty texts.
func textsOf(b *analysis.Band, resolution float64) bandTexts {
	if b == nil {
		return bandTexts{}
	}
	at := 0.0
	for _, v := range []*float64{b.High, b.Low, b.Typical} {
		if v != nil {
			at = *v
		}
	}
	s := scaleOfRow(at, resolution, b.Unit)
	t := bandTexts{low: "OL", typical: "OL", high: "OL", unit: s.name, scale: s}
	for _, p := range []struct {
		to *string
		v  *float64
	}{{&t.low, b.Low}, {&t.typical, b.Typical}, {&t.high, b.High}} {
		if p.v != nil {
			*p.to = s.number(*p.v)
		}
	}
	if b.Low == nil && b.Typical == nil && b.High == nil {
		t.unit = ""
	}
	return t
}

// good says what a good board reads here, in a clause.
func (t bandTexts) good(l Locale) string {
	switch {
	case t.low == "":
		return ""
	case t.low == "OL":
		return "OL"
	case t.high == "OL":
		return l.signed(t.low) + " " + t.unit + " or more, up to OL"
	case t.low == t.high:
		return l.signed(t.low) + " " + t.unit
	}
	return l.signed(t.low) + " to " + l.signed(t.high) + " " + t.unit
}

// signed writes a number with the shop's decimal mark and a proper minus.
func (l Locale) signed(number string) string {
	return l.Decimal(strings.Replace(number, "-", "−", 1))
}

// shown writes one displayed value in a sentence: "48.2 kΩ", "OL". The meter has
// rounded it already.
func (l Locale) shown(s analysis.Shown, unit quantity.Unit) string {
	if s.OverRange {
		return "OL"
	}
	return l.value(s.Value, 0, unit)
}

// value writes a value in a sentence.
func (l Locale) value(x, resolution float64, unit quantity.Unit) string {
	return l.Decimal(quantity.Format(x, resolution, unit))
}

// threeDigits is the resolution that leaves about three digits of a value.
func threeDigits(x float64) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0.001
	}
	return math.Pow10(int(math.Floor(math.Log10(math.Abs(x)))) - 2)
}
