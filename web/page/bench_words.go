package page

import (
	"slices"
	"strings"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
)

// measureWords names what the meter is set to.
var measureWords = map[profile.Measure]string{
	profile.MeasureResistance:  "resistance",
	profile.MeasureDiode:       "diode",
	profile.MeasureDCVolts:     "DC volts",
	profile.MeasureACVolts:     "AC volts",
	profile.MeasureCapacitance: "capacitance",
	profile.MeasureESR:         "ESR",
}

// measures lists them in the order of a form.
func measures() []profile.Measure {
	return []profile.Measure{profile.MeasureResistance, profile.MeasureDiode, profile.MeasureDCVolts,
		profile.MeasureACVolts, profile.MeasureCapacitance, profile.MeasureESR}
}

func wordsOf(m profile.Measure) string {
	if w, ok := measureWords[m]; ok {
		return w
	}
	return string(m)
}

// placeName says where a check is taken: "R3", "TP3", "bu to p", "R3 lifted".
func placeName(c profile.Check) string {
	name := c.Across
	if name == "" {
		name = c.Red
		if c.Black != "" {
			name += " to " + c.Black
		}
	}
	if c.Lifted {
		name += " lifted"
	}
	if c.Swapped {
		name += " swapped"
	}
	return name
}

// checkName names a check in a list: "R3, resistance, cold".
func checkName(c profile.Check) string {
	return placeName(c) + ", " + wordsOf(c.Measure) + ", " + c.State
}

// Probe is where one probe goes.
type Probe struct {
	On    string // "R3, the leg at sense"
	Where string // "beside U2"; "" when nothing is known
}

// probesOf says where red and black go for a check.
func probesOf(p *profile.Profile, c profile.Check) (red, black Probe) {
	if c.Across != "" {
		if part, ok := p.Part(c.Across); ok && len(part.Pins) == 2 {
			a, b := 0, 1
			if c.Swapped {
				a, b = 1, 0
			}
			return legOf(part, a), legOf(part, b)
		}
	}
	red, black = probeAt(p, c.Red, c.RedNode), probeAt(p, c.Black, c.BlackNode)
	if c.Swapped {
		red, black = probeAt(p, c.Black, c.RedNode), probeAt(p, c.Red, c.BlackNode)
	}
	return red, black
}

// legOf names one pin of a two-pin part.
func legOf(part *profile.Part, pin int) Probe {
	name := part.Pins[pin].Name
	if name == "a" || name == "b" {
		return Probe{On: part.Ref + ", the leg at " + part.Pins[pin].Node, Where: part.Where}
	}
	return Probe{On: part.Ref + " " + name + ", at " + part.Pins[pin].Node, Where: part.Where}
}

// probeAt names a place as the check writes it, or the node itself when it
// leaves the place out.
func probeAt(p *profile.Profile, place, node string) Probe {
	if pt, ok := p.Point(place); ok {
		return Probe{On: pt.Name, Where: pt.Where}
	}
	if place == "" {
		place = node
	}
	return Probe{On: place, Where: partsAt(p, node)}
}

// partsAt lists some parts that have a leg on a node, so that it can be found.
func partsAt(p *profile.Profile, node string) string {
	var refs []string
	for i := range p.Parts {
		part := &p.Parts[i]
		if part.Kind == profile.LoadPart || part.Kind == profile.InputPin {
			continue
		}
		if slices.ContainsFunc(part.Pins, func(pin profile.Pin) bool { return pin.Node == node }) {
			refs = append(refs, part.Ref)
		}
		if len(refs) == 3 {
			break
		}
	}
	if len(refs) == 0 {
		return ""
	}
	return "a leg of " + strings.Join(refs, " or ")
}

// keysPressed says what was marked with a reading: "swapped", "lifted", ….
func keysPressed(r evidence.Reading) []string {
	var out []string
	for _, k := range []struct {
		is   bool
		word string
	}{
		{r.Swapped, "swapped"}, {r.Lifted, "lifted"},
		{r.Moving == "up", "creeping up"}, {r.Moving == "down", "creeping down"},
		{r.Subject == evidence.SubjectOld, "removed part"}, {r.Subject == evidence.SubjectNew, "new part"},
		{r.Condition == evidence.ConditionNotOnMetal, "not on metal"},
	} {
		if k.is {
			out = append(out, k.word)
		}
	}
	return out
}
