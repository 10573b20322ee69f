package marking

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/quantity"
)

// brief is what a reading says, in one line: "resistor 10 kΩ ±1 %". A tolerance
// that is only usual stands in brackets.
func brief(r Reading) string {
	s := string(r.Part) + " " + quantity.Format(r.Value, 0, r.Unit())
	percent := func(x float64) string { return quantity.Format(x, 0, quantity.Percent) }
	switch t := r.Tolerance; {
	case !t.Known():
	case t.Absolute:
		s += " ±" + quantity.Format(t.Plus, 0, quantity.Farad)
	case t.Minus != t.Plus:
		s += " −" + percent(t.Minus) + " +" + percent(t.Plus)
	case t.Usual:
		s += " (±" + percent(t.Plus) + ")"
	default:
		s += " ±" + percent(t.Plus)
	}
	if r.Drift > 0 {
		s += fmt.Sprintf(" %g ppm/K", r.Drift)
	}
	return s
}

func briefs(t *testing.T, text string) string {
	t.Helper()
	found, err := Read(text)
	if err != nil {
		t.Errorf("Read(%q): %v", text, err)
	}
	var list []string
	for _, r := range found {
		list = append(list, brief(r))
	}
	return strings.Join(list, " | ")
}

func exactly(t *testing.T, tests map[string]string) {
	t.Helper()
	for text, want := range tests {
		if d := cmp.Diff(want, briefs(t, text)); d != "" {
			t.Errorf("%q: %s", text, d)
		}
	}
}

// Digit codes: digits times ten to the last, ohms or picofarads. The readings as
// a resistor of 103, 424, 220, 104, 1002 agree with published examples; 4701, 1000
// and the capacitors are arithmetic; 8 and 9 as divisors, links and L are from
// memory; what an unmarked tolerance usually is, and plain microfarads, is common
// practice, no source.
func TestDigitCodes(t *testing.T) {
	t.Parallel()
	exactly(t, map[string]string{
		"103":  "resistor 10 kΩ (±5 %) | capacitor 10 nF",
		"424":  "resistor 420 kΩ (±5 %) | capacitor 420 nF",
		"220":  "resistor 22 Ω (±5 %) | capacitor 22 pF | capacitor 220 µF", // not 220 Ω
		"104":  "resistor 100 kΩ (±5 %) | capacitor 100 nF",
		"000":  "link 0 Ω",
		"0":    "link 0 Ω",
		"0000": "link 0 Ω",
		"4R7":  "resistor 4.7 Ω | capacitor 4.7 pF",
		"R22":  "resistor 0.22 Ω | capacitor 0.22 pF",
		"12R0": "resistor 12 Ω | capacitor 12 pF",
		"1002": "resistor 10 kΩ (±1 %) | capacitor 10 nF",
		"4701": "resistor 4.7 kΩ (±1 %) | capacitor 4.7 nF",
		"1000": "resistor 100 Ω (±1 %) | capacitor 100 pF | capacitor 1 mF", // not 1000 Ω
		"R005": "resistor 5 mΩ",
		"5L00": "resistor 5 mΩ",
		"0R0":  "link 0 Ω",
		"R000": "link 0 Ω",

		"473K": "capacitor 47 nF ±10 % | resistor 473 kΩ",
		"101":  "resistor 100 Ω (±5 %) | capacitor 100 pF",
		"229":  "capacitor 2.2 pF",
		"158":  "capacitor 0.15 pF | capacitor 1.5 mF",
		"106":  "resistor 10 MΩ (±5 %) | capacitor 10 µF",
		"335":  "resistor 3.3 MΩ (±5 %) | capacitor 3.3 µF",
		"107":  "resistor 100 MΩ (±5 %) | capacitor 100 µF",

		"470K": "resistor 470 kΩ | capacitor 47 pF ±10 %", // K behind digits is kilo on a resistor
		"47K":  "resistor 47 kΩ | capacitor 47 pF ±10 %",
		"103J": "resistor 10 kΩ ±5 % | capacitor 10 nF ±5 %",
		"47":   "resistor 47 Ω | capacitor 47 pF | capacitor 47 µF",
		"4.7":  "resistor 4.7 Ω | capacitor 4.7 pF | capacitor 4.7 µF",
		"4,7":  "resistor 4.7 Ω | capacitor 4.7 pF | capacitor 4.7 µF",
		".047": "resistor 47 mΩ | capacitor 47 nF",
	})
}

