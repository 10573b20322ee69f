package main

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

func number(x float64) *float64 { return &x }

// A whole answer as a person reads it: aligned, verdicts in words, the reasons
// below the rows that were read.
func TestDiagnoseTable(t *testing.T) {
	t.Parallel()
	r := &analysis.Result{
		Table: []analysis.Row{
			{Check: analysis.CheckRef{ID: "k1", State: "cold", Measure: "resistance", Across: "R3"},
				Expected:   &analysis.Band{Low: number(6630), Typical: number(6800), High: number(6960), Unit: quantity.Ohm},
				Resolution: 10, Verdict: analysis.Nonconforming, Why: "Above what it can be.", Reading: &analysis.Reading{Value: quantity.Value{Typed: "41,3k"}}},
			{Check: analysis.CheckRef{State: "cold", Measure: "diode", Red: "adc", Black: "v5", Swapped: true},
				Expected: &analysis.Band{Unit: quantity.Volt}, Verdict: analysis.Conforming, Reading: &analysis.Reading{Value: quantity.Value{Typed: "OL"}}},
			{Check: analysis.CheckRef{ID: "k3", State: "live", Measure: "dc_volts", Red: "TP3"},
				Expected:     &analysis.Band{Low: number(2), High: number(4), Unit: quantity.Volt},
				ExpectedHere: &analysis.Band{Low: number(3.25), High: nil, Unit: quantity.Volt}, Resolution: 1e-3, Why: "Not shown."},
			{Check: analysis.CheckRef{ID: "k4", State: "cold", Measure: "esr", Across: "C1", Lifted: true}},
		},
		Suspects: []analysis.Suspect{
			{Faults: []analysis.Fault{{Part: "R3", Mode: profile.ModeHigh}, {Part: "U7", Mode: profile.ModeLEDOpen}}, Probability: 0.931, Why: "Fits."},
			{Faults: []analysis.Fault{}, Probability: 0.02},
			{Faults: []analysis.Fault{{Part: "R4", Mode: profile.ModeOpen}}, Words: "R4 high", Probability: 0.001, Why: "Hardly."},
			{Faults: []analysis.Fault{{Part: "R5", Mode: profile.ModeOpen}}, Probability: 0.0001},
		},
		Next:       []analysis.Next{{Check: analysis.CheckRef{State: "live", Measure: "dc_volts", Red: "TP3"}, Why: "Tells most."}},
		Conclusion: analysis.Conclusion{Status: analysis.Undecided, Why: "More readings would tell.", Unseen: []analysis.Fault{{Part: "C1", Mode: profile.ModeTired}}},
	}
	var b strings.Builder
	err := style{}.write(&b, &profile.Profile{ID: "x", Title: "Pump drive"}, &meter.Meter{Name: "a meter"}, r)
	if err != nil {
		t.Fatal(err)
	}
	want := `Pump drive (x), read with: a meter

check  state  measure     where               a good board reads  read   verdict
k1     cold   resistance  across R3           6.63 kΩ to 6.96 kΩ  41,3k  BAD
    Above what it can be.
       cold   diode       adc to v5, swapped  OL                  OL     not bad
k3     live   dc_volts    TP3                 3.250 V to OL
k4     cold   esr         across C1, lifted   ?

Suspects
   93 %  R3 high and U7 led open  Fits.
    2 %  nothing wrong  
   <1 %  R4 high  Hardly.

Next
  live dc_volts TP3  Tells most.

So far: undecided. More readings would tell.
Could still hide: C1 tired.
`
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

// On a terminal the verdict is coloured; the rest of the line is the same.
func TestDiagnoseColour(t *testing.T) {
	t.Parallel()
	rows := []analysis.Row{{Check: analysis.CheckRef{ID: "k1"}, Verdict: analysis.Nonconforming}, {Verdict: analysis.Inconclusive}}
	var plain, painted strings.Builder
	style{}.table(&plain, rows)
	style{colour: true}.table(&painted, rows)
	if !strings.Contains(painted.String(), "\x1b[1;31mBAD\x1b[0m") || !strings.Contains(painted.String(), "\x1b[33mcannot tell\x1b[0m") {
		t.Errorf("%q", painted.String())
	}
	bare := strings.NewReplacer("\x1b[1;31m", "", "\x1b[33m", "", "\x1b[0m", "").Replace(painted.String())
	if bare != plain.String() {
		t.Errorf("%q and %q", bare, plain.String())
	}
}

func TestDiagnoseConclusions(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		c    analysis.Conclusion
		want string
	}{
		{analysis.Conclusion{Status: analysis.Found, Parts: []string{"R3", "R4"}}, "found R3 and R4"},
		{analysis.Conclusion{Status: analysis.Indistinguishable, Parts: []string{"C3", "U7"}}, "one of C3, U7"},
		{analysis.Conclusion{Status: analysis.Indistinguishable, Groups: [][]string{{"C3"}, {"U7", "R1"}, {}, {"R2"}, {"R3"}, {"R4"}, {"R5"}, {"R6"}}},
			"one of C3, or U7 and R1, or nothing, or R2, or R3, or 3 others"},
		{analysis.Conclusion{Status: analysis.Conflict}, "the readings contradict each other"},
		{analysis.Conclusion{Status: analysis.Healthy}, "nothing wrong was found"},
	} {
		if got := conclusionWords(c.c); got != c.want {
			t.Errorf("%s: %q, want %q", c.c.Status, got, c.want)
		}
	}
}
