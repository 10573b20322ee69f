package analysis

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"ohmstead/internal/circuit"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// errNoParts is why a profile without parts expects nothing by itself.
var errNoParts = errors.New("the profile has no parts")

// explain puts the reason of a verdict into one plain sentence. also is a clause
// that it ends with, or empty.
func (m *Model) explain(c profile.Check, r *Reading, a *assessment, why reason, settings []setting, also string) string {
	return m.reason(c, r, a, why, settings) + also + "."
}

// reason gives the sentence without its full stop.
func (m *Model) reason(c profile.Check, r *Reading, a *assessment, why reason, settings []setting) string {
	if why == noExpectation {
		return m.whyNone(a.err)
	}
	at := m.atSources(settings, c)
	good := "A good board reads " + a.bandText(c) + " here" + at
	switch why {
	case chargeLeft:
		return fmt.Sprintf("%s still stood between the points: discharge them to below %s and read again",
			quantity.Format(*r.Residue, 0, quantity.Volt), quantity.Format(residueLimit, 0, quantity.Volt))
	case stillMoving:
		return "The reading was still creeping: let it settle, or measure where no capacitor has to charge" + a.settling.creep("; ")
	case tooHigh:
		return m.whyHigh(c, r, a, good)
	case tooLow:
		return m.whyLow(c, r, a, good)
	case atEdge:
		return fmt.Sprintf("Just outside what 99 of 100 good boards read here (%s%s), but a good one can read it: measure again", a.bandText(c), at)
	case blind:
		return m.whyBlind(c, a, good)
	}
	return good + a.otherwise(c, "; ") + m.tooFine(c, "; ")
}

// bandText gives the band as text.
func (a *assessment) bandText(c profile.Check) string {
	low, high := a.text(a.low, c), a.text(a.high, c)
	if low == high {
		return low
	}
	return low + " to " + high
}

// text gives a displayed value as text.
func (a *assessment) text(s Shown, c profile.Check) string {
	if s.OverRange {
		return "OL"
	}
	return quantity.Format(s.Value, a.spread.at(s.Value).Resolution, c.Measure.Unit())
}

// atSources says at which volts of the supplies the band holds, after a comma: as
// they were read, at the place where they were.
func (m *Model) atSources(settings []setting, c profile.Check) string {
	text := ""
	state, _ := m.profile.State(c.State)
	for _, s := range settings {
		for _, src := range state.Sources {
			if src.Name != s.source {
				continue
			}
			volts := nominalVolts(src) * (1 + s.centre*src.Tolerance)
			text += fmt.Sprintf(", with the %s that you read at %s", quantity.Format(volts, threeDigits(volts), quantity.Volt), m.placeOf(src.Plus))
		}
	}
	return text
}

// threeDigits is the resolution that leaves three digits of a value.
func threeDigits(x float64) float64 {
	if x == 0 {
		return 0
	}
	return math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-2)
}

// placeOf names a node by a point on it, where there is one.
func (m *Model) placeOf(node string) string {
	for _, pt := range m.profile.Points {
		if pt.Node == node {
			return pt.Name
		}
	}
	return node
}

func (m *Model) whyNone(err error) string {
	var u *circuit.Unsolved
	switch {
	case errors.Is(err, errNoParts):
		return "The profile lists no parts: what a good board reads here must be learned from good boards"
	case errors.Is(err, errNoESR):
		return "The profile does not say what series resistance this capacitor has when it is good"
	case errors.As(err, &u):
		return "The profile's circuit could not be solved in this state: " + u.Error()
	}
	return "Nothing can be expected here: " + err.Error()
}

// whyHigh explains a reading above the band; good says what a good board reads.
// Between the ends of a part, with everything else passive and empty of charge,
// the true reading never exceeds the part's own value (Rayleigh): above that
// nothing beside it can be to blame.
func (m *Model) whyHigh(c profile.Check, r *Reading, a *assessment, good string) string {
	p, ok := m.profile.Part(c.Across)
	switch {
	case ok && c.Lifted:
		return fmt.Sprintf("%s alone should read %s: it is open or high, or a probe was not on metal", p.Ref, a.bandText(c))
	case ok && c.Measure == profile.MeasureResistance && m.aboveCeiling(p, r):
		return fmt.Sprintf("More than %s itself can read, which nothing beside it can cause: it or a joint is open or high, a probe was not on metal, "+
			"or charge is left in its loop (probe again, read the DC volts between the points, then swap the probes)", p.Ref)
	case ok && c.Measure == profile.MeasureResistance:
		return good + fmt.Sprintf(": %s, or a part beside it, is open or high", p.Ref)
	case r.Value.OverRange:
		return good + ", not OL"
	}
	return "Higher than good: " + lowerFirst(good) + m.supplyOff(c)
}

// lowerFirst lets a sentence go on after a colon.
func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// aboveCeiling tells whether a cold reading lies above what a resistive part
// can read by itself, tolerance and meter included.
func (m *Model) aboveCeiling(p *profile.Part, r *Reading) bool {
	ohms := p.Ohms()
	if ohms == 0 || p.Kind == profile.Thermistor {
		return false
	}
	if r.Value.OverRange {
		return true
	}
	most := m.meter.Resistance.At(ohms * (1 + p.Param("tolerance")))
	return !most.Over && r.Value.Number > most.Value+most.Half+r.Value.Digit/2
}

