package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Format writes a value in base units in engineering notation, such as
// "6.78 kΩ", with the digits that the resolution deserves: the last digit
// shown weighs no less than the resolution's own decade. +Inf is "OL", NaN is
// "?". With a resolution of 0 or less up to four significant digits are shown,
// trailing zeros dropped. What it writes, Parse reads.
func Format(x, resolution float64, unit Unit) string {
	number, name := Split(x, resolution, unit)
	if name == "" {
		return number
	}
	return number + " " + name
}

// Split is Format with number and unit apart, for pages that set them apart.
// Between 0.1 and 1 the unit itself is kept, as meters do: "0.58 V", "0.40 W".
func Split(x, resolution float64, unit Unit) (number, name string) {
	switch {
	case math.IsNaN(x):
		return "?", ""
	case math.IsInf(x, 0):
		return "OL", ""
	}
	sp := spellings[unit]
	x *= math.Pow10(-sp.shift)
	resolution *= math.Pow10(-sp.shift)
	free := resolution <= 0 || math.IsNaN(resolution)
	decade := significant(x) // the exponent of the last digit shown
	if !free {
		decade = int(math.Floor(math.Log10(resolution) + 1e-9))
	}
	st := choose(sp.scale, round(x, decade), decade, free)
	places := max(st.exp-decade, 0)
	number = strconv.FormatFloat(round(x, decade)*math.Pow10(-st.exp), 'f', places, 64)
	if free && strings.Contains(number, ".") {
		number = strings.TrimRight(strings.TrimRight(number, "0"), ".")
	}
	if strings.Trim(number, "-0.") == "" {
		number = strings.TrimPrefix(number, "-")
	}
	return strings.Replace(number, "-", "−", 1), st.prefix + string(unit)
}

// significant gives the exponent of the last of four significant digits of x.
func significant(x float64) int {
	if x == 0 {
		return 0
	}
	decade := int(math.Floor(math.Log10(math.Abs(x)))) - 3
	if math.Abs(round(x, decade)) >= math.Pow10(decade+4) {
		decade++ // 9999.6 rounds up into the next decade
	}
	return decade
}

// choose picks the prefix: the largest that leaves at least 1 before the
// decimal mark (0.1 for the unit itself), but never one that would need zeros
// in place of digits that were not read.
func choose(scale []step, x float64, decade int, free bool) step {
	best := 0
	for i, st := range scale {
		least := math.Pow10(st.exp)
		if st.exp == 0 {
			least = 0.1
		}
		switch {
		case math.Abs(x) >= least*(1-1e-12):
			best = i
		case x == 0 && st.exp <= max(decade, 0) && st.exp-decade <= 4:
			best = i
		case !free && scale[best].exp < decade && st.exp < decade+3:
			best = i
		}
	}
	return scale[best]
}

// round gives x to the nearest multiple of 10^decade.
func round(x float64, decade int) float64 {
	if decade >= 0 {
		w := math.Pow10(decade)
		return math.Round(x/w) * w
	}
	w := math.Pow10(-decade)
	return math.Round(x*w) / w
}
