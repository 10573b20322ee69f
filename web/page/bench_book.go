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
	read := s.span(l, g.Band.Least, g.Band.Most)
	switch {
	case g.Over > 0:
		return boards + ": " + count(g.Over, "board") + " read OL, the others " + read + "."
	case !g.Next:
		return boards + " read " + read + "."
	}
	// Few boards do not deserve the digits of a meter: a tenth of the band's width does.
	tenth := math.Floor(math.Log10((g.Band.High - g.Band.Low) / 10))
	if g.Digit > 0 {
		tenth = math.Max(tenth, math.Floor(math.Log10(g.Digit)+1e-9))
	}
	s.places = max(0, s.exp-int(tenth))
	digit := math.Pow10(int(tenth))
	return boards + " read " + read + "; the next should read " +
		s.span(l, math.Floor(g.Band.Low/digit)*digit, math.Ceil(g.Band.High/digit)*digit) + " (19 in 20)."
}

// span writes a band in the scale of a row.
func (s rowScale) span(l Locale, low, high float64) string {
	return bandTexts{low: s.number(low), high: s.number(high), unit: s.name}.good(l)
}
