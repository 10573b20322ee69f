package quantity

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestFormat(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		x, resolution float64
		unit          Unit
		want          string
	}{
		{6780, 10, Ohm, "6.78 kΩ"},
		{6780, 1, Ohm, "6.780 kΩ"},
		{6780, 1000, Ohm, "7 kΩ"},
		{820e3, 1000, Ohm, "820 kΩ"},
		{820, 1, Ohm, "820 Ω"},
		{820, 100, Ohm, "0.8 kΩ"}, // no zero in place of a digit that was not read
		{999.96, 0.1, Ohm, "1.0000 kΩ"},
		{0.010, 0, Ohm, "10 mΩ"},
		{0.05, 0, Ohm, "50 mΩ"},
		{0.5, 0, Ohm, "0.5 Ω"},
		{680e3, 0, Ohm, "680 kΩ"},
		{10e6, 0, Ohm, "10 MΩ"},
		{9999.96, 0, Ohm, "10 kΩ"},
		{0, 0.1, Ohm, "0.0 Ω"},
		{0, 0, Ohm, "0 Ω"},
		{0.58, 1e-3, Volt, "0.580 V"},
		{-0.58, 1e-2, Volt, "−0.58 V"},
		{-0.0004, 1e-3, Volt, "0.000 V"},
		{0.0274, 1e-4, Volt, "27.4 mV"},
		{323.6, 0.1, Volt, "323.6 V"},
		{0.00615, 0, Volt, "6.15 mV"},
		{330e-6, 1e-6, Farad, "330 µF"},
		{4.7e-9, 0, Farad, "4.7 nF"},
		{0, 1e-12, Farad, "0.000 nF"},
		{0.4, 0.01, Watt, "0.40 W"},
		{0.024, 0, Watt, "24 mW"},
		{0.05, 0, Percent, "5 %"},
		{0.001, 0.001, Percent, "0.1 %"},
		{25, 1, Celsius, "25 °C"},
		{3950, 1, Plain, "3950"},
		{math.Inf(1), 1, Ohm, "OL"},
		{math.NaN(), 1, Ohm, "?"},
	} {
		if got := Format(c.x, c.resolution, c.unit); got != c.want {
			t.Errorf("Format(%v, %v, %q) = %q, want %q", c.x, c.resolution, c.unit, got, c.want)
		}
	}
}

// What Format writes, Parse reads: the number to within half a digit shown, and
// the same digit weight, for every unit, size and resolution.
func TestFormatRoundTrip(t *testing.T) {
	t.Parallel()
	sizes := map[Unit][2]int{
		Ohm: {-3, 8}, Volt: {-6, 3}, Ampere: {-9, 0}, Farad: {-12, -1},
		Watt: {-3, 3}, Hertz: {0, 6}, Percent: {-3, 0}, Celsius: {0, 2}, Plain: {0, 4},
	}
	units := []Unit{Ohm, Volt, Ampere, Farad, Watt, Hertz, Percent, Celsius, Plain}
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(units).Draw(t, "unit")
		exp := rapid.IntRange(sizes[u][0], sizes[u][1]).Draw(t, "exp")
		x := rapid.Float64Range(1, 9.99).Draw(t, "mantissa") * math.Pow10(exp)
		if u == Volt && rapid.Bool().Draw(t, "minus") {
			x = -x
		}
		decade := exp - rapid.IntRange(0, 4).Draw(t, "digits")
		text := Format(x, math.Pow10(decade), u)
		v, err := Parse(text, u)
		if err != nil {
			t.Fatalf("Format(%v, 1e%d) = %q: %v", x, decade, text, err)
		}
		if math.Abs(v.Number-x) > 0.5000001*math.Pow10(decade) {
			t.Fatalf("Format(%v, 1e%d) = %q reads as %v", x, decade, text, v.Number)
		}
		if u != Plain && u != Celsius && u != Percent && math.Abs(v.Digit/math.Pow10(decade)-1) > 1e-9 {
			t.Fatalf("Format(%v, 1e%d) = %q has digits of %v", x, decade, text, v.Digit)
		}
		again := Format(v.Number, v.Digit, u)
		if again != text {
			t.Fatalf("%q reads back as %q", text, again)
		}
	})
}

func TestFormatFree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1, 9.99).Draw(t, "mantissa") * math.Pow10(rapid.IntRange(-3, 8).Draw(t, "exp"))
		text := Format(x, 0, Ohm)
		v, err := Parse(text, Ohm)
		if err != nil || math.Abs(v.Number/x-1) > 5.1e-4 {
			t.Fatalf("Format(%v, 0) = %q reads as %v, %v", x, text, v.Number, err)
		}
	})
}
