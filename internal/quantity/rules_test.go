package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Every preferred value in every decade that resistors and capacitors come in,
// written in each of the ways that a hand or a maker writes it, is that value to
// the last bit: what strconv makes of the plain decimal.
func TestEveryPreferredValue(t *testing.T) {
	t.Parallel()
	letters := map[Unit]map[int]string{
		Ohm:   {-3: "m", 0: "R", 3: "k", 6: "M"},
		Farad: {-12: "p", -9: "n", -6: "u"},
	}
	count := 0
	for unit, prefixes := range letters {
		for exp, letter := range prefixes {
			for _, v := range E192.Values() {
				digits := strconv.Itoa(v)
				for place := 1; place <= 3; place++ {
					want, err := strconv.ParseFloat(fmt.Sprintf("%se%d", digits, exp-(3-place)), 64)
					if err != nil {
						t.Fatal(err)
					}
					whole, fraction := digits[:place], digits[place:]
					spelled := []string{strings.TrimSuffix(whole+"."+fraction, ".") + letter, whole + letter + fraction}
					if fraction != "" {
						spelled = append(spelled, whole+","+fraction+" "+letter)
					}
					for _, text := range spelled {
						count++
						if got, err := Parse(text, unit); err != nil || got.Number != want {
							t.Errorf("Parse(%q, %s) = %v, %v, want %v", text, unit, got.Number, err, want)
						}
					}
				}
			}
		}
	}
	if count < 10000 {
		t.Errorf("only %d spellings were tried", count)
	}
}

// Small m and large M never mean the same, in any unit that has either: a slip of
// the shift key is nine orders of magnitude or an error, not a near miss.
func TestMilliAndMega(t *testing.T) {
	t.Parallel()
	for _, unit := range []Unit{Ohm, Volt, Ampere, Farad, Watt, Hertz, Percent, Celsius, Plain} {
		milli, err1 := Parse("5m", unit)
		mega, err2 := Parse("5M", unit)
		if err1 == nil && milli.Number != 5e-3 {
			t.Errorf("5m in %q is %g", unit, milli.Number)
		}
		if err2 == nil && mega.Number != 5e6 {
			t.Errorf("5M in %q is %g", unit, mega.Number)
		}
		if unit == Ohm && (err1 != nil || err2 != nil) {
			t.Errorf("ohms have both: %v, %v", err1, err2)
		}
		if unit == Farad && err2 == nil {
			t.Error("five megafarads were accepted")
		}
	}
}

// A unit written out belongs to its quantity alone.
func TestUnitsDoNotMix(t *testing.T) {
	t.Parallel()
	names := map[Unit]string{Ohm: "Ω", Volt: "V", Ampere: "A", Farad: "F", Watt: "W", Hertz: "Hz", Percent: "%", Celsius: "°C"}
	for unit, name := range names {
		for other := range names {
			_, err := Parse("5 "+name, other)
			var e *Error
			switch {
			case unit == other && err != nil:
				t.Errorf("5 %s in %s: %v", name, other, err)
			case unit != other && (!errors.As(err, &e) || !strings.Contains(e.Problem, "wrong unit")):
				t.Errorf("5 %s in %s: %v", name, other, err)
			}
		}
		if got := Expected(unit); got == "" || strings.ContainsAny(got, "\n%") && unit != Percent {
			t.Errorf("%s: expected %q", unit, got)
		}
	}
}

// The digit of a value is the weight of the last digit typed: a number and its
// neighbour by one in that place differ by it.
func TestDigitIsTheLastPlace(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.IntRange(1, 98).Draw(t, "whole")
		places := rapid.IntRange(1, 4).Draw(t, "places")
		last := rapid.IntRange(0, 8).Draw(t, "last")
		prefix := rapid.SampledFrom([]string{"", "m", "k", "M"}).Draw(t, "prefix")
		text := func(last int) string {
			return fmt.Sprintf("%d.%s%d%s", whole, strings.Repeat("3", places-1), last, prefix)
		}
		a, err1 := Parse(text(last), Ohm)
		b, err2 := Parse(text(last+1), Ohm)
		if err1 != nil || err2 != nil || a.Digit != b.Digit || math.Abs(b.Number-a.Number-a.Digit) > 1e-6*a.Digit {
			t.Errorf("%s and %s: %+v, %+v, %v %v", text(last), text(last+1), a, b, err1, err2)
		}
	})
}

// The nearest preferred value is a member, and no member is nearer by ratio; ten
// times the value has ten times the neighbour.
func TestNearestIsNearest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom([]Series{E3, E6, E12, E24, E48, E96, E192}).Draw(t, "series")
		x := math.Pow(10, rapid.Float64Range(-3, 7).Draw(t, "decade"))
		near := s.Nearest(x)
		if !s.Contains(near) {
			t.Fatalf("E%d nearest to %g: %g, no member", s, x, near)
		}
		if ten := s.Nearest(10 * x); math.Abs(ten/near-10) > 1e-9 {
			t.Errorf("E%d nearest to %g: %g, to ten times that: %g", s, x, near, ten)
		}
		values := append(s.Values(), 1000)
		for i, v := range values {
			member := float64(v) * math.Pow(10, math.Floor(math.Log10(x))-2)
			if off, best := math.Abs(math.Log(member/x)), math.Abs(math.Log(near/x)); off < best-1e-12 {
				t.Errorf("E%d: %g is nearer to %g than %g", s, member, x, near)
			}
			if i > 0 && values[i] <= values[i-1] {
				t.Errorf("E%d does not rise at %d", s, v)
			}
		}
	})
}

// A series contains its members in every decade, nothing a bit beside them, and
// not the values that only its neighbours have.
func TestContains(t *testing.T) {
	t.Parallel()
	for s, outside := range map[Series]float64{E3: 3.3, E6: 5.6, E12: 9.1, E24: 4.99, E48: 4.7, E96: 4.7, E192: 4.72} {
		if s.Contains(outside) || s.Contains(outside*1e5) {
			t.Errorf("E%d contains %g", s, outside)
		}
		for _, v := range s.Values() {
			for _, scale := range []float64{1e-5, 1e-2, 1, 1e4} {
				if x := float64(v) * scale; !s.Contains(x) || s.Contains(x*1.0001) {
					t.Errorf("E%d: %g in it %t, a bit beside it %t", s, x, s.Contains(x), s.Contains(x*1.0001))
				}
			}
		}
	}
}

// Format shows no digit that was not read, keeps between 1 and 999 before the mark
// where the prefixes reach, and grows with the value.
func TestFormatShowsWhatWasRead(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		x := math.Pow(10, rapid.Float64Range(-2, 8).Draw(t, "size"))
		resolution := math.Pow10(int(math.Floor(math.Log10(x))) - rapid.IntRange(0, 4).Draw(t, "digits"))
		number, unit := Split(x, resolution, Ohm)
		v, err := Parse(number+unit, Ohm)
		if err != nil {
			t.Fatal(err)
		}
		if v.Digit < resolution*(1-1e-9) {
			t.Errorf("%g in steps of %g is shown as %s %s, to %g", x, resolution, number, unit, v.Digit)
		}
		if shown, err := strconv.ParseFloat(number, 64); err != nil || shown >= 1000 {
			t.Errorf("%g is shown as %s %s", x, number, unit)
		}
		above, unit2 := Split(x+resolution, resolution, Ohm)
		if w, err := Parse(above+unit2, Ohm); err != nil || w.Number < v.Number {
			t.Errorf("%g is shown as %s %s, one step more as %s %s", x, number, unit, above, unit2)
		}
	})
}
