package marking

import (
	"regexp"
	"strconv"
	"strings"

	"ohmstead/internal/quantity"
)

var (
	onlyDigits = regexp.MustCompile(`^[0-9]{3,4}$`)
	plain      = regexp.MustCompile(`^(0|[1-9][0-9]?)([.,][0-9]{1,3})?$|^[.,][0-9]{1,3}$`)
	wholeMicro = regexp.MustCompile(`^[1-9][0-9]{2,3}$`)
	pointR     = regexp.MustCompile(`^[0-9]*R[0-9]+$`)
	zeroFirst  = regexp.MustCompile(`^0[0-9]`)
	spaced     = regexp.MustCompile(`[0-9]\s+[0-9]`)
)

// readCode reads anything with a digit in it.
func readCode(typed string) ([]Reading, string) {
	if spaced.MatchString(typed) {
		return nil, "two codes; the one of the value is enough"
	}
	s := capitals(strings.Join(strings.Fields(typed), ""))
	if strings.Trim(s, "0") == "" {
		if len(s) == 2 || len(s) > 4 {
			return nil, "a 0 Ω link is printed 0, 000 or 0000"
		}
		return []Reading{{Part: Link, How: "all zeros: a link of 0 Ω"}}, ""
	}
	list := add(nil, eia96(s)...)
	list = add(list, bare(s)...)
	if last := s[len(s)-1]; last >= 'A' && last <= 'Z' {
		list = add(list, toleranced(s[:len(s)-1], last)...)
	}
	if len(list) == 0 {
		return nil, trouble(s)
	}
	return list, ""
}

// capitals writes letters as they are printed. p, n, u, m and M stay as they
// were typed: m is milli and M is mega, or ±20 %.
func capitals(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune("pnumµμΩ", r) || r < 'a' || r > 'z' {
			return r
		}
		return r - 'a' + 'A'
	}, s)
}

// bare reads a code without a tolerance letter.
func bare(s string) []Reading {
	return append(append(lettered(s), digits(s, 0)...), unlettered(s)...)
}

// toleranced reads a code behind which a tolerance letter stood.
func toleranced(body string, letter byte) []Reading {
	list := append(lettered(body), digits(body, letter)...)
	if plain.MatchString(body) { // on ceramics: 47K is 47 pF ±10 %; on resistors K is kilo
		if pico := number(body+"p", quantity.Farad); quantity.E24.Contains(pico.Number) {
			list = append(list, of(Capacitor, pico, body+" pF"))
		}
	}
	var kept []Reading
	for _, r := range list {
		if t, ok := toleranceOf(letter, r.Part, r.Value); ok && r.Part != Link {
			r.Tolerance = t
			r.How += ", " + string(letter) + " is the tolerance"
			kept = append(kept, r)
		}
	}
	return kept
}

// digits reads three or four digits: all but the last, times ten to the last.
// On capacitors they count picofarads, and after two digits 8 and 9 are
// divisors. On a resistor K, M and L after the
// digits are a multiplier and no tolerance.
func digits(body string, letter byte) []Reading {
	if !onlyDigits.MatchString(body) || body[0] == '0' {
		return nil
	}
	n := len(body) - 1
	whole, last := body[:n], int(body[n]-'0')
	of := func(p Part, exp, base int, unit, caution string) Reading {
		return Reading{Part: p, Value: times(whole, exp+base), How: whole + " × " + power(exp) + " " + unit, Caution: caution}
	}
	var list []Reading
	if last <= 7 && (letter == 0 || !strings.ContainsRune("KML", rune(letter))) {
		r := of(Resistor, last, 0, "Ω", "With a line above or below the digits it means something else: see the maker’s sheet.")
		r.Tolerance = usually(0.05)
		if n == 3 {
			r.Tolerance = usually(0.01)
		}
		list = append(list, r)
	}
	switch {
	case n == 2 && last == 8:
		list = append(list, of(Capacitor, -2, -12, "pF", "8 divides by 100 on small ceramics."),
			of(Capacitor, 8, -12, "pF", "Only on large tantalum and polymer parts, where 8 is a power like the others."))
	case n == 2 && last == 9:
		list = append(list, of(Capacitor, -1, -12, "pF", "9 divides by 10."))
	case last <= 7:
		list = append(list, of(Capacitor, last, -12, "pF", ""))
	}
	return list
}

