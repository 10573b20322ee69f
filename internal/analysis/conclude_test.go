package analysis

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/prior"
	"ohmstead/internal/profile"
)

// good is what a healthy divider reads: 60 V × 10/210 = 2.857 V less what the meter
// takes; of the 30 V on the dead board the clamp into the dead rail leaves 0.829 V.
var good = []string{"r1,100.0k", "r2,100.0k", "r3,9.77k", "r3-lifted,10.00k", "r4,1.000k", "r5,4.70k",
	"inj-sense,0.829", "live-bus,60.0", "live-sense,2.855", "live-pin,2.855"}

func TestConclusions(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	for _, c := range []struct {
		name   string
		code   string
		rows   []string
		status Status
		parts  []string
		groups [][]string
	}{
		{name: "nothing read", status: Undecided},
		{name: "every reading good", rows: good, status: Healthy},
		{name: "the whole of the volts at the lower end, and the part itself says so",
			rows:   []string{"live-bus,60.0", "live-sense,0.000", "inj-sense,0.000", "r1,100.0k", "r2,OL", "r2,OL", "r3,9.77k"},
			status: Found, parts: []string{"R2"}},
		{name: "lower leg drifted", rows: []string{"r3,15.0k", "r3-lifted,15.0k"}, status: Found, parts: []string{"R3"}},
		{name: "one check, made twice, that contradicts itself", rows: []string{"r5,4.70k", "r5,900"}, status: Conflict},
		{name: "what no fault of the profile does", rows: []string{"live-bus,60.0", "live-sense,41.0", "r3,9.77k", "r2,100.0k", "r1,100.0k"}, status: Conflict},
	} {
		r := m.weighed(t, c.code, c.rows...)
		if r.Conclusion.Status != c.status || c.parts != nil && !slices.Equal(r.Conclusion.Parts, c.parts) {
			t.Errorf("%s: %+v", c.name, r.Conclusion)
		}
		if d := cmp.Diff(c.groups, r.Conclusion.Groups); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if (len(r.Next) > 0) != (c.status == Undecided) {
			t.Errorf("%s: %s with %d checks to make", c.name, c.status, len(r.Next))
		}
		if t.Failed() {
			for _, s := range r.Suspects[:min(5, len(r.Suspects))] {
				t.Logf("%.4f %v %s", s.Probability, s.Faults, s.Why)
			}
		}
		if r.Conclusion.Why == "" || r.Conclusion.Parts == nil {
			t.Errorf("%s: %+v", c.name, r.Conclusion)
		}
	}
}

// Two resistors in series with only the outer nodes measured are one group (an
// anchor from first principles): no reading tells which of them is open.
func TestIndistinguishable(t *testing.T) {
	t.Parallel()
	m := small(t, `format: ohmstead/board-profile/1
id: divider
title: Series
ground: gnd
parts:
  R1: {kind: resistor, pins: [a, b], value: 10k, tolerance: 1 %}
  R2: {kind: resistor, pins: [b, gnd], value: 10k, tolerance: 1 %}
  R3: {kind: resistor, pins: [c, gnd], value: 10k, tolerance: 1 %}
checks:
  - {id: outer, state: cold, measure: resistance, red: a, black: gnd}
  - {id: r3, state: cold, measure: resistance, across: R3}
`)
	r := m.weighed(t, "", "outer,OL", "outer,OL")
	if r.Conclusion.Status != Indistinguishable {
		t.Fatalf("%+v", r.Conclusion)
	}
	if d := cmp.Diff([][]string{{"R1"}, {"R2"}}, r.Conclusion.Groups); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"R1", "R2"}, r.Conclusion.Parts); d != "" {
		t.Error(d)
	}
	for _, ref := range r.Conclusion.Parts {
		if r.chance(ref) < 0.3 {
			t.Errorf("%s does not stand in suspects: %+v", ref, r.Suspects)
		}
	}
}

// One reading that only one fault explains may have been a slip: as long as no
// other check sees that fault, nothing is one of the groups, and the reading to
// make again is named. Made again, it is found.
func TestOneOddReading(t *testing.T) {
	t.Parallel()
	text := "format: ohmstead/board-profile/1\nid: divider\ntitle: Many\nground: gnd\nparts:\n"
	var rows []string
	for i := range 40 {
		text += fmt.Sprintf("  R%d: {kind: resistor, pins: [n%d, gnd], value: 10k, tolerance: 1 %%}\n", i, i)
		rows = append(rows, fmt.Sprintf("cold:R%d,10.00k", i))
	}
	m := small(t, text)
	rows[7] = "cold:R7,OL"
	ask := func(rows ...string) Conclusion { // boards of which it usually is R3, so that R7 is rare
		r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", rows...), Findings: []Finding{{Fault{"R3", profile.ModeOpen}, 200}}})
		if err != nil {
			t.Fatal(err)
		}
		return r.Conclusion
	}
	c := ask(rows...)
	if d := cmp.Diff([][]string{{"R7"}, {}}, c.Groups); c.Status != Indistinguishable || d != "" || !strings.Contains(c.Why, "make it again: across R7") {
		t.Errorf("%+v", c)
	}
	if c = ask(append(rows, "cold:R7,OL")...); c.Status != Found || !slices.Equal(c.Parts, []string{"R7"}) {
		t.Errorf("%+v", c)
	}
	if c = ask(append(rows, "cold:R7,10.00k", "cold:R7,10.00k")...); c.Status != Healthy {
		t.Errorf("%+v", c)
	}
}