// The letter-and-digit code of IEC 60062:2016; the resistors up to 1M0 agree with
// published examples, the rest is from memory.
func TestLetterAndDigitCode(t *testing.T) {
	t.Parallel()
	exactly(t, map[string]string{
		"R47":  "resistor 0.47 Ω | capacitor 0.47 pF",
		"470R": "resistor 470 Ω",
		"4K7":  "resistor 4.7 kΩ",
		"4k7":  "resistor 4.7 kΩ",
		"47K3": "resistor 47.3 kΩ",
		"4M7":  "resistor 4.7 MΩ",
		"2R2":  "resistor 2.2 Ω | capacitor 2.2 pF",
		"2K2":  "resistor 2.2 kΩ",
		"1M0":  "resistor 1 MΩ",
		"L47":  "resistor 0.47 mΩ",
		"4L7":  "resistor 4.7 mΩ",
		"p47":  "capacitor 0.47 pF",
		"4p7":  "capacitor 4.7 pF",
		"4n7":  "capacitor 4.7 nF",
		"4u7":  "capacitor 4.7 µF",
		"4µ7":  "capacitor 4.7 µF",
		"n22":  "capacitor 220 pF",
		"100n": "capacitor 100 nF",
		"1u0":  "capacitor 1 µF",
		"4K7J": "resistor 4.7 kΩ ±5 %",
		"10KF": "resistor 10 kΩ ±1 %",

		// Case folding would cost nine orders of magnitude.
		"4m7": "resistor 4.7 mΩ | capacitor 4.7 mF",

		// F is farads, or the tolerance.
		"470 nF": "capacitor 470 nF | capacitor 470 nF ±1 %",
	})
}

// Tolerance letters of IEC 60062:2016, from memory: per cent, of one side larger on
// some capacitors, and picofarads below 10 pF.
func TestToleranceLetters(t *testing.T) {
	t.Parallel()
	for letter, percent := range map[string]float64{
		"L": 0.01, "P": 0.02, "W": 0.05, "B": 0.1, "C": 0.25, "D": 0.5, "F": 1, "G": 2, "H": 3, "J": 5, "K": 10, "M": 20, "N": 30,
	} {
		found, err := Read("4K7" + letter)
		if err != nil || len(found) != 1 {
			t.Fatalf("4K7%s: %v, %v", letter, found, err)
		}
		if got := found[0].Tolerance; math.Abs(got.Plus-percent/100) > 1e-12 || got.Minus != got.Plus || got.Absolute || got.Usual {
			t.Errorf("4K7%s: %+v, want ±%g %%", letter, got, percent)
		}
	}
	exactly(t, map[string]string{
		"104Q": "capacitor 100 nF −10 % +30 %",
		"104T": "capacitor 100 nF −10 % +50 %",
		"104S": "capacitor 100 nF −20 % +50 %",
		"104Z": "capacitor 100 nF −20 % +80 %",
		"4p7B": "capacitor 4.7 pF ±0.1 pF",
		"4p7C": "capacitor 4.7 pF ±0.25 pF",
		"4p7D": "capacitor 4.7 pF ±0.5 pF",
		"4p7F": "capacitor 4.7 pF | capacitor 4.7 pF ±1 pF",
		"8p2G": "capacitor 8.2 pF ±2 pF",
		"4p7J": "capacitor 4.7 pF ±5 %",
		"10pD": "capacitor 10 pF ±0.5 %", // from 10 pF on the same letter is per cent
		"339D": "capacitor 3.3 pF ±0.5 pF",
		"4R7D": "resistor 4.7 Ω ±0.5 % | capacitor 4.7 pF ±0.5 pF",
	})
	for _, text := range []string{"4K7Q", "4K7T", "4K7S", "4K7Z", "4K7A", "100nA"} {
		if found, err := Read(text); err == nil {
			t.Errorf("%q reads as %v", text, found)
		}
	}
}

