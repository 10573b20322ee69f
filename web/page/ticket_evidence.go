package page

import (
	"strings"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// ReadingLine is one reading as it was stored.
type ReadingLine struct {
	When    string
	Measure string // "resistance, cold"
	Place   string // "R17", or "TP1 to TP3": red first
	Figure  Figure // what was read; empty when Word stands instead
	Word    string // "OL", "agrees with 8.1 kΩ to 8.3 kΩ"
	Notes   string // "one leg lifted, probes swapped"
	By      string
	Struck  bool
	Reason  string // why it was struck out
}

// readingLines lists the readings in the order taken, struck ones too.
func readingLines(list []evidence.Reading, l Locale, names map[uuid.UUID]string) []ReadingLine {
	out, numbers := make([]ReadingLine, len(list)), make([]string, len(list))
	for i, r := range list {
		line := ReadingLine{
			When: l.Moment(r.TakenAt), Measure: MeasureWords(r.Measure) + ", " + r.State, Place: readingPlace(r),
			Notes: strings.Join(readingNotes(r, l), ", "), By: names[r.PersonID],
		}
		line.Figure, line.Word = readingFigure(r)
		switch {
		case r.NotPossible:
			line.Word = "cannot be made on this board"
		case r.Agrees:
			line.Word = "agrees with " + bandWords(r, l)
		}
		if r.Struck != nil {
			line.Struck, line.Reason = true, r.Struck.Reason
		}
		out[i], numbers[i] = line, line.Figure.Text
	}
	for i, f := range l.Figures(numbers...) {
		f.Unit = out[i].Figure.Unit
		out[i].Figure = f
	}
	return out
}

// MeasureWords says what the meter is set to.
func MeasureWords(measure string) string {
	switch measure {
	case "dc_volts":
		return "DC volts"
	case "ac_volts":
		return "AC volts"
	case "esr":
		return "ESR"
	}
	return strings.ReplaceAll(measure, "_", " ")
}

// readingPlace says where the probes were, red first, as the bench names it.
func readingPlace(r evidence.Reading) string {
	if place := placeName(profile.Check{Across: r.Across, Red: r.Red, Black: r.Black}); place != "" {
		return place
	}
	return r.CheckKey
}

// readingNotes says under which conditions the reading was taken.
func readingNotes(r evidence.Reading, l Locale) []string {
	var notes []string
	say := func(when bool, text string) {
		if when {
			notes = append(notes, text)
		}
	}
	say(r.Stage == evidence.StageAfter, "after a part was fitted")
	say(r.Subject == evidence.SubjectOld, "the removed part")
	say(r.Subject == evidence.SubjectNew, "the new part")
	say(r.Lifted, "one leg lifted")
	say(r.Swapped, "probes swapped")
	say(r.Moving == "up", "still creeping up")
	say(r.Moving == "down", "still creeping down")
	say(r.Condition == evidence.ConditionNotOnMetal, "not on metal")
	if r.Residue != nil {
		notes = append(notes, l.Decimal(quantity.Format(*r.Residue, 0, quantity.Volt))+" before")
	}
	return notes
}

// bandWords says what a reading agreed with.
func bandWords(r evidence.Reading, l Locale) string {
	unit := unitOf(r.Measure)
	end := func(x *float64) string {
		if x == nil {
			return "OL"
		}
		return l.Decimal(quantity.Format(*x, 0, unit))
	}
	low, high := end(r.BandLow), end(r.BandHigh)
	if low == high {
		return low
	}
	return low + " to " + high
}

// unitOf gives the unit in which a measure is read.
func unitOf(measure string) quantity.Unit {
	switch measure {
	case "resistance", "esr":
		return quantity.Ohm
	case "capacitance":
		return quantity.Farad
	}
	return quantity.Volt
}

// workLines lists what was found, fitted and seen.
func workLines(st *shop.Story, l Locale, names map[uuid.UUID]string) (found, fitted, seen []WorkLine) {
	for _, f := range st.Findings {
		text := join(": ", modeWords(profile.Mode(f.Mode)), f.Words)
		found = append(found, WorkLine{Part: f.Part, Text: text, By: byWhom(names[f.ConfirmedBy], l.Moment(f.TakenAt)),
			Struck: f.WithdrawnAt != nil, Reason: f.WithdrawnReason})
	}
	for _, f := range st.Fitted {
		fitted = append(fitted, WorkLine{Part: f.Part, Text: join("; ", f.What, f.Note), By: byWhom(names[f.PersonID], l.Moment(f.TakenAt))})
	}
	for _, f := range st.Seen {
		seen = append(seen, WorkLine{Part: f.Part, Text: join("; ", f.What, f.Note), By: byWhom(names[f.PersonID], l.Moment(f.TakenAt))})
	}
	return found, fitted, seen
}

// namesOf gives the people of a ticket's journal by their keys.
func namesOf(st *shop.Story) map[uuid.UUID]string {
	names := map[uuid.UUID]string{}
	for _, e := range st.Entries {
		names[e.PersonID] = e.PersonName
	}
	return names
}

// byWhom says who and when; the name may be missing.
func byWhom(name, moment string) string { return join(", ", name, moment) }

// join puts texts that are not empty together.
func join(between string, parts ...string) string {
	var some []string
	for _, p := range parts {
		if p != "" {
			some = append(some, p)
		}
	}
	return strings.Join(some, between)
}