// A capacitor gone open is invisible at direct current (an anchor from first
// principles): a healthy verdict says that it could still hide.
func TestHealthySaysWhatItCannotSee(t *testing.T) {
	t.Parallel()
	c := small(t, divider).weighed(t, "", good...).Conclusion
	if !slices.Contains(c.Unseen, Fault{"C1", profile.ModeOpen}) {
		t.Errorf("%+v", c)
	}
	for _, f := range c.Unseen {
		if f.Part == "R1" || f.Part == "R5" {
			t.Errorf("%+v could hide, though a check is across it", f)
		}
	}
}

// Parts of a hypothesis are those that explain something: an open R2 with R5 low
// is two faults, R2 open alone is one.
func TestTwoFaults(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	r := m.weighed(t, "", "live-bus,60.0", "live-sense,0.000", "r2,OL", "r5,1.20k", "r5,1.20k")
	if r.chance("R2", "R5") < 0.9 {
		t.Errorf("%+v", r.Suspects)
	}
	r = m.weighed(t, "", "live-bus,60.0", "live-sense,0.000", "r2,OL", "r5,4.70k")
	if r.chance("R2", "R5") > 0.01 || r.chance("R2") < 0.9 {
		t.Errorf("%+v", r.Suspects)
	}
}

// After a part is fitted, earlier readings are of the board as it came, later
// ones of the repaired board, and the answer is about the board as it stands.
func TestFitted(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	before := []string{"live-bus,60.0,", "live-sense,0.000,", "r2,OL,", "r1,100.0k,"}
	ask := func(rows ...string) *Result {
		r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading,fitted", append(slices.Clone(before), rows...)...)})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := ask(); r.Conclusion.Status != Found || !slices.Equal(r.Conclusion.Parts, []string{"R2"}) {
		t.Fatalf("before: %+v", r.Conclusion)
	}
	r := ask(",,R2")
	if r.chance("R2") > 0 || r.chance() < 0.4 {
		t.Errorf("R2 is new and still suspect: %+v", r.Suspects)
	}
	if r.Conclusion.Status != Undecided || len(r.Next) == 0 {
		t.Errorf("nothing was measured since: %+v", r.Conclusion)
	}
	made := map[string]bool{}
	for _, n := range r.Next {
		made[n.Check.ID] = true
	}
	if r = ask(",,R2", "live-bus,60.0,", "live-sense,2.855,", "live-pin,2.855,", "r1,100.0k,", "r2,100.0k,", "r3,9.77k,", "r4,1.000k,", "r5,4.70k,"); r.Conclusion.Status != Healthy {
		t.Errorf("all good since: %+v %+v", r.Conclusion, r.Suspects)
	}
	if !strings.HasPrefix(r.Conclusion.Why, "Every reading since R2 was put in is what a good board reads") {
		t.Errorf("it claims more than was read since: %q", r.Conclusion.Why)
	}
	// A second fault that R2 had hidden.
	if r = ask(",,R2", "live-bus,60.0,", "live-sense,2.855,", "live-pin,0.000,", "r4,182k,", "r4,182k,"); r.chance("R4") < 0.9 {
		t.Errorf("%+v", r.Suspects)
	}
}

// What nothing explains and was read before a part was put in cannot be read again:
// it is not asked for.
func TestContradictionBeforeTheRepair(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	good := []string{"live-bus,60.0,", "live-sense,2.855,", "r1,100.0k,", "r2,100.0k,", "r3,9.77k,", "r4,1.000k,", "r5,4.70k,"}
	ask := func(rows ...string) Conclusion {
		r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading,fitted", rows...)})
		if err != nil {
			t.Fatal(err)
		}
		return r.Conclusion
	}
	c := ask(append([]string{"r1,OL,", "r1,1.5,", ",,R3"}, good...)...)
	if c.Status != Conflict || c.Again != nil || !strings.Contains(c.Why, "It was read before a part was put in: across R1 read") || !strings.Contains(c.Why, "Strike it out") {
		t.Errorf("before a repair: %+v", c)
	}
	if c = ask("r1,100.0k,", "r2,100.0k,", "r3-lifted,9.77k,", "r3,OL,", "r4,1.000k,", "r5,4.70k,"); c.Status != Conflict || c.Again == nil || !strings.Contains(c.Why, "Read again: ") {
		t.Errorf("without one: %+v", c)
	}
}

