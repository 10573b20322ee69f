package quantity

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Value is one value as typed and as understood.
type Value struct {
	Typed     string  // the text exactly as it was typed
	Number    float64 // in the base unit; 0 when OverRange
	Digit     float64 // weight of the last typed digit, in the base unit: 10 for "6.78k"
	OverRange bool    // the meter showed OL
}

// Error says why a text is not a value of the unit.
type Error struct {
	Text     string // as typed
	Problem  string
	Expected string
}

// Error gives text, problem and what was expected.
func (e *Error) Error() string {
	return fmt.Sprintf("%q: %s; expected %s", e.Text, e.Problem, e.Expected)
}

// maxDigits bounds what is typed; no meter shows more, and a float64 holds them.
const maxDigits = 15

// Parse reads a value of the unit as a technician types it. Errors are *Error.
//
// Accepted: a number with a decimal point or a decimal comma; after it, with or
// without a space, a prefix (m is milli and M is mega, always; K is kilo too)
// and the unit, both of which may be missing; for ohms and farads the letter
// codes of IEC 60062, where a letter stands for the decimal mark (4k7, 0R1, R47,
// 4u7, n22; L is milliohm); OL; a leading minus for volts; a missing zero before
// the decimal mark (".47"). A percentage needs its sign.
//
// Refused: everything else, above all what could be read in two ways: exponents,
// thousands separators (a lone comma is always the decimal mark: "4,700" is
// 4.700), a unit or prefix that does not belong to the quantity, the tolerance
// letters of IEC 60062 ("4K7J"), an unfinished number ("5."), and "0L", which
// would be zero milliohms to IEC 60062 and over-range to a hurried reader.
func Parse(text string, unit Unit) (Value, error) {
	sp := spellings[unit]
	fail := func(problem string) (Value, error) {
		return Value{}, &Error{Text: text, Problem: problem, Expected: sp.expected}
	}
	s := strings.TrimFunc(text, isSpace)
	switch {
	case s == "":
		return fail("nothing is typed")
	case s == "OL" && sp.overRange:
		return Value{Typed: text, OverRange: true}, nil
	case looksLikeOverRange(s):
		return fail("zero or over-range? over-range is typed OL, zero is typed 0")
	}
	negative := false
	if rest, ok := cutMinus(s); ok {
		if !sp.signed {
			return fail("a minus has no meaning here")
		}
		s, negative = rest, true
	}
	n, rest, problem := scanNumber(s, sp.codes)
	if problem != "" {
		return fail(problem)
	}
	exp, problem := scanUnit(rest, sp, n.coded)
	if problem != "" {
		return fail(problem)
	}
	exp += n.exp + sp.shift
	v := Value{Typed: text, Number: decimal(n.digits, exp), Digit: decimal("1", exp)}
	if negative && v.Number != 0 {
		v.Number = -v.Number
	}
	return v, nil
}

// number is what scanNumber found: digits without the decimal mark, the decimal
// exponent of the last digit, and whether a code letter was the decimal mark.
type number struct {
	digits string
	exp    int
	coded  bool
}

// scanNumber takes the number from the front of s. With a code letter as the
// decimal mark the letter's multiplier is in the exponent.
func scanNumber(s string, codes map[string]int) (n number, rest, problem string) {
	whole, rest := cutDigits(s)
	mark, size := utf8.DecodeRuneInString(rest)
	fraction, after := cutDigits(rest[size:])
	switch exp, isCode := codes[string(mark)]; {
	case mark == '.' || mark == ',':
		if fraction == "" {
			return n, "", "a digit is missing after the decimal mark"
		}
		if strings.ContainsRune(".,'’", first(after)) {
			return n, "", "more than one mark; thousands separators are not accepted"
		}
		n, rest = number{digits: whole + fraction, exp: -len(fraction)}, after
	case isCode && fraction != "":
		n, rest = number{digits: whole + fraction, exp: exp - len(fraction), coded: true}, after
	case whole == "":
		return n, "", "not a number"
	default:
		n = number{digits: whole}
	}
	if len(n.digits) > maxDigits {
		return n, "", "too many digits"
	}
	return n, rest, ""
}

// scanUnit reads what stands after the number and gives the exponent of its
// prefix.
func scanUnit(rest string, sp spelling, coded bool) (exp int, problem string) {
	rest = strings.TrimLeftFunc(rest, isSpace)
	switch {
	case rest == "" && sp.needsName:
		return 0, "the % sign is missing"
	case rest == "" || slices.Contains(sp.names, rest):
		return 0, ""
	case coded:
		return 0, trouble(rest, sp, "not understood after a letter code (a tolerance has a field of its own)")
	}
	r, size := utf8.DecodeRuneInString(rest)
	after := strings.TrimLeftFunc(rest[size:], isSpace)
	if exp, ok := sp.prefixes[string(r)]; ok && (after == "" || slices.Contains(sp.names, after)) {
		return exp, ""
	}
	if exp, ok := sp.codes[string(r)]; ok && rest[size:] == "" {
		return exp, "" // 330R
	}
	return 0, trouble(rest, sp, "not understood")
}

// trouble names what is wrong with the text after a number.
func trouble(rest string, sp spelling, otherwise string) string {
	r, size := utf8.DecodeRuneInString(rest)
	after := rest[size:]
	switch {
	case unicode.IsDigit(r) || strings.ContainsRune("'’", r):
		return "thousands separators are not accepted"
	case strings.ContainsRune("eE", r) && after != "" && strings.ContainsRune("+-−0123456789", first(after)):
		return "exponents are not accepted"
	case isUnit(rest) || isUnit(strings.TrimLeftFunc(after, isSpace)):
		return "a wrong unit"
	case strings.ContainsRune("pnuµμmkKMGR", r) && after == "" && sp.prefixes[string(r)] == 0:
		return "a wrong unit or multiplier"
	}
	return fmt.Sprintf("%q is %s", rest, otherwise)
}

// isUnit tells whether the text names any unit, also those that are never typed here.
func isUnit(s string) bool {
	for _, sp := range spellings {
		if slices.Contains(sp.names, s) {
			return true
		}
	}
	return slices.Contains([]string{"H", "s", "C", "VA", "Vac", "Vdc"}, s)
}

func looksLikeOverRange(s string) bool {
	return slices.Contains([]string{"0L", "0.L", "O.L", ".0L", "ol", "0l", "oL", "Ol"}, s)
}

func cutMinus(s string) (string, bool) {
	for _, minus := range []string{"-", "−"} {
		if rest, ok := strings.CutPrefix(s, minus); ok {
			return rest, true
		}
	}
	return s, false
}

func cutDigits(s string) (digits, rest string) {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[:i], s[i:]
}

// decimal gives digits·10^exp, rounded once, so that 4k7 is 4700 exactly.
func decimal(digits string, exp int) float64 {
	f, err := strconv.ParseFloat(digits+"e"+strconv.Itoa(exp), 64)
	if err != nil {
		panic("quantity: " + err.Error()) // digits are digits, and few
	}
	return f
}

// isSpace accepts the blanks that people and programs put before a unit.
func isSpace(r rune) bool {
	return r == ' ' || r == '\t' || r == '\u00a0' || r == '\u2009' || r == '\u202f'
}

func first(s string) rune {
	r, _ := utf8.DecodeRuneInString(s)
	return r
}
