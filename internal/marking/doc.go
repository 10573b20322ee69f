// Package marking reads what is printed on a part: digit codes, the
// letter-and-digit code, EIA-96, colour bands. One print can mean several parts
// ("103" is 10 kΩ on a resistor and 10 nF on a capacitor), so Read gives every
// reading that is possible and what each leaves open; it never chooses.
//
// It knows the codes of IEC 60062 and the habits of the trade, each marked as
// such. It knows no boards, no profiles, and not which part lies under the
// magnifier. Volts, makers' codes and date codes are not read.
package marking

import (
	"math"
	"strconv"

	"ohmstead/internal/quantity"
)

// Part is the kind of part that a reading is of.
type Part string

// The kinds of part.
const (
	Resistor  Part = "resistor"
	Capacitor Part = "capacitor"
	Link      Part = "link" // 0 Ω
)

// Reading is one way to read a print.
type Reading struct {
	Part      Part
	Value     float64 // ohms or farads
	Tolerance Tolerance
	Drift     float64 // temperature coefficient in ppm/K; 0 when it is not printed
	Turned    bool    // bands, read from the other end than they were typed
	How       string  // how it was read: "10 × 10³ Ω"
	Caution   string  // what may be otherwise; may be empty
}

// Unit is the unit of Value.
func (r Reading) Unit() quantity.Unit {
	if r.Part == Capacitor {
		return quantity.Farad
	}
	return quantity.Ohm
}

// Preferred tells whether the value is one of IEC 60063; a print that gives
// another value was probably meant otherwise. A link counts.
func (r Reading) Preferred() bool { return r.Value == 0 || quantity.Preferred(r.Value) }

// made tells whether parts of such a value are met on a board: 0.1 pF to 10 F,
// 0.1 mΩ to 1 GΩ.
func (r Reading) made() bool {
	switch r.Part {
	case Capacitor:
		return r.Value > 0.99e-13 && r.Value <= 10
	case Resistor:
		return r.Value > 0.99e-4 && r.Value <= 1e9
	}
	return true
}

// Tolerance is how far a part may be off: from Minus below to Plus above.
type Tolerance struct {
	Minus, Plus float64 // fractions of the value; farads when Absolute; both 0: nothing is known
	Absolute    bool
	Usual       bool // not printed: what parts with such a print usually keep
}

// Known tells whether there is a tolerance.
func (t Tolerance) Known() bool { return t.Plus > 0 }

func within(fraction float64) Tolerance { return Tolerance{Minus: fraction, Plus: fraction} }

func usually(fraction float64) Tolerance {
	return Tolerance{Minus: fraction, Plus: fraction, Usual: true}
}

// letters are the symmetric tolerance letters of IEC 60062 (from memory).
var letters = map[byte]float64{
	'L': 0.0001, 'P': 0.0002, 'W': 0.0005, 'B': 0.001, 'C': 0.0025, 'D': 0.005,
	'F': 0.01, 'G': 0.02, 'H': 0.03, 'J': 0.05, 'K': 0.10, 'M': 0.20, 'N': 0.30,
}

// lopsided are the letters that only capacitors bear.
var lopsided = map[byte]Tolerance{
	'Q': {Minus: 0.10, Plus: 0.30}, 'T': {Minus: 0.10, Plus: 0.50},
	'S': {Minus: 0.20, Plus: 0.50}, 'Z': {Minus: 0.20, Plus: 0.80},
}

// picofarads are what some letters mean on capacitors below 10 pF, where the
// same letters are per cent above.
var picofarads = map[byte]float64{'B': 0.1e-12, 'C': 0.25e-12, 'D': 0.5e-12, 'F': 1e-12, 'G': 2e-12}

// toleranceOf gives what a letter means on a part of that value.
func toleranceOf(letter byte, p Part, value float64) (Tolerance, bool) {
	if p == Capacitor {
		if t, ok := lopsided[letter]; ok {
			return t, true
		}
		if a, ok := picofarads[letter]; ok && value < 10e-12*(1-1e-9) {
			return Tolerance{Minus: a, Plus: a, Absolute: true}, true
		}
	}
	f, ok := letters[letter]
	return within(f), ok
}

// times gives digits·10^exp, rounded once.
func times(digits string, exp int) float64 {
	f, err := strconv.ParseFloat(digits+"e"+strconv.Itoa(exp), 64)
	if err != nil {
		return math.NaN() // only where digits are none, which no caller lets happen
	}
	return f
}

// power writes 10^exp: "10³".
func power(exp int) string {
	raised := map[rune]rune{'-': '⁻', '0': '⁰', '1': '¹', '2': '²', '3': '³', '4': '⁴', '5': '⁵', '6': '⁶', '7': '⁷', '8': '⁸', '9': '⁹'}
	out := []rune("10")
	for _, r := range strconv.Itoa(exp) {
		out = append(out, raised[r])
	}
	return string(out)
}