func (m *Model) whyLow(c profile.Check, r *Reading, a *assessment, good string) string {
	p, ok := m.profile.Part(c.Across)
	switch {
	case ok && c.Lifted:
		return fmt.Sprintf("%s alone should read %s: it is low, leaky or shorted", p.Ref, a.bandText(c))
	case ok && c.Measure == profile.MeasureResistance:
		return good + fmt.Sprintf(", all parallel paths counted: %s, or something beside it, is low, leaky or shorted", p.Ref) + a.tooEarly(r)
	}
	return "Lower than good: " + lowerFirst(good) + m.supplyOff(c)
}

// supplyOff says of a supply beyond its tolerance that it is no part of the board.
func (m *Model) supplyOff(c profile.Check) string {
	if !m.isSupply(c) {
		return ""
	}
	return ". This is the supply itself: look at it before the board; the rest is judged at what you read"
}

// tooEarly warns that a low reading may only have been taken before it settled.
func (a *assessment) tooEarly(r *Reading) string {
	if s := a.settling; s == nil || (Shown{Value: r.Value.Number}).less(s.First) {
		return ""
	}
	return "; or it was read before it stood still" + a.settling.creep(": ")
}

// whyBlind says why a reading inside the band proves nothing, and what would.
func (m *Model) whyBlind(c profile.Check, a *assessment, good string) string {
	if fine := m.tooFine(c, ""); fine != "" {
		return good + ", and with " + c.Across + " bad it can read the same: " + fine
	}
	if m.isSupply(c) {
		return good + ". This is the supply itself: it says at what volts to judge the rest, not which part is bad"
	}
	text := good + ", but a bad one can read the same"
	if a.open != nil {
		text = good + fmt.Sprintf(", but with %s open it would read %s", c.Across, a.text(*a.open, c))
	}
	if h, ok := m.heldBy(c); ok {
		return text + fmt.Sprintf(": %s is held there by %s, so judge what that supply gives", c.Red, h)
	}
	turned := c
	turned.RedNode, turned.BlackNode, turned.Swapped = c.BlackNode, c.RedNode, !c.Swapped
	if c.Measure != profile.MeasureDCVolts && m.assess(turned, nil).canTell {
		return text + ": this way round the check is blind; swap the probes"
	}
	return text + ": this check cannot tell"
}

// tooFine says, after a separator, that a part has fewer ohms than the meter can
// tell from nothing; empty when it has not.
func (m *Model) tooFine(c profile.Check, separator string) string {
	p, ok := m.profile.Part(c.Across)
	if !ok || c.Measure != profile.MeasureResistance || p.Kind != profile.Resistor {
		return ""
	}
	least := m.meter.Resistance.At(0).Resolution
	if p.Ohms() >= least {
		return ""
	}
	return fmt.Sprintf("%sthis meter, in steps of %s, cannot tell %s from %s: judge %s by the volts across it under current", separator,
		quantity.Format(least, 0, quantity.Ohm), quantity.Format(p.Ohms(), 0, quantity.Ohm), quantity.Format(2*p.Ohms(), 0, quantity.Ohm), p.Ref)
}

// isSupply tells whether a check is taken across a source of its state.
func (m *Model) isSupply(c profile.Check) bool {
	state, ok := m.profile.State(c.State)
	if !ok || c.Measure != profile.MeasureDCVolts && c.Measure != profile.MeasureACVolts {
		return false
	}
	return slices.ContainsFunc(state.Sources, func(src profile.Source) bool {
		return nominalVolts(src) != 0 && across(c, src) != 0
	})
}

// heldBy names the supply that holds the red node of a check at its value.
func (m *Model) heldBy(c profile.Check) (string, bool) {
	state, ok := m.profile.State(c.State)
	if !ok || c.Measure != profile.MeasureDCVolts {
		return "", false
	}
	for _, s := range state.Sources {
		if s.Kind == profile.HoldsSource && s.Holds.Node == c.RedNode {
			return s.Name, true
		}
	}
	return "", false
}

// otherwise says what faults would read, after a separator; nothing when there
// is no such fault.
func (a *assessment) otherwise(c profile.Check, separator string) string {
	switch {
	case a.open != nil && a.short != nil:
		return fmt.Sprintf("%swith %s open it would read %s, shorted %s", separator, c.Across, a.text(*a.open, c), a.text(*a.short, c))
	case a.open != nil:
		return fmt.Sprintf("%swith %s open it would read %s", separator, c.Across, a.text(*a.open, c))
	case len(a.telling) > 0:
		t := a.telling[0]
		return fmt.Sprintf("%swith %s %s it would read %s", separator, t.Fault.Part, t.Fault.Mode.Words(), a.text(t.Shown, c))
	}
	return ""
}

// whyUnread says what an unread check is good for.
func (m *Model) whyUnread(c profile.Check, a *assessment) string {
	switch {
	case a.err != nil:
		return m.whyNone(a.err) + "."
	case a.canTell:
		return "Not read yet; a good board reads " + a.bandText(c) + a.otherwise(c, ", ") + "."
	}
	return "Not read yet; it would not tell a good board from a bad one" + a.otherwise(c, ": ") + "."
}
