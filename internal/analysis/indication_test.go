package analysis

import (
	"math"
	"strings"
	"testing"

	"ohmstead/internal/profile"
)

// The board's own indication is a reading: it raises what would show it.
func TestCodeIsEvidence(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	low, high, none, unknown := m.weighed(t, "low"), m.weighed(t, "high"), m.weighed(t, "none"), m.weighed(t, "")
	if !(low.chance("R1") > 2*unknown.chance("R1")) || low.chance("R3") > low.chance("R1") {
		t.Errorf("low: R1 %.3f, R3 %.3f; unknown %.3f", low.chance("R1"), low.chance("R3"), unknown.chance("R1"))
	}
	if !(high.chance("R3") > 0.3) {
		t.Errorf("high: %+v", high.Suspects)
	}
	if !(none.chance("R1") < unknown.chance("R1")/2) {
		t.Errorf("none: R1 %.3f, unknown %.3f", none.chance("R1"), unknown.chance("R1"))
	}
	if why := high.Suspects[0].Why; !strings.Contains(why, "the controller believes full scale") || !strings.Contains(why, "“high” fits") {
		t.Errorf("%s", why)
	}
	if _, err := m.Weigh(Case{Code: "nine"}); err == nil {
		t.Error("an unknown code is taken")
	}
}

// Limits are looked at in order of priority: the first that is violated is shown.
func TestPriority(t *testing.T) {
	t.Parallel()
	m := small(t, strings.Replace(strings.Replace(divider, "below: 2 V", "below: 9 V", 1), "above: 4 V", "above: -1 V", 1))
	p := m.dictionary().indications().healthy // both are violated on every board
	if p[0] < 0.97 || p[1] > 0.02 || p[3] > 0.02 {
		t.Errorf("%v", p)
	}
}

// A floating pin has no value: any of the indications that watch it, or none.
func TestFloatingPin(t *testing.T) {
	t.Parallel()
	d := small(t, divider).dictionary()
	s := d.indications()
	for id, c := range d.causes {
		if c.Part != "R4" || c.Mode != profile.ModeOpen || !math.IsInf(c.Size, 1) {
			continue
		}
		p := s.with[int32(id)]
		for _, i := range []int{0, 1, 3} {
			if p == nil || p[i] < 0.1 || p[i] > 0.6 {
				t.Errorf("with R4 open the indications have %v", p)
				break
			}
		}
	}
	sum := 0.0
	for _, x := range s.healthy {
		sum += x
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("the probabilities sum to %g", sum)
	}
}

// What is normal on a bench says little there, shown or not.
func TestNormalOnBench(t *testing.T) {
	t.Parallel()
	m := small(t, strings.Replace(strings.Replace(divider, "below: 2 V}]}", "below: 3 V}], normal_on_a_bench: true}", 1), "below: 2 V", "below: 3 V", 1))
	p := m.dictionary().indications().healthy
	if p[0] < 0.3 || p[0] > 0.6 || p[3] < 0.3 {
		t.Errorf("%v", p)
	}
}

// After a part is fitted the indication still is that of the board as it came.
func TestCodeBelongsToTheBoardAsItCame(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	r, err := m.Weigh(Case{Code: "low", Readings: m.readings(t, "check,reading,fitted", "live-sense,0.000,", "r2,OL,", "r2,OL,", ",,R2", "live-sense,2.855,", "live-bus,60.0,")})
	if err != nil {
		t.Fatal(err)
	}
	if r.chance("R1") > 0.02 || r.chance("R2") > 0 {
		t.Errorf("R2 explained the lamp: %+v", r.Suspects)
	}
}
