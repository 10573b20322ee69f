package marking

import (
	"slices"
	"strconv"
	"strings"
)

// colour is one line of the colour code of IEC 60062:2016. Digits and the common
// tolerances agree with a published copy; pink, the tolerances of orange, yellow
// and grey, and the temperature coefficients are from memory.
type colour struct {
	names     []string // the first is the one that is written
	short     string   // IEC 60757
	digit     int      // −1: none
	exp       int      // of the multiplier
	tolerance float64  // 0: none
	drift     float64  // ppm/K; 0: none
}

var colours = []colour{
	{[]string{"pink"}, "pk", -1, -3, 0, 0},
	{[]string{"silver"}, "sr", -1, -2, 0.10, 0},
	{[]string{"gold"}, "gd", -1, -1, 0.05, 0},
	{[]string{"black"}, "bk", 0, 0, 0, 250},
	{[]string{"brown"}, "bn", 1, 1, 0.01, 100},
	{[]string{"red"}, "rd", 2, 2, 0.02, 50},
	{[]string{"orange"}, "og", 3, 3, 0.0005, 15},
	{[]string{"yellow"}, "ye", 4, 4, 0.0002, 25},
	{[]string{"green"}, "gn", 5, 5, 0.005, 20},
	{[]string{"blue"}, "bu", 6, 6, 0.0025, 10},
	{[]string{"violet", "purple"}, "vt", 7, 7, 0.001, 5},
	{[]string{"grey", "gray"}, "gy", 8, 8, 0.0001, 1},
	{[]string{"white"}, "wh", 9, 9, 0, 0},
}

func (c *colour) name() string { return c.names[0] }

// coloursOf gives the colours that a word can mean: a name, its beginning, or
// the letters of IEC 60757.
func coloursOf(word string) []*colour {
	var list []*colour
	for i := range colours {
		c := &colours[i]
		if c.short == word {
			return []*colour{c}
		}
		if slices.ContainsFunc(c.names, func(n string) bool { return strings.HasPrefix(n, word) }) {
			list = append(list, c)
		}
	}
	return list
}

// mostReadings is how many readings of letters that stand for several colours
// are worth listing.
const mostReadings = 12

// readBands reads colours, from both ends where both give a resistor.
func readBands(s string) ([]Reading, string) {
	words := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" \t\u00a0,-/", r) })
	if len(words) == 1 {
		if words[0] == "black" || words[0] == "bk" {
			return []Reading{{Part: Link, How: "a single black band: a link of 0 Ω"}}, ""
		}
		return nil, "neither a code with a digit nor three to six colours"
	}
	if len(words) < 3 || len(words) > 6 {
		return nil, strconv.Itoa(len(words)) + " bands; a resistor has three to six, a link a single black one"
	}
	choices := [][]*colour{nil}
	for _, w := range words {
		found := coloursOf(w)
		if len(found) == 0 {
			return nil, "“" + w + "” is no colour of the code"
		}
		var more [][]*colour
		for _, before := range choices {
			for _, c := range found {
				more = append(more, append(slices.Clone(before), c))
			}
		}
		choices = more
	}
	return choose(choices)
}

// choose reads every choice of colours. Where letters leave a choice, only
// preferred values count.
func choose(choices [][]*colour) ([]Reading, string) {
	var list, turned []Reading
	problem := ""
	for _, bands := range choices {
		r, why := resistorOf(bands)
		switch {
		case why != "":
			problem = why
		case !r.made():
			problem = "no resistor of such a value is made"
		case len(choices) == 1 || r.Preferred():
			if len(choices) > 1 {
				r.How = namesOf(bands) + ": " + r.How
			}
			list = add(list, r)
		}
		back := slices.Clone(bands)
		slices.Reverse(back)
		if r, why := resistorOf(back); why == "" && r.Preferred() {
			r.Turned, r.How = true, "from the other end, "+namesOf(back)+": "+r.How
			turned = add(turned, r)
		}
	}
	list = add(list, turned...)
	switch {
	case len(list) == 0 && problem == "":
		return nil, "no preferred value has such bands"
	case len(list) == 0:
		return nil, problem
	case len(list) > mostReadings:
		return nil, "these letters mean " + strconv.Itoa(len(list)) + " different resistors; write out black, brown, blue (bk, bn, bu) and green, grey, gold (gn, gy, gd)"
	}
	return list, ""
}

func namesOf(bands []*colour) string {
	var names []string
	for _, c := range bands {
		names = append(names, c.name())
	}
	return strings.Join(names, " ")
}

// resistorOf reads three to six bands in order: two digits, of five and six
// bands three; the multiplier; the tolerance, of three bands ±20 %; of six the
// temperature coefficient.
func resistorOf(bands []*colour) (Reading, string) {
	n := 2
	if len(bands) > 4 {
		n = 3
	}
	digits := ""
	for i, c := range bands[:n] {
		if c.digit < 0 {
			return Reading{}, c.name() + " is no digit; turn the part round"
		}
		if i == 0 && c.digit == 0 {
			return Reading{}, "the first band is never black"
		}
		digits += strconv.Itoa(c.digit)
	}
	exp := bands[n].exp
	r := Reading{Part: Resistor, Value: times(digits, exp), Tolerance: within(0.20), How: digits + " × " + power(exp) + " Ω"}
	if len(bands) > n+1 {
		c := bands[n+1]
		if c.tolerance == 0 {
			return Reading{}, c.name() + " is no tolerance"
		}
		r.Tolerance = within(c.tolerance)
		if c.name() == "grey" {
			r.Caution = "Grey was ±0.05 % in older editions of the code, and is ±0.01 % since 2016."
		}
	}
	if len(bands) == 6 {
		if r.Drift = bands[5].drift; r.Drift == 0 {
			return Reading{}, bands[5].name() + " is no temperature coefficient"
		}
	}
	return r, ""
}
