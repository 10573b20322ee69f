package bench

import (
	"math"
	"slices"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// Measured sets a ticket's readings beside each other as the hand-over slip shows
// them: for each measurement what a good board reads, what it read before the
// repair and what after, in the order first taken. Of several readings before
// it takes the last that was bad, else the last; after, the last of all. Removed and
// new parts that were measured alone make a line of their own. j may be nil:
// then nothing is said of good boards.
func Measured(story *shop.Story, j *Judgement) []shop.Measured {
	var order []string
	byKey := map[string][]evidence.Reading{}
	for _, r := range story.Readings {
		if r.Struck != nil || r.NotPossible || r.Condition == evidence.ConditionNotOnMetal {
			continue
		}
		key := sameMeasurement(r)
		if _, known := byKey[key]; !known {
			order = append(order, key)
		}
		byKey[key] = append(byKey[key], r)
	}
	out := make([]shop.Measured, 0, len(order))
	for _, key := range order {
		out = append(out, measuredOf(byKey[key], j))
	}
	return out
}

// sameMeasurement is what readings of one measurement have in common.
func sameMeasurement(r evidence.Reading) string {
	if r.Subject != "" {
		return strings.Join([]string{"alone", r.Measure, r.Across}, "|")
	}
	key := []string{r.State, r.Measure, r.CheckKey}
	if r.Lifted {
		key = append(key, "lifted")
	}
	if r.Swapped {
		key = append(key, "swapped")
	}
	return strings.Join(key, "|")
}

// measuredOf makes the line of one measurement from its readings.
func measuredOf(list []evidence.Reading, j *Judgement) shop.Measured {
	slices.SortStableFunc(list, func(a, b evidence.Reading) int { return a.TakenAt.Compare(b.TakenAt) })
	before, after := beforeAndAfter(list, j)
	shown := after
	if shown == nil {
		shown = before
	}
	m := shop.Measured{Place: placeOf(*shown), How: howOf(*shown)}
	m.Low, m.High = goodOf(*shown, j)
	if before != nil {
		m.Before = shownOf(*before, j)
	}
	if after != nil {
		m.After = shownOf(*after, j)
	}
	return m
}

// beforeAndAfter chooses the two readings that tell the story; either may be nil.
func beforeAndAfter(list []evidence.Reading, j *Judgement) (before, after *evidence.Reading) {
	last := len(list) - 1
	if isAfter(list[last]) {
		after = &list[last]
		last--
	}
	for i := last; i >= 0; i-- {
		if verdictOf(list[i], j) == analysis.Nonconforming {
			return &list[i], after
		}
	}
	for i := last; i >= 0; i-- {
		if !isAfter(list[i]) {
			return &list[i], after
		}
	}
	return nil, after
}

// isAfter tells whether a reading shows the repaired board: taken after a part
// was fitted, or of the new part.
func isAfter(r evidence.Reading) bool {
	return r.Subject == evidence.SubjectNew || r.Subject == "" && r.Stage == evidence.StageAfter
}

func rowOf(r evidence.Reading, j *Judgement) *analysis.Row {
	if j == nil {
		return nil
	}
	return j.Rows[r.ID]
}

// verdictOf gives the verdict on a reading: a person's, where one stands.
func verdictOf(r evidence.Reading, j *Judgement) analysis.Verdict {
	if j != nil && j.Overruled[r.ID] != nil {
		if j.Overruled[r.ID].Verdict == evidence.RuledBad {
			return analysis.Nonconforming
		}
		return analysis.Conforming
	}
	if row := rowOf(r, j); row != nil {
		return row.Verdict
	}
	return analysis.NotRead
}

// placeOf says where the probes were, red first.
func placeOf(r evidence.Reading) string {
	place := r.Across
	switch {
	case r.Subject != "":
		return r.Across + " alone"
	case place == "" && r.Red != "" && r.Black != "":
		place = r.Red + " to " + r.Black
	case place == "" && r.Red != "":
		place = r.Red
	case place == "":
		place = r.CheckKey
	}
	if r.Lifted {
		place += ", one leg lifted"
	}
	if r.Swapped {
		place += ", probes swapped"
	}
	return place
}

// howOf says what the meter was set to and how the board stood.
func howOf(r evidence.Reading) string {
	how := strings.ReplaceAll(r.Measure, "_", " ")
	for _, short := range []string{"dc", "ac", "esr"} {
		if rest, ok := strings.CutPrefix(how, short); ok {
			how = strings.ToUpper(short) + rest
		}
	}
	if r.Subject != "" {
		return how
	}
	return how + ", " + r.State
}

// goodOf gives what a good board reads where a reading was taken: what the
// engine expects, or the band that the reading agreed with.
func goodOf(r evidence.Reading, j *Judgement) (low, high shop.Shown) {
	unit := profile.Measure(r.Measure).Unit()
	if row := rowOf(r, j); row != nil {
		band := row.ExpectedHere
		if band == nil {
			band = row.Expected
		}
		if band != nil {
			return bound(band.Low, row.Resolution, band.Unit), bound(band.High, row.Resolution, band.Unit)
		}
	}
	if !r.Agrees {
		return low, high
	}
	return bound(r.BandLow, 0, unit), bound(r.BandHigh, 0, unit)
}

// bound writes one end of a band; nil is over-range.
func bound(x *float64, resolution float64, unit quantity.Unit) shop.Shown {
	if x == nil {
		return shop.Shown{Number: "OL"}
	}
	return written(*x, resolution, unit)
}

// written writes a value as a meter shows it.
func written(x, resolution float64, unit quantity.Unit) shop.Shown {
	number, name := quantity.Split(x, resolution, unit)
	return shop.Shown{Number: strings.Replace(number, "−", "-", 1), Unit: name}
}

// verdictWords are the engine's verdicts in the words of the trade.
var verdictWords = map[analysis.Verdict]string{
	analysis.Nonconforming: "bad", analysis.Conforming: "not bad", analysis.Inconclusive: "cannot tell",
}

// shownOf writes a reading with the digits that were typed, and its verdict.
func shownOf(r evidence.Reading, j *Judgement) shop.Shown {
	var s shop.Shown
	switch v := valueOf(r); {
	case r.Agrees:
		s.Number = "agrees"
	case v.OverRange:
		s.Number = "OL"
	case !math.IsNaN(v.Number):
		s = written(v.Number, v.Digit, profile.Measure(r.Measure).Unit())
	}
	s.Verdict = verdictWords[verdictOf(r, j)]
	return s
}
