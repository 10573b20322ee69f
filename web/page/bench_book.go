package page

import (
	"math"

	"ohmstead/internal/bench"
	"ohmstead/internal/quantity"
)

// bookText says what known-good boards read at a check and what the next one is
// expected to, always with how many they were; "" when there is none.
func bookText(l Locale, unit quantity.Unit, g bench.GoodBoards) string {
	boards := count(g.N, "good board")
	switch {
	case g.N == 0:
		return ""
	case g.Band == nil:
		return boards + " read OL."
	}
	s := scaleOfRow(g.Band.Most, g.Digit, unit)
	span := func(low, high float64) string {
		return bandTexts{low: s.number(low), high: s.number(high), unit: s.name}.good(l)
	}
	read := span(g.Band.Least, g.Band.Most)
	switch {
	case g.Over > 0:
		return boards + ": " + count(g.Over, "board") + " read OL, the others " + read + "."
	case !g.Next:
		return boards + " read " + read + "."
	}
	return boards + " read " + read + "; the next one is expected to read " +
		span(outward(g.Band.Low, g.Digit, math.Floor), outward(g.Band.High, g.Digit, math.Ceil)) + ", 19 times in 20."
}

// outward rounds an end of a band to the digits that were typed.
func outward(x, digit float64, round func(float64) float64) float64 {
	if digit <= 0 {
		return x
	}
	return round(x/digit) * digit
}
