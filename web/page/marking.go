package page

import (
	"errors"
	"math"
	"strings"

	"ohmstead/internal/marking"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/web/ui"
)

// MarkingPage is what a print on a part can mean.
type MarkingPage struct {
	Frame    Frame
	Field    ui.Input
	Readings []MarkingRow
	Unsaid   []string // what the print does not say
}

// MarkingRow is one way to read the print.
type MarkingRow struct {
	Part      string // "Resistor"
	Value     string // "10 kΩ"
	Tolerance string // "±5 %", "not printed, usually ±5 %"
	Range     string // "9.5 kΩ to 10.5 kΩ"; "" when the tolerance is not known
	How       string
	Notes     []string
}

// NewMarking makes the page. typed may be empty; err is what Read said to it.
func NewMarking(f Frame, typed string, found []marking.Reading, err error) MarkingPage {
	f.Title = "What does the print say?"
	p := MarkingPage{Field: ui.Input{Name: "text", Label: "Printed on the part", Value: typed, Max: 80, Required: true, Focus: true,
		Hint: "As printed: 103, 4R7, 4K7J, 473K, 01C. Colours in order, with spaces: brown black red gold, or bn bk rd gd."}}
	var refused *quantity.Error
	switch {
	case errors.As(err, &refused):
		f.Title = "“" + brief(typed) + "” cannot be read."
		p.Field.Problem = capital(refused.Problem) + ". Expected: " + refused.Expected + "."
	case len(found) == 1:
		f.Title = "“" + brief(typed) + "” reads one way."
	case len(found) > 1:
		f.Title = "“" + brief(typed) + "” reads in " + count(len(found), "way") + "."
	}
	p.Frame = f
	for _, r := range found {
		p.Readings = append(p.Readings, markingRow(f.Locale, typed, r))
	}
	if len(found) > 0 {
		p.Unsaid = unsaid(found)
	}
	return p
}

func markingRow(l Locale, typed string, r marking.Reading) MarkingRow {
	row := MarkingRow{Part: capital(string(r.Part)), Value: l.value(r.Value, 0, r.Unit()), How: r.How}
	if r.Part != marking.Link {
		row.Tolerance = toleranceWords(l, r)
	}
	if t := r.Tolerance; t.Known() {
		low, high := r.Value*(1-t.Minus), r.Value*(1+t.Plus)
		if t.Absolute {
			low, high = max(0, r.Value-t.Minus), r.Value+t.Plus
		}
		fine := 0.0 // four digits do, but for the narrowest tolerances
		if high-low < r.Value/100 {
			fine = math.Pow10(int(math.Floor(math.Log10(high-low))) - 1)
		}
		row.Range = l.value(low, fine, r.Unit()) + " to " + l.value(high, fine, r.Unit())
	}
	if r.Drift > 0 {
		row.Notes = append(row.Notes, "Changes by "+l.value(r.Drift, 0, quantity.Plain)+" ppm for each kelvin.")
	}
	if !r.Preferred() {
		row.Notes = append(row.Notes, "No preferred value: look at the print again.")
	}
	if r.Caution != "" {
		row.Notes = append(row.Notes, r.Caution)
	}
	if code := marking.EIA96(r.Value); r.Part == marking.Resistor && code != "" && !strings.EqualFold(code, typed) {
		row.Notes = append(row.Notes, "The same value on a small 1 % part: "+code+".")
	}
	return row
}

// toleranceWords says the tolerance and whether it was printed.
func toleranceWords(l Locale, r marking.Reading) string {
	t := r.Tolerance
	end := func(x float64) string {
		if t.Absolute {
			return l.value(x, 0, quantity.Farad)
		}
		return l.value(x, 0, quantity.Percent)
	}
	switch {
	case !t.Known():
		return "not printed"
	case t.Minus != t.Plus:
		return "−" + end(t.Minus) + " to +" + end(t.Plus)
	case t.Usual:
		return "not printed, usually ±" + end(t.Plus)
	}
	return "±" + end(t.Plus)
}

// unsaid lists what the readings leave open.
func unsaid(found []marking.Reading) []string {
	var out []string
	kinds, turned := map[marking.Part]bool{}, 0
	for _, r := range found {
		kinds[r.Part] = true
		if r.Turned {
			turned++
		}
	}
	if kinds[marking.Resistor] && kinds[marking.Capacitor] {
		out = append(out, "Whether it is a resistor or a capacitor: the letter beside it on the board says so, or measuring it out of the circuit.")
	}
	if turned > 0 && turned < len(found) {
		out = append(out, "At which end the bands begin: the tolerance band stands a little apart, or is wider.")
	}
	if kinds[marking.Resistor] {
		out = append(out, "Whether it is an inductor: the same digits and colours then count microhenries.")
	}
	return append(out, "Working voltage, power and safety class. A part marked for safety is replaced by the same class only.")
}

// printWords says what is printed on a part of a profile, and that it does not
// fit the part's value where it can be read and does not.
func printWords(part profile.Part, l Locale) (words string, conflict bool) {
	if part.Marking == "" {
		return "", false
	}
	words = "printed " + part.Marking
	kind := map[profile.Kind]marking.Part{profile.Resistor: marking.Resistor, profile.Capacitor: marking.Capacitor}[part.Kind]
	if agrees, readable := marking.Agrees(part.Marking, kind, part.Param("value")); agrees || !readable {
		return words, false
	}
	return words + ": that is no " + string(kind) + " of " + l.value(part.Param("value"), 0, partMain[part.Kind].unit) + ". One of the two is wrong.", true
}
