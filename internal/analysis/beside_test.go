package analysis

import (
	"math"
	"sync"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/profiles"
)

// bypassed is a board on which one fault hides another: a link beside a resistor.
const bypassed = `format: ohmstead/board-profile/1
id: divider
title: Bypassed
ground: gnd
parts:
  L1: {kind: link, pins: [in, mid]}
  R1: {kind: resistor, pins: [in, mid], value: 10k, tolerance: 1 %}
  R2: {kind: resistor, pins: [mid, gnd], value: 10k, tolerance: 1 %}
  R3: {kind: resistor, pins: [in, gnd], value: 100k, tolerance: 1 %}
checks:
  - {id: l1, state: cold, measure: resistance, across: L1}
  - {id: r2, state: cold, measure: resistance, across: R2}
  - {id: r3, state: cold, measure: resistance, across: R3}
`

// sedgeF is a shipped profile with shunts and fuses, for the tests that look at its
// whole dictionary.
var sedgeF = sync.OnceValue(func() *Model {
	p, err := profile.NewLibrary(profiles.Files, "profiles").Load("sedge-f")
	if err != nil {
		panic(err)
	}
	return NewModel(p, meter.Default())
})

// With the link open its place reads R1 beside R2 and R3 (10 k ‖ 110 k = 9.17 k);
// 110 k says that R1, which no reading shows by itself, is open as well.
func TestHiddenFault(t *testing.T) {
	t.Parallel()
	m := small(t, bypassed)
	if r := m.weighed(t, "", "l1,9.17k", "r2,9.16k"); r.chance("L1") < 0.9 {
		t.Errorf("the link alone: %+v", r.Suspects)
	}
	if r := m.weighed(t, "", "l1,110.0k", "l1,110.0k", "r2,10.00k"); r.chance("L1", "R1") < 0.9 {
		t.Errorf("link and resistor: %+v", r.Suspects)
	}
}

// What is kept of two faults is what a board built with both shows.
func TestBesideAgainstBoards(t *testing.T) {
	t.Parallel()
	m := sedgeF()
	d := m.dictionary()
	e := d.ensure(m.profile.Checks)[20]
	for i := range m.profile.Checks {
		if m.profile.Checks[i].ID == "r37" {
			e = d.ensure(m.profile.Checks)[i]
		}
	}
	open := -1
	for id, c := range d.causes {
		if c.Part == "RSV" && c.Mode == profile.ModeOpen {
			open = id
			break
		}
	}
	w := &weighing{view: view{d: d, worked: newWorked()}}
	w.lookAt(e, open)
	compared := 0
	for other := range w.worked.beside(e, open) {
		if other%7 != 0 {
			continue
		}
		places := []place{{cause: open, part: 1}, {cause: int(other), part: 1}}
		got, ok := w.together(e, places)
		b, err := m.newBench(e.check, nil, d.causes[open].Defect, d.causes[other].Defect)
		if err != nil || !ok {
			t.Fatalf("%v beside RSV open: %v, kept %v", d.causes[other].Defect, err, ok)
		}
		r, err := b.read()
		if err != nil || r.Over != (got.over > 0.5) {
			t.Errorf("%v beside RSV open reads %+v (%v), kept %+v", d.causes[other].Defect, r, err, got)
			continue
		}
		if y, _ := onScale(e.check.Measure, r.Value); !r.Over && math.Abs(y-got.y) > 0.05*got.half+1e-6 {
			t.Errorf("%v beside RSV open reads %g, kept %g", d.causes[other].Defect, y, got.y)
		}
		compared++
	}
	if compared < 20 {
		t.Errorf("only %d pairs compared", compared)
	}
}