// lettered reads the letter-and-digit code: the letter is the decimal mark and
// the multiplier.
func lettered(body string) []Reading {
	if zeroFirst.MatchString(body) {
		return nil
	}
	var list []Reading
	if strings.ContainsAny(body, "RLKMGkm") {
		if v, err := quantity.Parse(body, quantity.Ohm); err == nil {
			list = append(list, of(Resistor, v, "the letter is decimal mark and multiplier"))
		}
	}
	if strings.ContainsAny(body, "pnumµμ") {
		if v, err := quantity.Parse(body, quantity.Farad); err == nil {
			list = append(list, of(Capacitor, v, "the letter is decimal mark and multiplier"))
		}
	}
	if pointR.MatchString(body) {
		if v, err := quantity.Parse(strings.Replace(body, "R", "p", 1), quantity.Farad); err == nil {
			list = append(list, of(Capacitor, v, "R is the decimal mark, picofarads"))
		}
	}
	return list
}

func of(p Part, v quantity.Value, how string) Reading {
	if v.Number == 0 {
		return Reading{Part: Link, How: "a link of 0 Ω"}
	}
	return Reading{Part: p, Value: v.Number, How: how}
}

// unlettered reads numbers that mean themselves: ohms, picofarads, and on
// electrolytics microfarads (common practice, no source).
func unlettered(body string) []Reading {
	micro := of(Capacitor, number(body+"u", quantity.Farad), body+" µF")
	micro.Caution = "On an electrolytic the number is plain microfarads."
	switch {
	case plain.MatchString(body):
		list := []Reading{of(Resistor, number(body, quantity.Ohm), body+" Ω")}
		if pico := number(body+"p", quantity.Farad); pico.Number >= 1e-12 {
			list = append(list, of(Capacitor, pico, body+" pF"))
		}
		return append(list, micro)
	case wholeMicro.MatchString(body) && quantity.E6.Contains(micro.Value):
		return []Reading{micro}
	}
	return nil
}

// number reads a text that is known to be a value; of any other it gives none.
func number(text string, u quantity.Unit) quantity.Value {
	v, err := quantity.Parse(text, u)
	if err != nil {
		return quantity.Value{}
	}
	return v
}

// multipliers are the letters of EIA-96; where two stand for one power, the
// first is the one that is written.
var multipliers = []struct {
	letters string
	exp     int
}{{"Z", -3}, {"YR", -2}, {"XS", -1}, {"A", 0}, {"BH", 1}, {"C", 2}, {"D", 3}, {"E", 4}, {"F", 5}}

var twoAndLetter = regexp.MustCompile(`^[0-9]{2}[A-Z]$`)

// eia96 reads two digits and a letter: the digits are the place in the E96
// series, from 01, never a number themselves. Such parts are 1 % parts.
func eia96(s string) []Reading {
	if !twoAndLetter.MatchString(s) {
		return nil
	}
	series := quantity.E96.Values()
	place, _ := strconv.Atoi(s[:2]) //nolint:errcheck // two digits
	if place < 1 || place > len(series) {
		return nil
	}
	for _, m := range multipliers {
		if strings.Contains(m.letters, s[2:]) {
			v := strconv.Itoa(series[place-1])
			return []Reading{{Part: Resistor, Value: times(v, m.exp), Tolerance: usually(0.01),
				How: "EIA-96: place " + s[:2] + " of the E96 series is " + v + ", " + s[2:] + " is × " + power(m.exp) + " Ω"}}
		}
	}
	return nil
}

// EIA96 writes a resistance in ohms as it is printed on small 1 % parts; "" when
// it is no E96 value or out of reach.
func EIA96(ohms float64) string {
	for _, m := range multipliers {
		for i, v := range quantity.E96.Values() {
			if times(strconv.Itoa(v), m.exp) == ohms {
				return string([]byte{'0' + byte((i+1)/10), '0' + byte((i+1)%10), m.letters[0]})
			}
		}
	}
	return ""
}

// trouble says why a code could not be read.
func trouble(s string) string {
	switch {
	case twoAndLetter.MatchString(s) && (s[:2] == "00" || s[:2] > "96"):
		return "EIA-96 counts from 01 to 96"
	case twoAndLetter.MatchString(s) && s[0] == '0':
		return s[2:] + " is no multiplier of EIA-96 (Z, Y or R, X or S, A, B or H, C, D, E, F)"
	case onlyDigits.MatchString(s) && s[0] == '0':
		return "no code begins with 0"
	}
	return "no code that is known here"
}
