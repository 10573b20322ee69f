package simulation

import (
	"math"
	"strings"
	"testing"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
)

// Published proportions with their score intervals: R. G. Newcombe, Two-sided
// confidence intervals for the single proportion, Statistics in Medicine 17
// (1998), 857–872, Table I (four rows, from quotations of the table); the others
// recomputed independently, by the same formula.
func TestWilson(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		of, all   int
		low, high float64
	}{
		{81, 263, 0.255289, 0.366210}, {15, 148, 0.062386, 0.160487}, {0, 20, 0, 0.161125}, {1, 29, 0.006113, 0.171755},
		{0, 10, 0, 0.277533}, {1, 10, 0.017876, 0.404150}, {5, 10, 0.236593, 0.763407}, {10, 10, 0.722467, 1},
		{7, 20, 0.181192, 0.567146}, {3, 8, 0.136844, 0.694258}, {430, 474, 0.877675, 0.930124}, {10, 14, 0.453505, 0.882788},
		{38, 38, 0.908190, 1}, {0, 77, 0, 0.047518},
	} {
		low, high, ok := Wilson(c.of, c.all)
		if !ok || math.Abs(low-c.low) > 1e-5 || math.Abs(high-c.high) > 1e-5 || low < 0 || high > 1 {
			t.Errorf("%d of %d: %.6f to %.6f, published %g to %g", c.of, c.all, low, high, c.low, c.high)
		}
	}
	if _, _, ok := Wilson(0, 0); ok {
		t.Error("nothing was counted, and there is an interval")
	}
}

// Four boards of which the counts can be made by hand.
func handmade() *Report {
	r := &Report{Title: "1 fault"}
	d, told := []profile.Defect{open("R1")}, []string{"R1"}
	r.Add(&Repair{Defects: d, Telling: told, Visible: true, Cured: true, Status: analysis.Found, Claimed: told, Claims: 1,
		Readings: 3, Minutes: 4, InOrder: 6, Total: 5, Fixed: &FixedOrder{Readings: 12, Minutes: 20, Exact: true}}, &Bound{Groups: 5, HalfSplit: 3, Bits: 2})
	r.Add(&Repair{Defects: d, Telling: told, Visible: true, Cured: true, Status: analysis.Indistinguishable, Groups: [][]string{{"R2"}, {"R1"}},
		Needless: []string{"R2"}, Readings: 5, Minutes: 6, InOrder: 10, Again: 1, Slips: 1, Total: 7}, nil)
	r.Add(&Repair{Defects: d, Telling: told, Visible: true, Status: analysis.Found, Claimed: []string{"R2"}, Claims: 2, False: 1, Good: []string{"R2"},
		Left: told, Missed: told, Final: analysis.Healthy, Readings: 4, InOrder: 8, Total: 9,
		Top: []analysis.Suspect{{Faults: []analysis.Fault{{Part: "R2", Mode: profile.ModeOpen}}}, {}, {Faults: []analysis.Fault{{Part: "R1", Mode: profile.ModeHigh}}}}}, nil)
	r.Add(&Repair{Defects: d, Status: analysis.Healthy, Total: 3}, nil)
	return r
}

func TestReport(t *testing.T) {
	t.Parallel()
	got := map[string]string{}
	for _, l := range handmade().lines() {
		got[l.name] = l.value
	}
	for name, want := range map[string]string{
		"boards":                                             "4",
		"with a fault that some check reveals":               "3",
		"exact at the first conclusion":                      "66.7 % (20.8 to 93.9) of 3",
		"among the first three":                              "100.0 % (43.9 to 100.0) of 3",
		"called healthy with such a fault left":              "33.3 % (6.1 to 79.2) of 3",
		"faulty parts missed, of those that a check reveals": "33.3 % (6.1 to 79.2) of 3",
		"boards on which a good part is called bad":          "25.0 % (4.6 to 69.9) of 4",
		"\"found\" claimed first, all its parts bad":         "50.0 % (9.5 to 90.5) of 2",
		"\"found\" claimed at any time, all its parts bad":   "66.7 % (20.8 to 93.9) of 3",
		"boards on which good parts are exchanged with others that nothing tells from them": "25.0 % (4.6 to 69.9) of 4",
		"nothing to reveal, and called healthy":                                             "100.0 % (20.7 to 100.0) of 1",
		"first conclusions":                                                                 "found 2, indistinguishable 1, healthy 0, conflict 0, undecided 0",
		"boards on which a reading is asked for again":                                      "33.3 % (6.1 to 79.2) of 3",
		"slips a board":                       "0.25 of 6.0 readings",
		"readings until the first conclusion": "4.0",
		"minutes until then":                  "3.3",
		"number of the first reading in the profile's order that shows anything": "8.0",
		"readings in the profile's order":                                        "12.0, offered 3.0: 25 %",
		"minutes in the profile's order":                                         "20.0, offered 4.0: 20 %",
		"half-split bound of two-way checks, readings":                           "3.0",
	} {
		if got[name] != want {
			t.Errorf("%s: %q, want %q", name, got[name], want)
		}
	}
}

