package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/profile"
)

// One part seen by one check: an odd reading is made again before anything else is
// read, once, and then believed; a check that others confirm is not.
func TestReadAgainFirst(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	r := m.weighed(t, "", "r5,OL")
	if c := r.Conclusion; c.Status != Undecided || c.Again == nil || c.Again.ID != "r5" {
		t.Errorf("over-range across 4.7 k, read once: %s, again %v, %s", c.Status, c.Again, c.Why)
	}
	if r = m.weighed(t, "", "r5,OL", "r5,OL"); r.Conclusion.Status != Found || r.chance("R5") < 0.98 {
		t.Errorf("read twice: %+v", r.Conclusion)
	}
	if r = m.weighed(t, "", "r5,OL", "r5,4.70k"); r.chance("R5") > 0.2 {
		t.Errorf("the second reading is good: %+v", r.Suspects)
	}
	if r = m.weighed(t, "", "r1,100.0k"); r.Conclusion.Again != nil {
		t.Errorf("a good reading is asked for again: %s", r.Conclusion.Why)
	}
}

// What was found on one reading alone is found, but that reading is made again
// before anything is replaced; once it was, nothing is asked any more.
func TestFoundOnOneReading(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	if c := m.weighed(t, "", "r5,9.40k").Conclusion; c.Status != Found || c.Again == nil || c.Again.ID != "r5" {
		t.Errorf("9.4 k across 4.7 k, read once: %s, again %v, %s", c.Status, c.Again, c.Why)
	}
	if c := m.weighed(t, "", "r5,9.40k", "r5,9.41k").Conclusion; c.Status != Found || c.Again != nil {
		t.Errorf("read twice: %s, again %v, %s", c.Status, c.Again, c.Why)
	}
}

// What a test with a given truth table tells, against the definition of mutual
// information: a reading that is a slip under one of two equally likely causes, and
// none under the other, tells all (1 bit); one that is as likely a slip under both,
// nothing.
func TestTellsSlip(t *testing.T) {
	t.Parallel()
	p := []float64{0.5, 0.5}
	for _, c := range []struct{ one, other, bits float64 }{{1, 0, 1}, {0.3, 0.3, 0}, {0, 0, 0}, {1, 1, 0}, {0.5, 0, 0.311278}} {
		if got := tellsSlip(p, [][]float64{{c.one}, {c.other}}, 0); math.Abs(got-c.bits) > 1e-6 {
			t.Errorf("slips with %g and %g: %g bits, want %g", c.one, c.other, got, c.bits)
		}
	}
}

// A reading that was a slip is forgiven once the same check, made again, fits, by
// however much it was off.
func TestSlipMadeAgain(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	for _, slip := range []string{"r5,4.70M", "r5,OL", "r5,47.0"} {
		if r := m.weighed(t, "", slip, "r5,4.71k"); r.Conclusion.Status != Undecided || r.chance("R5") > 0.2 {
			t.Errorf("%s, made again: %s, R5 %.3f: %s", slip, r.Conclusion.Status, r.chance("R5"), r.Conclusion.Why)
		}
	}
}

// An answer does not hang on what was asked before: what one weighing worked out
// saves time, and nothing else. Here an earlier one looked beside an open link,
// where a later one has no reason to.
func TestAnswersDoNotHangOnEarlierOnes(t *testing.T) {
	t.Parallel()
	foreseen := func(m *Model) forecast {
		w := m.weighCase(&Case{Readings: m.readings(t, "check,reading", "r3,50.0k")})
		var places []place
		for id, c := range w.d.causes {
			if c.Mode == profile.ModeOpen && !c.joint && math.IsInf(c.Size, 1) && (c.Part == "L1" || c.Part == "R1") {
				places = append(places, place{cause: id, part: 1})
			}
		}
		check, _ := m.profile.Check("l1")
		return w.foresee(w.d.ensure([]profile.Check{*check})[0], places)
	}
	fresh, m := foreseen(small(t, bypassed)), small(t, bypassed)
	m.weighed(t, "", "l1,110.0k", "l1,110.0k", "r2,10.00k")
	if later := foreseen(m); later.y != fresh.y || later.over != fresh.over {
		t.Errorf("both open read %g (over %g) on the scale, later %g (over %g)", fresh.y, fresh.over, later.y, later.over)
	}
}