// A regulator whose pass element is shorted gives what comes in, half a volt less,
// however far above its own volts that is; less than that is high too.
func TestARegulatorThatLetsThrough(t *testing.T) {
	t.Parallel()
	m := small(t, `format: ohmstead/board-profile/1
id: divider
title: Regulator
ground: gnd
parts:
  U1: {kind: regulator, pins: {in: vin, out: v5, ground: gnd}, volts: 5 V}
  R1: {kind: resistor, pins: [v5, n], value: 1k, tolerance: 1 %}
  R2: {kind: resistor, pins: [n, gnd], value: 1k, tolerance: 1 %}
states: {live: {hazard: extra_low_voltage, sources: [{name: s, plus: vin, minus: gnd, volts: 24 V, tolerance: 1 %}]}}
checks:
  - {id: in, state: live, measure: dc_volts, red: vin}
  - {id: out, state: live, measure: dc_volts, red: v5}
  - {id: mid, state: live, measure: dc_volts, red: n}
`)
	for _, c := range []struct{ out, mid string }{{"5.70", "2.85"}, {"7.00", "3.50"}, {"14.50", "7.25"}, {"18.00", "9.00"}, {"23.40", "11.70"}} {
		r := m.weighed(t, "", "in,24.00", "out,"+c.out, "mid,"+c.mid)
		if got := r.chance("U1"); got < 0.95 || r.Suspects[0].Faults[0].Mode != profile.ModeHigh {
			t.Errorf("%s V: U1 %.3f, %+v", c.out, got, r.Suspects[0])
		}
	}
}

// An amplifier whose input hangs in the air may stand at an end of its output as well
// as one that is stuck there: a break before it is not forgotten, and the check that
// tells is asked for. Without that check it cannot be told.
func TestABreakBeforeAnInputLooksLikeAStuckOutput(t *testing.T) {
	t.Parallel()
	m := small(t, `format: ohmstead/board-profile/1
id: divider
title: Amplifier
ground: gnd
parts:
  R1: {kind: resistor, pins: [v5, s], value: 10k, tolerance: 1 %}
  R2: {kind: resistor, pins: [s, gnd], value: 1k, tolerance: 1 %}
  R3: {kind: resistor, pins: [s, ip], value: 1k, tolerance: 1 %}
  U1: {kind: opamp, pins: {plus: ip, minus: in, out: o, supply_plus: v5, supply_minus: gnd}, headroom_high: 1.4 V, headroom_low: 0.005 V}
  R4: {kind: resistor, pins: [o, in], value: 10k, tolerance: 1 %}
  R5: {kind: resistor, pins: [in, gnd], value: 10k, tolerance: 1 %}
  R6: {kind: resistor, pins: [o, gnd], value: 10k, tolerance: 1 %}
states: {live: {hazard: none, sources: [{name: v5, plus: v5, minus: gnd, volts: 5 V, tolerance: 1 %}]}}
checks:
  - {id: s, state: live, measure: dc_volts, red: s}
  - {id: o, state: live, measure: dc_volts, red: o}
  - {id: r3, state: cold, measure: resistance, across: R3}
  - {id: r4, state: cold, measure: resistance, across: R4}
`)
	for _, at := range []string{"0.005", "3.59"} { // either end
		r := m.weighed(t, "", "s,0.455", "o,"+at)
		if c := r.Conclusion; c.Status != Undecided || r.chance("R3") < 0.01 || r.chance("U1") < r.chance("R3") {
			t.Errorf("out at %s V: %+v, R3 %.4f", at, c, r.chance("R3"))
		}
		if !slices.ContainsFunc(r.Next, func(n Next) bool { return n.Check.ID == "r3" }) {
			t.Errorf("out at %s V: R3 is not asked for: %+v", at, r.Next)
		}
		if r = m.weighed(t, "", "s,0.455", "o,"+at, "r3,OL", "r3,OL"); r.chance("R3") < 0.9 {
			t.Errorf("out at %s V and R3 open: %+v", at, r.Suspects)
		}
		if r = m.weighed(t, "", "s,0.455", "o,"+at, "r3,1.000k", "r4,6.66k"); r.chance("U1") < 0.9 {
			t.Errorf("out at %s V and R3 good: %+v", at, r.Suspects)
		}
	}
	if r := m.weighed(t, "", "s,0.455", "o,2.10"); r.chance("R3") < 0.001 {
		t.Errorf("between the ends: %+v", r.Suspects)
	}
}

