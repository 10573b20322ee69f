package marking

import (
	"math"
	"strings"
	"testing"
)

// The colour code of IEC 60062:2016, colour by colour. Digits and the common
// tolerances agree with a published copy; pink, the tolerances of orange, yellow
// and grey, and all temperature coefficients are from memory.
func TestColours(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name       string
		digit      int     // −1: none
		multiplier float64 // 0: too much for a resistor that is made
		tolerance  float64 // per cent; 0: none
		ppm        float64 // 0: none
	}{
		{"pink", -1, 1e-3, 0, 0},
		{"silver", -1, 1e-2, 10, 0},
		{"gold", -1, 0.1, 5, 0},
		{"black", 0, 1, 0, 250},
		{"brown", 1, 10, 1, 100},
		{"red", 2, 100, 2, 50},
		{"orange", 3, 1e3, 0.05, 15},
		{"yellow", 4, 1e4, 0.02, 25},
		{"green", 5, 1e5, 0.5, 20},
		{"blue", 6, 1e6, 0.25, 10},
		{"violet", 7, 1e7, 0.1, 5},
		{"grey", 8, 1e8, 0.01, 1},
		{"white", 9, 1e9, 0, 0},
	} {
		one := func(bands string) (Reading, string) {
			var list []*colour
			for _, w := range strings.Fields(bands) {
				list = append(list, coloursOf(w)[0])
			}
			return resistorOf(list)
		}
		r, why := one("brown " + c.name + " black gold")
		if (why == "") != (c.digit >= 0) || why == "" && r.Value != float64(10+c.digit) {
			t.Errorf("%s as a digit: %+v, %s", c.name, r, why)
		}
		if r, why := one("brown black " + c.name + " gold"); why != "" || math.Abs(r.Value/(10*c.multiplier)-1) > 1e-12 {
			t.Errorf("%s as a multiplier: %+v, %s", c.name, r, why)
		}
		r, why = one("brown black red " + c.name)
		if (why == "") != (c.tolerance > 0) || why == "" && math.Abs(r.Tolerance.Plus*100-c.tolerance) > 1e-12 {
			t.Errorf("%s as a tolerance: %+v, %s", c.name, r, why)
		}
		if older := r.Caution != ""; older != (c.name == "grey") {
			t.Errorf("%s as a tolerance: caution %q", c.name, r.Caution)
		}
		r, why = one("brown black black red brown " + c.name)
		if (why == "") != (c.ppm > 0) || why == "" && r.Drift != c.ppm {
			t.Errorf("%s as a temperature coefficient: %+v, %s", c.name, r, why)
		}
	}
}

// Bands in order. The five-band example agrees with a published one, the others
// are arithmetic, the link is from memory. Where the other end gives a resistor
// too, it is listed after.
func TestBands(t *testing.T) {
	t.Parallel()
	exactly(t, map[string]string{
		"brown black red gold":            "resistor 1 kΩ ±5 %",
		"yellow violet red gold":          "resistor 4.7 kΩ ±5 %",
		"brown black black red brown":     "resistor 10 kΩ ±1 % | resistor 120 Ω ±1 %",
		"red red gold gold":               "resistor 2.2 Ω ±5 %",
		"green blue silver gold":          "resistor 0.56 Ω ±5 %",
		"yellow violet black brown brown": "resistor 4.7 kΩ ±1 %",
		"black":                           "link 0 Ω",

		"yellow violet red":                 "resistor 4.7 kΩ ±20 % | resistor 270 kΩ ±20 %",
		"gold red violet yellow":            "resistor 4.7 kΩ ±5 %", // typed from the wrong end
		"Brown, Black, Black, Red, Brown":   "resistor 10 kΩ ±1 % | resistor 120 Ω ±1 %",
		"brown black black red brown red":   "resistor 10 kΩ ±1 % 50 ppm/K",
		"orange orange black brown violet":  "resistor 3.3 kΩ ±0.1 %",
		"yellow violet orange grey":         "resistor 47 kΩ ±0.01 %",
		"yellow purple orange gray":         "resistor 47 kΩ ±0.01 %",
		"red violet pink gold":              "resistor 27 mΩ ±5 %",
		"bn bk rd gd":                       "resistor 1 kΩ ±5 %",
		"ye vt bk bn bn":                    "resistor 4.7 kΩ ±1 %",
		"y v r go":                          "resistor 4.7 kΩ ±5 %",
		"brown blue brown gold":             "resistor 160 Ω ±5 %",
		"brown white brown gold":            "resistor 190 Ω ±5 %", // no preferred value, and read all the same
		"white brown green red brown black": "resistor 91.5 kΩ ±1 % 250 ppm/K",
	})
}

// Letters that stand for several colours give every preferred value they may mean.
func TestLettersOfSeveralColours(t *testing.T) {
	t.Parallel()
	got := briefs(t, "y v r g") // gold, green or grey
	for _, want := range []string{"4.7 kΩ ±5 %", "4.7 kΩ ±0.5 %", "4.7 kΩ ±0.01 %"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not among %s", want, got)
		}
	}
	if found, err := Read("b b b b b"); err == nil || !strings.Contains(err.Error(), "bk, bn, bu") {
		t.Errorf("five b: %v, %v", found, err)
	}
}
