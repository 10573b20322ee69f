package quantity

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text   string
		unit   Unit
		number float64
		digit  float64
	}{
		// Letter-and-digit code, IEC 60062:2016; the examples up to 1M0 were
		// compared with a published reproduction, the rest are from memory.
		{"R47", Ohm, 0.47, 0.01},
		{"4R7", Ohm, 4.7, 0.1},
		{"470R", Ohm, 470, 1},
		{"4K7", Ohm, 4700, 100},
		{"4k7", Ohm, 4700, 100},
		{"47K", Ohm, 47000, 1000},
		{"47K3", Ohm, 47300, 100},
		{"470K", Ohm, 470000, 1000},
		{"4M7", Ohm, 4.7e6, 1e5},
		{"2R2", Ohm, 2.2, 0.1},
		{"2K2", Ohm, 2200, 100},
		{"1M0", Ohm, 1e6, 1e5},
		{"L47", Ohm, 0.47e-3, 0.01e-3},
		{"4L7", Ohm, 4.7e-3, 0.1e-3},
		{"R005", Ohm, 5e-3, 1e-3},
		{"5L00", Ohm, 5e-3, 1e-5},
		{"p47", Farad, 0.47e-12, 0.01e-12},
		{"4p7", Farad, 4.7e-12, 0.1e-12},
		{"4n7", Farad, 4.7e-9, 0.1e-9},
		{"4u7", Farad, 4.7e-6, 0.1e-6},
		{"4µ7", Farad, 4.7e-6, 0.1e-6},
		{"4m7", Farad, 4.7e-3, 0.1e-3},
		{"n22", Farad, 0.22e-9, 0.01e-9},
		{"100n", Farad, 100e-9, 1e-9},
		{"1u0", Farad, 1e-6, 0.1e-6},

		// The forms that the file formats promise.
		{"820k", Ohm, 820e3, 1e3},
		{"4.7k", Ohm, 4700, 100},
		{"4,7k", Ohm, 4700, 100},
		{"0R1", Ohm, 0.1, 0.1},
		{"10M", Ohm, 10e6, 1e6},
		{"1M", Ohm, 1e6, 1e6},
		{"470 nF", Farad, 470e-9, 1e-9},
		{"325 V", Volt, 325, 1},
		{"6.15m", Volt, 6.15e-3, 1e-5},
		{"2.5", Volt, 2.5, 0.1},
		{"1 %", Percent, 0.01, 0.01},
		{"0.1%", Percent, 0.001, 0.001},
		{"-0.58", Volt, -0.58, 0.01},
		{"−0.58 V", Volt, -0.58, 0.01},
		{"25", Celsius, 25, 1},
		{"25 °C", Celsius, 25, 1},
		{"3950", Plain, 3950, 1},

		// What fingers do beyond that.
		{".47", Ohm, 0.47, 0.01},
		{"0.00", Volt, 0, 0.01},
		{"-0", Volt, 0, 1},
		{"330 R", Ohm, 330, 1},
		{"4.7R", Ohm, 4.7, 0.1},
		{"5u6F", Farad, 5.6e-6, 0.1e-6},
		{"4k7 Ω", Ohm, 4700, 100},
		{"4.70 kΩ", Ohm, 4700, 10},
		{"4.70k Ω", Ohm, 4700, 10},
		{"82 ohm", Ohm, 82, 1},
		{"10 m\u2126", Ohm, 0.01, 1e-3},
		{"12mV", Volt, 12e-3, 1e-3},
		{"12\u202fmV", Volt, 12e-3, 1e-3},
		{" 3.31 ", Volt, 3.31, 0.01},
		{"3,312", Volt, 3.312, 1e-3},
		{"1 mA", Ampere, 1e-3, 1e-3},
		{"100k", Hertz, 100e3, 1e3},
		{"50 Hz", Hertz, 50, 1},
		{"125 mW", Watt, 0.125, 1e-3},
		{"5m0", Ohm, 5e-3, 0.1e-3}, // m is milli, always
	} {
		v, err := Parse(c.text, c.unit)
		want := Value{Typed: c.text, Number: c.number, Digit: c.digit}
		if err != nil {
			t.Errorf("Parse(%q, %q): %v", c.text, c.unit, err)
		} else if d := cmp.Diff(want, v); d != "" {
			t.Errorf("Parse(%q, %q): %s", c.text, c.unit, d)
		}
	}
}

