package analysis

import (
	"fmt"
	"math"
	"testing"

	"ohmstead/internal/profile"
)

// ask weighs readings given with any columns.
func (m *Model) ask(t testing.TB, columns string, rows ...string) *Result {
	t.Helper()
	r, err := m.Weigh(Case{Readings: m.readings(t, columns, rows...)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A reading that still creeps up is a lower bound: it cannot clear a part that
// would read more, and it condemns one that would read less.
func TestMovingIsABound(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	still := m.ask(t, "check,reading,moving", "r1,40.0k,", "r1,40.0k,")
	creeps := m.ask(t, "check,reading,moving", "r1,40.0k,up", "r1,40.0k,up")
	if still.chance("R1") < 0.9 {
		t.Errorf("a settled 40 k of 100 k: %+v", still.Suspects)
	}
	if creeps.chance("R1") > still.chance("R1")/2 {
		t.Errorf("still creeping at 40 k of 100 k: %+v", creeps.Suspects)
	}
	over := m.ask(t, "check,reading,moving", "r1,160k,up", "r1,160k,up")
	if over.chance("R1") < 0.9 {
		t.Errorf("creeping up past 160 k of 100 k: %+v", over.Suspects)
	}
	down := m.ask(t, "check,reading,moving", "r1,40.0k,down")
	if math.Abs(down.chance("R1")-m.ask(t, "check,reading").chance("R1")) > 1e-9 {
		t.Error("a reading that creeps down counts")
	}
}

// Digits: over-range, a reading below the display's resolution and a number are
// comparable probabilities.
func TestShapes(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	for reading, mode := range map[string]profile.Mode{"OL": profile.ModeOpen, "0.0": profile.ModeShort, "0.3": profile.ModeShort, "31.0k": profile.ModeHigh, "2.20k": profile.ModeLow} {
		r := m.ask(t, "check,reading", "r5,"+reading, "r5,"+reading)
		if f := r.Suspects[0].Faults; len(f) != 1 || f[0] != (Fault{"R5", mode}) || r.Suspects[0].Probability < 0.6 {
			t.Errorf("%s: %+v", reading, r.Suspects[0])
		}
	}
}

// shows gives a reading of a check as a board with a defect shows it.
func (m *Model) shows(t testing.TB, id string, d profile.Defect) string {
	t.Helper()
	c, _ := m.profile.Check(id)
	s := m.shownWith(*c, nil, d)
	if s == nil {
		t.Fatalf("%s has no solution with %+v", id, d)
	}
	if s.OverRange {
		return id + ",OL"
	}
	return fmt.Sprintf("%s,%v", id, s.Value)
}

// Open covers joints and track: a good lifted reading does not clear it, a bad
// one does not stop at the joint.
func TestLiftedAndJoints(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	open := profile.Defect{Part: "R3", Mode: profile.ModeOpen, Size: math.Inf(1)}
	r := m.ask(t, "check,reading", m.shows(t, "live-bus", open), m.shows(t, "live-sense", open), m.shows(t, "r3", open), "r3-lifted,10.00k")
	if r.chance("R3") < 0.9 {
		t.Errorf("a joint of R3: %+v", r.Suspects)
	}
	if r = m.ask(t, "check,reading", "r3,15.0k", "r3-lifted,10.00k", "r3-lifted,10.00k"); r.chance("R3") > 0.5 {
		t.Errorf("R3 itself is good: %+v", r.Suspects)
	}
}

// Readings of one board share its parts: with the bus read low, a low node is
// right, although by itself it would be far out.
func TestReadingsShareTheBus(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	together := m.ask(t, "check,reading", "live-bus,55.0", "live-sense,2.617")
	if together.chance("R3", "") > 0 || together.Suspects[0].Faults == nil {
		t.Fatal("no suspects")
	}
	low := m.ask(t, "check,reading", "live-bus,65.0", "live-sense,2.617", "live-sense,2.617")
	healthy := func(r *Result) (p float64) {
		for _, s := range r.Suspects {
			if len(s.Faults) == 0 {
				p = s.Probability
			}
		}
		return p
	}
	if healthy(together) < 0.04 || healthy(low) > healthy(together)/5 {
		t.Errorf("healthy %.4f at the bus that fits, %.4f at one that does not", healthy(together), healthy(low))
	}
}

// Charge left between the points and the reading belong together: over-range with
// the volts of the meter's own test is what any part reads.
func TestResidue(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	bare := m.ask(t, "check,reading,residue", "r1,OL,", "r1,OL,")
	charged := m.ask(t, "check,reading,residue", "r1,OL,0.8", "r1,OL,0.8")
	if bare.chance("R1") < 0.9 || charged.chance("R1") > 0.5 {
		t.Errorf("R1 %.3f without, %.3f with charge", bare.chance("R1"), charged.chance("R1"))
	}
	// A charge too small to count leaves the reading what it is.
	if r := m.ask(t, "check,reading,residue", "r1,OL,0.02", "r1,OL,0.02"); r.chance("R1") < 0.9 {
		t.Errorf("%+v", r.Suspects)
	}
}

// Digits typed coarser than the display widen what they can mean.
func TestCoarseDigits(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	d := m.dictionary()
	fine := d.collect(m.readings(t, "check,reading", "r1,103.0k"))[0]
	coarse := d.collect(m.readings(t, "check,reading", "r1,0.1M"))[0]
	if fine.coarse != 0 || math.Abs(coarse.coarse-0.5) > 1e-3 {
		t.Errorf("coarse by %g and %g of the logarithm", fine.coarse, coarse.coarse)
	}
}

// Nothing beside a resistance raises the reading across it above its own value
// (Rayleigh): such a reading is its own, however the junctions around it stand.
func TestCeiling(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	if r := m.ask(t, "check,reading", "r3,10.60k", "r3,10.60k"); r.chance("R3") < 0.8 {
		t.Errorf("10.6 k across 10 k of 1 %%: %+v", r.Suspects)
	}
	if r := m.ask(t, "check,reading", "r3,10.10k", "r3,10.10k"); r.chance("R3") > 0.5 {
		t.Errorf("10.1 k across 10 k of 1 %%: %+v", r.Suspects)
	}
}