// The table has a row for whatever any of its columns has.
func TestMarkdown(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	Markdown(&b, &Report{Title: "none"}, handmade())
	rows := strings.Split(strings.TrimSpace(b.String()), "\n")
	if rows[0] != "| | none | 1 fault |" || rows[1] != "|---|---|---|" {
		t.Errorf("%s", b.String())
	}
	for _, row := range rows {
		if strings.Count(row, "|") != 4 {
			t.Error(row)
		}
	}
	if !strings.Contains(b.String(), "| readings in the profile's order |  | 12.0, offered 3.0: 25 % |") {
		t.Errorf("%s", b.String())
	}
	b.Reset()
	Misses(&b, "some-board", handmade().repairs)
	if b.String() != "| profile | fault | first conclusion | after readings | first suspect |\n|---|---|---|---|---|\n"+
		"| some-board | R1 open +Inf | found R2 | 4 | [{R2 open}] 0.000 |\n" {
		t.Errorf("%s", b.String())
	}
}

// Suspects of three answers: the counts fall where the probabilities lie.
func TestCalibration(t *testing.T) {
	t.Parallel()
	suspect := func(p float64, mode profile.Mode, parts ...string) analysis.Suspect {
		s := analysis.Suspect{Probability: p}
		for _, part := range parts {
			s.Faults = append(s.Faults, analysis.Fault{Part: part, Mode: mode})
		}
		return s
	}
	r := &Repair{Defects: []profile.Defect{open("R1"), open("C9")}, Telling: []string{"R1"}, Visible: true}
	var c Calibration
	c.Add(r, []analysis.Suspect{
		suspect(0.75, profile.ModeOpen, "R1"),
		suspect(0.1, profile.ModeHigh, "R1"),        // the way of failing is wrong
		suspect(0.08, profile.ModeOpen, "R1", "R2"), // R2 is good
		suspect(0.04, profile.ModeOpen, "C9", "R1"), // C9 shows nowhere and is bad
		suspect(0.03, profile.ModeOpen),
	})
	c.Add(r, []analysis.Suspect{suspect(1, profile.ModeOpen, "R1")})
	hidden := &Repair{Defects: []profile.Defect{open("C9")}}
	c.Add(hidden, []analysis.Suspect{suspect(0.45, profile.ModeOpen), suspect(0.35, profile.ModeOpen, "C9")})
	want := [bins]share{4: {0, 1}, 3: {1, 1}, 0: {1, 3}, 1: {0, 1}, 7: {1, 1}, 9: {1, 1}}
	if c.is != want {
		t.Errorf("%v, want %v", c.is, want)
	}
	if gap := (0.85 + 0.1 + 0.25 + 0.45 + 0.65) / 8; math.Abs(c.Gap()-gap) > 1e-12 {
		t.Errorf("mean distance %g, want %g", c.Gap(), gap)
	}
	var b strings.Builder
	c.Markdown(&b)
	if !strings.Contains(b.String(), "| 70 to 80 % | 1 | 75.0 % | 100.0 % (20.7 to 100.0) |\n| 80 to 90 % | 0 | | |\n") {
		t.Errorf("%s", b.String())
	}
}

// What counts as exact: a bad part that no check reveals may be left out, a good
// one may not be named, and a fault that shows may not be called health.
func TestExact(t *testing.T) {
	t.Parallel()
	two := Repair{Defects: []profile.Defect{open("R1"), open("C9")}, Telling: []string{"R1"}, Visible: true}
	for _, c := range []struct {
		status  analysis.Status
		claimed []string
		groups  [][]string
		want    bool
	}{
		{analysis.Found, []string{"R1"}, nil, true},
		{analysis.Found, []string{"C9", "R1"}, nil, true},
		{analysis.Found, []string{"C9"}, nil, false},
		{analysis.Found, []string{"R1", "R2"}, nil, false},
		{analysis.Indistinguishable, nil, [][]string{{"R2"}, {"R1"}}, true},
		{analysis.Indistinguishable, nil, [][]string{{"R2"}, {}}, false},
		{analysis.Healthy, nil, nil, false},
		{analysis.Conflict, nil, nil, false},
	} {
		r := two
		r.Status, r.Claimed, r.Groups = c.status, c.claimed, c.groups
		if r.Exact() != c.want {
			t.Errorf("%s %v %v: exact is %v", c.status, c.claimed, c.groups, r.Exact())
		}
	}
	hidden := Repair{Defects: []profile.Defect{open("C9")}, Status: analysis.Healthy}
	if !hidden.Exact() {
		t.Error("a fault that no check reveals may be called health")
	}
}
