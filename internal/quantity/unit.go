// Package quantity knows values with units as a technician types and reads
// them: "4k7", "470 nF", "OL", "−0.58 V".
//
// It parses (Parse), formats in engineering notation with the digits that a
// resolution deserves (Format, Split) and holds the preferred values of
// IEC 60063 (Series). It does not know parts, meters or boards. Inside the
// program every value is a float64 in the base unit: ohms, volts, amperes,
// farads, watts, hertz, degrees Celsius; a percentage is a fraction.
package quantity

// Unit says what kind of value a text must hold, and how it is written.
type Unit string

// The units. Plain is a number without a unit (a gain, minutes, counts);
// a Percent value is held as a fraction: "5 %" is 0.05.
const (
	Ohm     Unit = "Ω"
	Volt    Unit = "V"
	Ampere  Unit = "A"
	Farad   Unit = "F"
	Watt    Unit = "W"
	Hertz   Unit = "Hz"
	Percent Unit = "%"
	Celsius Unit = "°C"
	Plain   Unit = ""
)

// spelling is how the values of one unit are written.
type spelling struct {
	names     []string       // the unit itself, as people type it
	needsName bool           // a bare number is not enough
	prefixes  map[string]int // decimal exponents of prefixes, before the unit
	codes     map[string]int // IEC 60062 letters that stand for the decimal mark
	signed    bool           // a leading minus is accepted
	overRange bool           // a meter can show OL
	shift     int            // decimal exponent of the unit itself
	scale     []step         // prefixes to format with, upward
	expected  string
}

// step is a prefix that Format may choose.
type step struct {
	prefix string
	exp    int
}

// Prefixes are kept to those that make sense for the unit, so that a
// capacitance typed where ohms belong is an error and not a strange value.
var spellings = map[Unit]spelling{
	Ohm: {
		names:     []string{"Ω", "\u2126", "ohm", "Ohm"}, // Greek letter and the old ohm sign
		prefixes:  map[string]int{"m": -3, "k": 3, "K": 3, "M": 6, "G": 9},
		codes:     map[string]int{"R": 0, "L": -3, "m": -3, "k": 3, "K": 3, "M": 6, "G": 9},
		overRange: true,
		scale:     []step{{"m", -3}, {"", 0}, {"k", 3}, {"M", 6}, {"G", 9}},
		expected:  "ohms such as 820, 4.7k, 4k7 or 0R1",
	},
	Volt: {
		names:     []string{"V"},
		prefixes:  map[string]int{"u": -6, "µ": -6, "μ": -6, "m": -3, "k": 3, "K": 3},
		signed:    true,
		overRange: true,
		scale:     []step{{"µ", -6}, {"m", -3}, {"", 0}, {"k", 3}},
		expected:  "volts such as 3.31, 325 V or 6.15m",
	},
	Ampere: {
		names:     []string{"A"},
		prefixes:  map[string]int{"n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3},
		overRange: true,
		scale:     []step{{"n", -9}, {"µ", -6}, {"m", -3}, {"", 0}},
		expected:  "amperes such as 1 mA or 15",
	},
	Farad: {
		names:     []string{"F"},
		prefixes:  map[string]int{"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3},
		codes:     map[string]int{"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "F": 0},
		overRange: true,
		scale:     []step{{"p", -12}, {"n", -9}, {"µ", -6}, {"m", -3}, {"", 0}},
		expected:  "farads such as 470 nF, 4u7 or 330u",
	},
	Watt: {
		names:    []string{"W"},
		prefixes: map[string]int{"m": -3, "k": 3, "K": 3},
		scale:    []step{{"µ", -6}, {"m", -3}, {"", 0}, {"k", 3}},
		expected: "watts such as 0.25 or 125 mW",
	},
	Hertz: {
		names:    []string{"Hz"},
		prefixes: map[string]int{"k": 3, "K": 3, "M": 6},
		scale:    []step{{"", 0}, {"k", 3}, {"M", 6}},
		expected: "hertz such as 50 or 100k",
	},
	Percent: {
		names:     []string{"%"},
		needsName: true,
		shift:     -2,
		scale:     []step{{"", 0}},
		expected:  "a percentage such as 5 %",
	},
	Celsius: {
		names:    []string{"°C", "\u2103"},
		scale:    []step{{"", 0}},
		expected: "degrees Celsius such as 25",
	},
	Plain: {
		scale:    []step{{"", 0}},
		expected: "a plain number such as 5",
	},
}

// Expected says in a few words how a value of the unit is typed.
func Expected(u Unit) string { return spellings[u].expected }
