package analysis

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/profile"
)

// What somebody rules out is no suspect any more, alone or with others; what
// explains the readings next best takes its place.
func TestRuledOut(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	readings := m.readings(t, "check,reading", "live-bus,60.0", "live-sense,0.271", "live-pin,0.000")
	ask := func(out ...string) *Result {
		r, err := m.Weigh(Case{Readings: readings, RuledOut: out})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := ask(); !slices.ContainsFunc(r.Sets, func(s Set) bool { return slices.Equal(s.Parts, []string{"C1"}) }) {
		t.Fatalf("a pin at 0 V does not make C1 a suspect: %+v", r.Sets)
	}
	r := ask("C1")
	for _, s := range r.Suspects {
		if slices.ContainsFunc(s.Faults, func(f Fault) bool { return f.Part == "C1" }) {
			t.Errorf("C1 is ruled out, and yet: %+v", s)
		}
	}
	for _, n := range r.Next {
		if slices.Contains(n.Clears, "C1") || strings.Contains(n.Why, "C1") {
			t.Errorf("a check is proposed for what is ruled out: %+v", n)
		}
	}
	if d := cmp.Diff([]string{"U1"}, r.Sets[0].Parts); d != "" {
		t.Errorf("the rest: %s", d)
	}
	var all []string
	for _, p := range m.profile.Parts {
		all = append(all, p.Ref)
	}
	if r := ask(all...); len(r.Suspects) != 1 || len(r.Suspects[0].Faults) != 0 {
		t.Errorf("with everything ruled out: %+v", r.Suspects)
	}
}

// Probabilities of the sets are those of their ways of failing together, and what
// a suspect leaves unexplained names the reading by its row.
func TestSetsAndMisfits(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", "r1,-", "live-bus,60.0", "r3,41.3k", "r4,1.00k")})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"R3"}, r.Sets[0].Parts); d != "" {
		t.Fatal(d)
	}
	sum := 0.0
	for _, s := range r.Suspects {
		if len(s.Faults) == 1 && s.Faults[0].Part == "R3" {
			sum += s.Probability
		}
	}
	if p := r.Sets[0].Probability; p < sum-1e-9 || p > sum+0.01 {
		t.Errorf("R3 in all ways together: %g, its ways one by one: %g", p, sum)
	}
	for _, s := range r.Suspects {
		if len(s.Faults) == 1 && s.Faults[0] == (Fault{"R4", profile.ModeOpen}) {
			if d := cmp.Diff([]Misfit{{Row: 1, Place: "across R3", Read: "41.3 kΩ"}}, s.Account.Misfits[:1],
				cmp.FilterPath(func(p cmp.Path) bool { return p.String() == "Would" }, cmp.Ignore())); d != "" {
				t.Error(d)
			}
		}
	}
}

// A part that reads what another revision has in that place: the conclusion
// stands, and says to look at what is printed.
func TestPartOfASibling(t *testing.T) {
	t.Parallel()
	m := small(t, strings.Replace(divider, "value: 10k, tolerance: 1 %}", `value: 10k, tolerance: 1 %, where: "on X4"}`, 1))
	other := strings.NewReplacer("id: divider", "id: divider-b", "title: Divider", "title: Divider B, with a probe",
		"R3: {kind: resistor, pins: [sense, gnd], value: 10k", `P3: {kind: resistor, pins: [sense, gnd], where: "on X4", value: 22k`, "across: R3", "across: P3", "R2, R3, R4", "R2, P3, R4").Replace(divider)
	sibling, err := profile.Load("divider-b.yaml", []byte(other), nil)
	if err != nil {
		t.Fatal(err)
	}
	ask := func(rows ...string) Conclusion {
		r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", rows...), Siblings: []*profile.Profile{sibling}})
		if err != nil {
			t.Fatal(err)
		}
		return r.Conclusion
	}
	if c := ask("r3,21.9k"); c.Alike != "Divider B" || !strings.Contains(c.Why, "On Divider B, P3 reads 21.") {
		t.Errorf("%+v", c)
	}
	for _, rows := range [][]string{{"r3,9.99k"}, {"r3,41k"}, {"r3,21.9k", "r4,300k"}} {
		if c := ask(rows...); c.Alike != "" {
			t.Errorf("%v: %+v", rows, c)
		}
	}
}

// A break that still conducts reads high to whoever holds the meter; a reading
// that only agreed is not given a number.
func TestWordsOfSuspects(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", "r3-lifted,2.3M")})
	if err != nil {
		t.Fatal(err)
	}
	if s := r.Suspects[0]; s.Faults[0] != (Fault{"R3", profile.ModeOpen}) || s.Words != "R3 high" || !strings.Contains(s.Account.Size, "R3 about 2.3 MΩ instead of 10 kΩ") {
		t.Errorf("%+v", s)
	}
	agreed := m.readings(t, "check,reading", "live-pin,2.86")
	agreed[0].Value.Typed = "agrees"
	if r, err = m.Weigh(Case{Readings: agreed}); err != nil {
		t.Fatal(err)
	}
	for _, s := range r.Suspects {
		for _, f := range s.Account.Misfits {
			if f.Read != "agrees" {
				t.Errorf("%+v", f)
			}
		}
	}
}

// A sibling that the same readings contradict is none, however little else is left.
func TestASiblingHasToExplainSomething(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	text := strings.NewReplacer("id: divider", "id: divider-b", "value: 10k", "value: 12k", "value: 4.7k", "value: 6.8k").Replace(divider)
	sibling, err := profile.Load("divider-b.yaml", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", "r3-lifted,240k", "live-sense,5.9"), Siblings: []*profile.Profile{sibling}, RuledOut: []string{"R3"}})
	if err != nil {
		t.Fatal(err)
	}
	if r.Conclusion.Sibling != "" {
		t.Errorf("%+v", r.Conclusion)
	}
}
