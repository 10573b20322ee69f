package analysis

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Whatever is read, the answer keeps the rules of the formats.
func TestAnswerKeepsItsRules(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	rapid.Check(t, func(t *rapid.T) {
		var rows []string
		for range rapid.IntRange(0, 8).Draw(t, "rows") {
			c := rapid.SampledFrom(m.profile.Checks).Draw(t, "check")
			value := rapid.SampledFrom([]string{"OL", "-", "0.0", "1.0", "9.77k", "100.0k", "250k", "1.5"}).Draw(t, "reading")
			if c.Measure == profile.MeasureDCVolts {
				value = rapid.SampledFrom([]string{"0.000", "0.829", "2.855", "5.61", "60.0", "-"}).Draw(t, "volts")
			}
			rows = append(rows, c.ID+","+value+","+rapid.SampledFrom([]string{"", "", "", "R2"}).Draw(t, "fitted"))
		}
		code := rapid.SampledFrom([]string{"", "none", "low", "high", "other"}).Draw(t, "code")
		readings, err := ReadReadings("r.csv", strings.NewReader("check,reading,fitted\n"+strings.Join(rows, "\n")+"\n"), m.profile)
		if err != nil {
			t.Fatal(err)
		}
		r, err := m.Weigh(Case{Readings: readings, Code: code})
		if err != nil {
			t.Fatal(err)
		}
		if problem := m.wrongWith(r, readings); problem != "" {
			t.Fatalf("%s: %+v %+v %+v", problem, r.Conclusion, r.Suspects, r.Next)
		}
	})
}

// wrongWith says what rule of the formats an answer breaks.
func (m *Model) wrongWith(r *Result, readings []Reading) string {
	sum, last := 0.0, math.Inf(1)
	fitted := map[string]bool{}
	for _, x := range readings {
		fitted[x.Fitted] = true
	}
	for _, s := range r.Suspects {
		sum += s.Probability
		switch {
		case s.Probability > last+1e-12, s.Probability < 0:
			return "suspects are not in order"
		case s.Faults == nil, s.Why == "":
			return "a suspect without faults or reason"
		}
		last = s.Probability
		for _, f := range s.Faults {
			if fitted[f.Part] {
				return f.Part + " is new"
			}
		}
	}
	switch c := r.Conclusion; {
	case len(r.Suspects) > 10 || sum > 1+10*0.5e-6: // each is rounded to a millionth
		return fmt.Sprintf("%d suspects of %g", len(r.Suspects), sum)
	case c.Why == "" || c.Parts == nil:
		return "a conclusion without reason or parts"
	case c.Status != Undecided && len(r.Next) > 0:
		return "concluded, and more to read"
	case c.Status == Undecided && len(r.Next) == 0:
		return "undecided, and nothing to read"
	case c.Status == Found && (len(c.Parts) == 0 || r.chance(c.Parts...) < foundFrom-0.01 && len(c.Parts) == 1):
		return "found without probability"
	case c.Status == Indistinguishable && len(c.Groups) == 0:
		return "no groups"
	case c.Status == Healthy && len(c.Parts) > 0:
		return "healthy parts"
	}
	left, _ := m.available(readings)
	for _, n := range r.Next {
		if !slices.ContainsFunc(left, func(c profile.Check) bool { return c.ID == n.Check.ID }) {
			return n.Check.ID + " was made"
		}
		for i, w := range n.Would {
			if slices.ContainsFunc(n.Would[:i], func(o Would) bool { return o.Words == w.Words || o.Reads == w.Reads }) {
				return n.Check.ID + " says twice what " + w.Words + " would read"
			}
		}
	}
	return ""
}

// The order of readings of one board does not matter, but for what the search of
// larger sets happens to try.
func TestOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	rows := []string{"live-bus,60.0", "live-sense,0.000", "r2,OL", "r3,9.77k", "inj-sense,0.000"}
	want := m.weighed(t, "", rows...)
	rng := rand.New(rand.NewPCG(1, 1))
	for range 5 {
		rng.Shuffle(len(rows), func(i, k int) { rows[i], rows[k] = rows[k], rows[i] })
		got := m.weighed(t, "", rows...)
		if math.Abs(got.chance("R2")-want.chance("R2")) > 1e-4 || got.Conclusion.Status != want.Conclusion.Status {
			t.Errorf("%v: R2 %.6f, %s; before %.6f, %s", rows, got.chance("R2"), got.Conclusion.Status, want.chance("R2"), want.Conclusion.Status)
		}
	}
}

// Every single fault of the small board that some check shows is named, or is one
// of a group that no check tells apart, when the analysis asks and the board
// answers at nominal values.
func TestEverySingleFault(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	d := m.dictionary()
	separable := d.separability(d.ensure(m.profile.Checks))
	tried := 0
	for id, c := range d.causes {
		if c.joint || c.width > 0 && c.Size < 1.5 || separable[id] <= tellsApartFrom {
			continue
		}
		tried++
		r := m.diagnosed(t, c.Defect)
		ok := r.Conclusion.Status == Found && slices.Equal(r.Conclusion.Parts, []string{c.Part}) ||
			r.Conclusion.Status == Indistinguishable && slices.ContainsFunc(r.Conclusion.Groups, func(g []string) bool { return slices.Equal(g, []string{c.Part}) })
		if !ok {
			t.Errorf("%s %s %.3g: %s %v %v", c.Part, c.Mode, c.Size, r.Conclusion.Status, r.Conclusion.Parts, r.Conclusion.Groups)
		}
	}
	if tried < 60 {
		t.Errorf("only %d faults tried", tried)
	}
}

// diagnosed makes the checks that are asked for on a board with a defect.
func (m *Model) diagnosed(t testing.TB, d profile.Defect) *Result {
	t.Helper()
	var readings []Reading
	for {
		r, err := m.Weigh(Case{Readings: readings})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Next) == 0 {
			return r
		}
		c := r.Next[0].Measured
		s := m.shownWith(c, nil, d)
		if s == nil {
			readings = append(readings, Reading{Check: c, NotPossible: true})
			continue
		}
		readings = append(readings, Reading{Check: c, Value: quantity.Value{Number: s.Value, OverRange: s.OverRange}})
	}
}

// A board of a sibling revision is a conflict that names it; one reading that is
// off, or a place that the sibling lacks, is not enough.
func TestSiblings(t *testing.T) {
	t.Parallel()
	m := small(t, divider)
	text := strings.NewReplacer("id: divider", "id: divider-b", "value: 10k", "value: 22k", "value: 4.7k", "value: 6.8k").Replace(divider)
	sibling, err := profile.Load("divider-b.yaml", []byte(text), nil)
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
	if c := ask("r3-lifted,22.00k", "r5,6.80k", "r1,100.0k"); c.Status != Conflict || c.Sibling != "divider-b" {
		t.Errorf("%+v", c)
	}
	if c := ask("r3-lifted,22.00k", "r5,4.70k"); c.Sibling != "" {
		t.Errorf("one reading names a sibling: %+v", c)
	}
	if c := ask("r3-lifted,10.00k", "r5,4.70k"); c.Sibling != "" {
		t.Errorf("good readings name a sibling: %+v", c)
	}
}