// EIA-96: 66B agrees with a published example, the table of places too; the rest
// is arithmetic. A widely copied text reads 01Y as 0.01 Ω: the two digits are a
// place in the series, so it is 1 Ω.
func TestEIA96(t *testing.T) {
	t.Parallel()
	for mark, ohms := range map[string]float64{
		"01C": 10000, "66B": 4750, "01Y": 1, "01A": 100, "01B": 1000, "01D": 100000, "51D": 332000,
		"68X": 49.9, "85Y": 7.5, "92Z": 0.887, "18C": 15000, "43C": 27400, "24D": 174000, "96F": 97.6e6,
		"01R": 1, "68S": 49.9, "66H": 4750, "66b": 4750,
	} {
		found, err := Read(mark)
		if err != nil {
			t.Errorf("%s: %v", mark, err)
			continue
		}
		if r := found[0]; r.Value != ohms || r.Part != Resistor || r.Tolerance != usually(0.01) {
			t.Errorf("%s: %+v, want %g Ω", mark, r, ohms)
		}
	}
	// Two digits and a letter may be more than one thing.
	exactly(t, map[string]string{
		"22R": "resistor 1.65 Ω (±1 %) | resistor 22 Ω",
		"22F": "resistor 16.5 MΩ (±1 %) | capacitor 22 pF ±1 %",
		"68Z": "resistor 0.499 Ω (±1 %) | capacitor 68 pF −20 % +80 %",
		"68X": "resistor 49.9 Ω (±1 %)",
	})
}

// All 96 places with all nine multipliers are written and read back as
// themselves, each as another value.
func TestEIA96RoundTrip(t *testing.T) {
	t.Parallel()
	seen := map[float64]string{}
	for place, v := range quantity.E96.Values() {
		for _, letter := range "ZYXABCDEF" {
			mark := fmt.Sprintf("%02d%c", place+1, letter)
			found := eia96(mark)
			if len(found) != 1 {
				t.Fatalf("%s: %v", mark, found)
			}
			ohms := found[0].Value
			if want := float64(v) * math.Pow10(strings.IndexRune("ZYXABCDEF", letter)-3); math.Abs(ohms/want-1) > 1e-12 {
				t.Errorf("%s: %g Ω, want %g", mark, ohms, want)
			}
			if got := EIA96(ohms); got != mark {
				t.Errorf("%g Ω is printed %s, want %s", ohms, got, mark)
			}
			if other := seen[ohms]; other != "" {
				t.Errorf("%s and %s are both %g Ω", mark, other, ohms)
			}
			seen[ohms] = mark
		}
	}
	if len(seen) != 96*9 {
		t.Errorf("%d values, want %d", len(seen), 96*9)
	}
	for _, ohms := range []float64{0, 0.0976, 1100e6, 120, 4700, math.NaN()} {
		if mark := EIA96(ohms); mark != "" {
			t.Errorf("%g Ω is printed %s", ohms, mark)
		}
	}
}

func TestAgrees(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		print            string
		part             Part
		value            float64
		agrees, readable bool
	}{
		{"103", Resistor, 10e3, true, true},
		{"103", Capacitor, 10e-9, true, true},
		{"103", Resistor, 1e3, false, true},
		{"01C", Resistor, 10e3, true, true},
		{"01C", Capacitor, 10e-9, false, false},
		{"92Z", Resistor, 0.887, true, true},
		{"470K", Resistor, 470e3, true, true},
		{"470K", Capacitor, 47e-12, true, true},
		{"000", Resistor, 0, true, true},
		{"000", Resistor, 10, false, true},
		{"220", Capacitor, 220e-6, true, true},
		{"W8", Resistor, 10, false, false},
		{"", Resistor, 10, false, false},
	} {
		if agrees, readable := Agrees(c.print, c.part, c.value); agrees != c.agrees || readable != c.readable {
			t.Errorf("%q on a %s of %g: agrees %v, readable %v", c.print, c.part, c.value, agrees, readable)
		}
	}
}
