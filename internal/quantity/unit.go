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

// Value is one value as typed and as understood.
type Value struct {
	Typed     string  // the text exactly as it was typed
	Number    float64 // in the base unit; 0 when OverRange
	Digit     float64 // weight of the last typed digit, in the base unit: 10 for "6.78k"
	OverRange bool    // the meter showed OL
}
