package profile

import (
	"fmt"
	"slices"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// measures are the settings of the meter. Cold ones need an unpowered board:
// an ohmmeter on a live one is a wrong reading at best.
var measures = map[Measure]struct {
	unit quantity.Unit
	cold bool
}{
	MeasureResistance:  {quantity.Ohm, true},
	MeasureDiode:       {quantity.Volt, true},
	MeasureDCVolts:     {quantity.Volt, false},
	MeasureACVolts:     {quantity.Volt, false},
	MeasureCapacitance: {quantity.Farad, true},
	MeasureESR:         {quantity.Ohm, true},
}

// Unit gives the unit of what the meter shows.
func (m Measure) Unit() quantity.Unit { return measures[m].unit }

// Minutes of a check without set-up, when the file does not say.
const (
	checkMinutes  = 1
	liftedMinutes = 6
)

// CheckError says which field of a check is wrong.
type CheckError struct {
	Field    string // state, measure, across, red, black, lifted
	Text     string // what stands there
	Problem  string
	Expected string

	absent bool // it names something that is not there
}

// Error gives field, text, problem and what was expected.
func (e *CheckError) Error() string {
	s := fmt.Sprintf("%s %q: %s", e.Field, e.Text, e.Problem)
	if e.Expected != "" {
		s += "; expected " + e.Expected
	}
	return s
}

// Resolve completes a check as it was written (State, Measure, Across or Red and
// Black, Lifted, Swapped): the nodes of both probes, Minutes where it is 0, and,
// where ID is empty, the id of the profile's check that is the same measurement,
// if there is one. Errors are *CheckError.
func (p *Profile) Resolve(c Check) (Check, error) {
	c, err := p.resolve(c)
	if err != nil {
		return c, err
	}
	if c.ID == "" {
		key := c.Key()
		same := func(k Check) bool { return k.Key() == key }
		i := slices.IndexFunc(p.Checks, func(k Check) bool { return same(k) && k.Across == c.Across })
		if i < 0 { // the same nodes, named otherwise
			i = slices.IndexFunc(p.Checks, same)
		}
		if i >= 0 {
			c.ID = p.Checks[i].ID
		}
	}
	return c, nil
}

// resolve is Resolve without looking for the profile's own check.
func (p *Profile) resolve(c Check) (Check, *CheckError) {
	if _, ok := p.State(c.State); !ok {
		return c, &CheckError{Field: "state", Text: c.State, Problem: "no such state", Expected: "a state of the profile", absent: true}
	}
	m, ok := measures[c.Measure]
	if !ok {
		return c, &CheckError{Field: "measure", Text: string(c.Measure), Problem: "not a measure",
			Expected: "resistance, diode, dc_volts, ac_volts, capacitance or esr"}
	}
	if m.cold && c.State != Cold {
		return c, &CheckError{Field: "measure", Text: string(c.Measure), Problem: "this is measured on the unpowered board only", Expected: "state cold"}
	}
	if c.Lifted && (c.Across == "" || !m.cold) {
		return c, &CheckError{Field: "lifted", Text: "true", Problem: "lifted is for a cold check across a part", Expected: "across and a cold measure"}
	}
	if c.Minutes == 0 {
		c.Minutes = checkMinutes
		if c.Lifted {
			c.Minutes = liftedMinutes
		}
	}
	err := p.probes(&c)
	if err == nil && c.Swapped {
		c.RedNode, c.BlackNode = c.BlackNode, c.RedNode
	}
	return c, err
}

// probes finds the nodes of a check's probes, not swapped.
func (p *Profile) probes(c *Check) *CheckError {
	switch {
	case c.Across != "" && c.Red+c.Black != "":
		return &CheckError{Field: "across", Text: c.Across, Problem: "a check is either across a part or between places", Expected: "across, or red and black"}
	case c.Across != "":
		return p.across(c)
	case c.Red == "":
		return &CheckError{Field: "red", Problem: "the check says not where", Expected: "across, or red"}
	}
	var ok bool
	if c.RedNode, ok = p.Node(c.Red); !ok {
		return &CheckError{Field: "red", Text: c.Red, Problem: "no point and no node of this name", Expected: "a point or a node", absent: true}
	}
	if c.Black == "" {
		c.BlackNode = p.zero(c.Red, c.State)
	} else if c.BlackNode, ok = p.Node(c.Black); !ok {
		return &CheckError{Field: "black", Text: c.Black, Problem: "no point and no node of this name", Expected: "a point or a node", absent: true}
	}
	switch {
	case c.BlackNode == "":
		return &CheckError{Field: "black", Problem: "the black probe has no place and the profile no ground", Expected: "a place"}
	case c.RedNode == c.BlackNode:
		return &CheckError{Field: "red", Text: c.Red, Problem: "both probes are on the same node", Expected: "two different nodes"}
	}
	return nil
}

// across puts the probes on a part: red on the first pin in the table of kinds.
// In a profile without parts the part is only a name: its ends are its own.
func (p *Profile) across(c *Check) *CheckError {
	if len(p.Parts) == 0 {
		c.RedNode, c.BlackNode = c.Across+":a", c.Across+":b"
		return nil
	}
	part, ok := p.Part(c.Across)
	if !ok {
		return &CheckError{Field: "across", Text: c.Across, Problem: "no such part", Expected: "a part with two pins", absent: true}
	}
	if len(part.Pins) == 0 {
		return nil // it is wrong, and was reported
	}
	if !part.Kind.TwoPin() {
		return &CheckError{Field: "across", Text: c.Across, Problem: fmt.Sprintf("a part of kind %s has more than two pins", part.Kind), Expected: "a part with two pins"}
	}
	c.RedNode, c.BlackNode = part.Pins[0].Node, part.Pins[1].Node
	if c.RedNode == c.BlackNode && !c.Lifted {
		return &CheckError{Field: "across", Text: c.Across, Problem: "both pins are on the same node", Expected: "a part between two nodes"}
	}
	return nil
}

// checks reads the checks, or makes the default ones.
func (b *builder) checks(n *written.Node) {
	p := b.profile
	if n == nil {
		p.Checks = p.defaultChecks()
	}
	for _, item := range b.List(n, "checks", maxChecks) {
		c, ok := b.check(item)
		if ok {
			p.Checks = append(p.Checks, c)
		}
	}
	for i, c := range p.Checks {
		p.index.checks[c.ID] = i
	}
}

func (b *builder) check(n *written.Node) (Check, bool) {
	before := len(b.errs)
	if !b.IsMap(n, "a check", "id", "state", "measure", "across", "red", "black", "lifted", "swapped", "minutes", "note") {
		return Check{}, false
	}
	c := Check{
		ID: b.Need(n, "id"), State: b.Need(n, "state"), Measure: Measure(b.Need(n, "measure")),
		Across: b.Text(n, "across"), Red: b.Text(n, "red"), Black: b.Text(n, "black"), Note: b.Text(n, "note"),
		Lifted: b.Flag(n, "lifted", false), Swapped: b.Flag(n, "swapped", false),
		Minutes: b.Value(n, defaulted("minutes", quantity.Plain, 0)),
	}
	if len(b.errs) > before {
		return c, false
	}
	c, err := b.profile.resolve(c)
	if err == nil {
		return c, true
	}
	ref := n.Get(err.Field)
	if ref == nil {
		ref = n
	}
	if err.absent || ref.File != b.file { // inherited: what it was about is not there any more
		b.gone(ref, n, err.Problem, err.Expected)
	} else {
		b.errs.Add(ref.Position, err.Text, err.Problem, err.Expected)
	}
	return c, false
}

// defaultChecks is what a profile offers that lists no checks: a cold
// resistance check across every two-pin part but loads, and a DC-volts check at
// every point in every powered state. Parts with both pins on one node are left
// out, and points that are their own zero.
func (p *Profile) defaultChecks() []Check {
	var out []Check
	offer := func(c Check) {
		if c, err := p.resolve(c); err == nil {
			out = append(out, c)
		}
	}
	for _, part := range p.Parts {
		if part.Kind.TwoPin() && part.Kind != LoadPart {
			offer(Check{ID: Cold + ":" + part.Ref, State: Cold, Measure: MeasureResistance, Across: part.Ref})
		}
	}
	for _, s := range p.States[1:] {
		for _, pt := range p.Points {
			offer(Check{ID: s.ID + ":" + pt.Name, State: s.ID, Measure: MeasureDCVolts, Red: pt.Name})
		}
	}
	return out
}

// alike reads the groups of like checks. What is left of an inherited group
// after a check was removed stays a group as long as there are two.
func (b *builder) alike(n *written.Node) {
	for _, group := range b.List(n, "alike", maxChecks) {
		var ids []string
		for _, ref := range b.Texts(group, "a group of alike", maxChecks) {
			if _, ok := b.profile.Check(ref.Text); !ok {
				b.gone(ref, nil, "no check of this id", "the id of a check")
				continue
			}
			ids = append(ids, ref.Text)
		}
		switch {
		case len(ids) >= 2:
			b.profile.Alike = append(b.profile.Alike, ids)
		case group.File != b.file:
			b.dropped[group] = true
		case len(b.errs) == 0:
			b.errs.Add(group.Position, "", "one check is not alike with itself", "two checks or more")
		}
	}
}
