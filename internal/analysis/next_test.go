package analysis

import (
	"math"
	"slices"
	"testing"

	"ohmstead/internal/profile"
)

// What formats.md says of next: at most five, only what the profile offers, never
// one made since the last fitted row or found impossible, by gain per minute.
func TestNextRules(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	r := m.weighed(t, "", "live-bus,60.0", "live-sense,0.000", "r1,-")
	if len(r.Next) == 0 || len(r.Next) > 5 {
		t.Fatalf("%d checks", len(r.Next))
	}
	last := math.Inf(1)
	for _, n := range r.Next {
		if _, ok := m.profile.Check(n.Check.ID); !ok {
			t.Errorf("%s is not a check of the profile", n.Check.ID)
		}
		if slices.Contains([]string{"live-bus", "live-sense", "r1"}, n.Check.ID) {
			t.Errorf("%s was made, or cannot be", n.Check.ID)
		}
		worth := n.GainBits / n.Minutes
		if worth > last+1e-9 {
			t.Errorf("%s is worth more than the one before it", n.Check.ID)
		}
		if last = worth; n.GainBits <= 0 || n.Minutes < n.Measured.Minutes || n.Why == "" {
			t.Errorf("%+v", n)
		}
	}
}

// A check that was found impossible stays so after a part is fitted; the others
// may be made again.
func TestNextAfterFitted(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	rows := m.readings(t, "check,reading,fitted", "r1,-,", "r2,OL,", "r3,9.77k,", ",,R2")
	left, all := m.available(rows)
	ids := func(checks []profile.Check) (out []string) {
		for _, c := range checks {
			out = append(out, c.ID)
		}
		return out
	}
	if slices.Contains(ids(left), "r1") || slices.Contains(ids(all), "r1") {
		t.Error("r1 cannot be made on this board")
	}
	if !slices.Contains(ids(left), "r2") || !slices.Contains(ids(left), "r3") {
		t.Errorf("after R2 is new only %v are offered", ids(left))
	}
	left, _ = m.available(rows[:3])
	if slices.Contains(ids(left), "r2") {
		t.Error("r2 was made")
	}
}

// Danger and set-up are priced: of two equal looks at the sense node the one
// without danger comes first, unless its price is raised; a state that is already
// set up costs nothing more.
func TestPrices(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	place := func(prices *Prices, rows ...string) (injected, live int) {
		r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", rows...), Prices: prices})
		if err != nil {
			t.Fatal(err)
		}
		injected, live = 99, 99
		for i, n := range r.Next {
			switch n.Check.ID {
			case "inj-sense":
				injected = i
			case "live-sense":
				live = i
			}
		}
		return injected, live
	}
	cold := []string{"r5,4.70k", "r3-lifted,-", "r4,-", "r1,-", "r2,-", "r3,-"}
	if injected, live := place(nil, cold...); injected >= live {
		t.Errorf("injected comes at %d, live at %d", injected, live)
	}
	if injected, live := place(&Prices{ExtraLowVoltage: 60}, cold...); injected <= live {
		t.Errorf("at 60 minutes injected comes at %d, live at %d", injected, live)
	}
	f := &foresight{weighing: m.weighCase(&Case{})}
	p := DefaultPrices()
	if got := f.setUp("live", "live", p); got != 0 {
		t.Errorf("the state that stands costs %g minutes", got)
	}
	if got := f.setUp("live", profile.Cold, p); got != 5+p.Hazardous {
		t.Errorf("live costs %g minutes", got)
	}
	if got := f.setUp("injected", profile.Cold, p); got != 2 {
		t.Errorf("injected costs %g minutes", got)
	}
}

// At equal worth cold before powered, not lifted before lifted, not hazardous
// before hazardous.
func TestTieRules(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	f := &foresight{weighing: m.weighCase(&Case{})}
	next := func(id string) *Next {
		c, _ := m.profile.Check(id)
		return &Next{Check: refOf(*c), Measured: *c, GainBits: 1, Minutes: 2}
	}
	for _, c := range [][2]string{{"r1", "inj-sense"}, {"r3-lifted", "live-bus"}, {"r3", "r3-lifted"}, {"inj-sense", "live-sense"}} {
		if !f.before(next(c[0]), next(c[1])) || f.before(next(c[1]), next(c[0])) {
			t.Errorf("%s does not come before %s", c[0], c[1])
		}
	}
	better := next("live-sense")
	better.GainBits = 1.01
	if !f.before(better, next("r1")) {
		t.Error("a better check comes later")
	}
}

// The check that is asked first splits what is left: after the bus stands and the
// node does not, it is one of the chain or the node, not the far rail.
func TestNextIsWhereTheFaultIs(t *testing.T) {
	t.Parallel()
	r := small(t, divider).weighed(t, "", "live-bus,60.0", "live-sense,0.000")
	if id := r.Next[0].Check.ID; id != "r1" && id != "r2" && id != "r3" {
		t.Errorf("%+v", r.Next[0])
	}
	for _, n := range r.Next {
		if n.Check.ID == "r5" && n.GainBits > 0.05 {
			t.Errorf("R5 has nothing to do with it: %+v", n)
		}
	}
}