func TestParseOverRange(t *testing.T) {
	t.Parallel()
	for _, u := range []Unit{Ohm, Volt, Ampere, Farad} {
		v, err := Parse(" OL ", u)
		if err != nil || !v.OverRange || v.Typed != " OL " {
			t.Errorf("Parse(OL, %q) = %+v, %v", u, v, err)
		}
	}
	for _, u := range []Unit{Percent, Celsius, Plain, Hertz, Watt} {
		if v, err := Parse("OL", u); err == nil {
			t.Errorf("Parse(OL, %q) = %+v, want an error", u, v)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text    string
		unit    Unit
		problem string // part of it
	}{
		{"", Ohm, "nothing is typed"},
		{"  ", Ohm, "nothing is typed"},
		{"abc", Ohm, "not a number"},
		{"k", Ohm, "not a number"},
		{"R", Ohm, "not a number"},
		{".", Ohm, "digit is missing"},
		{"5.", Ohm, "digit is missing"},
		{"5,", Volt, "digit is missing"},
		{"1e3", Ohm, "exponents"},
		{"1E3", Ohm, "exponents"},
		{"1.5e-3", Volt, "exponents"},
		{"1 000", Ohm, "thousands"},
		{"1'000", Ohm, "thousands"},
		{"1,000,000", Ohm, "thousands"},
		{"1.000,5", Volt, "thousands"},
		{"1,000.5", Volt, "thousands"},
		{"1.2.3", Volt, "more than one mark"},
		{"4k7k", Ohm, "letter code"},
		{"4K7J", Ohm, "a tolerance has a field of its own"}, // IEC 60062 allows it, a value does not
		{"10KF", Ohm, "wrong unit"},
		{"4.7 nF", Ohm, "wrong unit"},
		{"4.7 kV", Ohm, "wrong unit"},
		{"4k7", Farad, "not understood"},
		{"4M7", Farad, "not understood"}, // case folding would cost nine orders of magnitude
		{"10M", Farad, "wrong unit or multiplier"},
		{"470n", Ohm, "wrong unit or multiplier"},
		{"4u7", Ohm, "not understood"},
		{"2R2", Volt, "not understood"},
		{"4k7", Volt, "not understood"},
		{"3.3 A", Volt, "wrong unit"},
		{"-4.7k", Ohm, "minus"},
		{"-5 %", Percent, "minus"},
		{"−3", Plain, "minus"},
		{"--3", Volt, "not a number"},
		{"+3", Volt, "not a number"},
		{"- 3", Volt, "not a number"},
		{"5", Percent, "% sign is missing"},
		{"5 %", Ohm, "wrong unit"},
		{"3950 K", Plain, "wrong unit"},
		{"25 C", Celsius, "wrong unit"},
		{"0L", Ohm, "over-range"},
		{"O.L", Ohm, "over-range"},
		{"ol", Volt, "over-range"},
		{"OL k", Ohm, "not a number"},
		{"0x1F", Ohm, "not understood"},
		{"1_000", Ohm, "not understood"},
		{"inf", Ohm, "not a number"},
		{"NaN", Ohm, "not a number"},
		{"~4.7k", Ohm, "not a number"},
		{"4.7 to 5k", Ohm, "not understood"},
		{"1234567890123456", Ohm, "too many digits"},
		{"٣", Ohm, "not a number"},
		{"4.7k\n", Ohm, "not understood"},
	} {
		v, err := Parse(c.text, c.unit)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("Parse(%q, %q) = %+v, %v, want an *Error", c.text, c.unit, v, err)
			continue
		}
		if !strings.Contains(e.Problem, c.problem) {
			t.Errorf("Parse(%q, %q): problem %q, want %q in it", c.text, c.unit, e.Problem, c.problem)
		}
		if e.Text != c.text || e.Expected != spellings[c.unit].expected {
			t.Errorf("Parse(%q, %q): error does not carry text and expectation: %+v", c.text, c.unit, e)
		}
	}
}

func TestErrorText(t *testing.T) {
	t.Parallel()
	_, err := Parse("4.7 nF", Ohm)
	want := `"4.7 nF": a wrong unit; expected ohms such as 820, 4.7k, 4k7 or 0R1`
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// A value typed in any of the accepted ways is the same value.
func TestParseWaysAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.StringMatching(`[1-9][0-9]{0,2}`).Draw(t, "whole")
		fraction := rapid.StringMatching(`[0-9]{1,3}`).Draw(t, "fraction")
		letter := rapid.SampledFrom([]string{"m", "k", "M", "G"}).Draw(t, "letter")
		plain, err := Parse(whole+"."+fraction+letter, Ohm)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range []string{
			whole + letter + fraction, whole + "," + fraction + letter,
			whole + "." + fraction + " " + letter + "Ω", whole + letter + fraction + "ohm",
		} {
			v, err := Parse(text, Ohm)
			if err != nil || v.Number != plain.Number || v.Digit != plain.Digit {
				t.Fatalf("Parse(%q) = %+v, %v, want %+v", text, v, err, plain)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"4k7", "4,7k", "OL", "-0.58 V", "1 %", "470 nF", "R47", ".47", "1e3", "0L", "5u6F"} {
		for i := range 3 {
			f.Add(s, i)
		}
	}
	units := []Unit{Ohm, Volt, Ampere, Farad, Watt, Hertz, Percent, Celsius, Plain}
	f.Fuzz(func(t *testing.T, text string, i int) {
		u := units[uint(i)%uint(len(units))]
		v, err := Parse(text, u)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Text != text || e.Problem == "" || e.Expected == "" {
				t.Fatalf("Parse(%q, %q): %#v", text, u, err)
			}
			return
		}
		if v.Typed != text || math.IsNaN(v.Number) || math.IsInf(v.Number, 0) {
			t.Fatalf("Parse(%q, %q) = %+v", text, u, v)
		}
		if v.OverRange != (v.Digit == 0) || v.Number < 0 && u != Volt {
			t.Fatalf("Parse(%q, %q) = %+v", text, u, v)
		}
	})
}
