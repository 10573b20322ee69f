package estimate

import (
	"strings"
	"unicode"

	"ohmstead/internal/quote"
)

// tenth is six minutes: labour is written in tenths of an hour.
const tenth = quote.Decimal(100_000)

const otherHours = 3 * tenth

// usual gives the bench time for taking one part out and putting a new one in,
// by the letters of its designator, rounded up to a tenth of an hour. Common
// practice of a repair bench, no source; a person changes it on the quote.
var usual = map[string]quote.Decimal{
	"R": 2 * tenth, "RN": 2 * tenth, "L": 2 * tenth, "FB": 2 * tenth, "Z": 2 * tenth,
	"F": 2 * tenth, "RV": 2 * tenth, "D": 2 * tenth, "NTC": 2 * tenth, "RT": 2 * tenth,
	"C": 3 * tenth, "Q": 3 * tenth, "U": 3 * tenth, "IC": 3 * tenth, "K": 3 * tenth,
	"OK": 2 * tenth, "J": 3 * tenth, "X": 3 * tenth, "BR": 3 * tenth, "RS": 3 * tenth,
	"T": 4 * tenth, "TR": 4 * tenth, "QM": 8 * tenth,
}

// Hours gives the usual time in hours for replacing a part with this designator.
func Hours(ref string) quote.Decimal {
	letters := strings.ToUpper(ref)
	if i := strings.IndexFunc(letters, func(r rune) bool { return !unicode.IsLetter(r) }); i >= 0 {
		letters = letters[:i]
	}
	if h, ok := usual[letters]; ok {
		return h
	}
	return otherHours
}