// The rankings do not hinge on which published table is believed.
func TestTablesAgree(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	for _, rows := range [][]string{
		{"live-bus,60.0", "live-sense,0.000", "r2,OL"},
		{"r3,15.0k", "r3-lifted,15.0k"},
		good,
	} {
		var first []Fault
		for i, table := range prior.Tables() {
			r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", rows...), Table: table})
			if err != nil {
				t.Fatal(err)
			}
			var parts []Fault
			for _, f := range r.Suspects[0].Faults {
				parts = append(parts, Fault{Part: f.Part})
			}
			if i > 0 && cmp.Diff(first, parts) != "" {
				t.Errorf("%v: %s says %v; the first table %v", rows, table, parts, first)
			}
			first = parts
		}
	}
}

// What the shop found before on boards of the family raises it.
func TestFindings(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	rows := m.readings(t, "check,reading", "live-bus,60.0", "live-sense,0.000")
	plain, err := m.Weigh(Case{Readings: rows})
	if err != nil {
		t.Fatal(err)
	}
	known, err := m.Weigh(Case{Readings: rows, Findings: []Finding{{Fault{"R1", profile.ModeOpen}, 20}}})
	if err != nil {
		t.Fatal(err)
	}
	if known.chance("R1") < plain.chance("R1")+0.2 {
		t.Errorf("R1 %.3f before, %.3f after it was found 20 times", plain.chance("R1"), known.chance("R1"))
	}
	seen, err := m.Weigh(Case{Readings: rows, Seen: []Seen{{"R2", "cracked"}}})
	if err != nil {
		t.Fatal(err)
	}
	if seen.chance("R2") < plain.chance("R2")+0.2 {
		t.Errorf("R2 %.3f before, %.3f once it is seen cracked", plain.chance("R2"), seen.chance("R2"))
	}
}

// A profile without parts concludes nothing, but names the odd one of like
// channels.
func TestNoParts(t *testing.T) {
	t.Parallel()
	m := small(t, `format: ohmstead/board-profile/1
id: divider
title: Blank
checks:
  - {id: k1, state: cold, measure: resistance, across: R1}
  - {id: k2, state: cold, measure: resistance, across: R2}
  - {id: k3, state: cold, measure: resistance, across: R3}
alike: [[k1, k2, k3]]
`)
	r := m.weighed(t, "", "k1,330", "k2,331", "k3,OL")
	if r.Conclusion.Status != Undecided || !strings.Contains(r.Conclusion.Why, "across R3 read OL") {
		t.Errorf("%+v", r.Conclusion)
	}
	r = m.weighed(t, "", "k1,330", "k2,331", "k3,333")
	if strings.Contains(r.Conclusion.Why, "unlike") {
		t.Errorf("%+v", r.Conclusion)
	}
	if r = m.weighed(t, "", "k1,330", "k3,900"); strings.Contains(r.Conclusion.Why, "unlike") {
		t.Errorf("of two, one is the odd one: %+v", r.Conclusion)
	}
}

// The same input gives the same answer, on fresh and on used models, also when
// several ask at once.
func TestAnswersAreTheSame(t *testing.T) {
	t.Parallel()
	used := small(t, divider)
	rows := []string{"live-bus,60.0", "live-sense,0.000"}
	want := small(t, divider).weighed(t, "low", rows...)
	used.weighed(t, "", good...)
	done := make(chan *Result)
	for range 4 {
		go func() { done <- used.weighed(t, "low", rows...) }()
	}
	for range 4 {
		got := <-done
		if d := cmp.Diff(want.Conclusion, got.Conclusion); d != "" {
			t.Error(d)
		}
		for i := range want.Suspects {
			w, g := want.Suspects[i], got.Suspects[i]
			if d := cmp.Diff(w.Faults, g.Faults); d != "" || w.Why != g.Why {
				t.Errorf("suspect %d: %s\n%s\n%s", i, d, w.Why, g.Why)
			}
		}
	}
}

// A finding on a part or a way of failing that this revision does not have says
// nothing here: it does not make the board's own faults rarer.
func TestFindingsOnWhatIsNotHereCountForNothing(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	rows := m.readings(t, "check,reading", "r3,9.77k")
	answer := func(found ...Finding) string {
		r, err := m.Weigh(Case{Readings: rows, Findings: found})
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("%+v %+v", r.Suspects, r.Conclusion)
	}
	plain := answer()
	if got := answer(Finding{Fault{"C18", profile.ModeTired}, 200}, Finding{Fault{"R3", profile.ModeStuckHigh}, 50}); got != plain {
		t.Errorf("without: %s\nwith: %s", plain, got)
	}
	if got := answer(Finding{Fault{"R3", profile.ModeOpen}, 50}); got == plain {
		t.Error("a finding on what is here changes nothing either: this test cannot fail")
	}
}
