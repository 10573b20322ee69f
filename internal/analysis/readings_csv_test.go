package analysis

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

const sheetProfile = `format: ohmstead/board-profile/1
id: sheet
title: For readings
ground: gnd
parts:
  R1: {kind: resistor, pins: [bus, sense], value: 330k}
  R3: {kind: resistor, pins: [sense, gnd], value: 6k8}
  D1: {kind: diode, pins: {anode: gnd, cathode: v5}}
points:
  TP3: {node: sense}
states:
  live: {sources: [{name: bus, plus: bus, minus: gnd, volts: 325}]}
checks:
  - {id: k1, state: cold, measure: resistance, across: R3}
  - {id: k2, state: cold, measure: diode, red: gnd, black: v5}
  - {id: k3, state: live, measure: dc_volts, red: TP3}
  - {id: k4, state: cold, measure: resistance, across: R3, lifted: true}
  - {id: k5, state: cold, measure: resistance, across: R1, swapped: true}
`

func sheetBoard(t testing.TB) *profile.Profile {
	t.Helper()
	p, err := profile.Load("sheet.yaml", []byte(sheetProfile), nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestReadReadings(t *testing.T) {
	t.Parallel()
	p := sheetBoard(t)
	known := func(id string) profile.Check {
		c, ok := p.Check(id)
		if !ok {
			t.Fatalf("no check %s", id)
		}
		return *c
	}
	residue := 0.3
	for _, c := range []struct {
		name, src string
		want      []Reading
	}{
		{"the columns of the format", "state,measure,red,black,across,lifted,reading\n" +
			"cold,resistance,,,R3,,6.78k\ncold,resistance,,,R3,yes,6.80k\nlive,dc_volts,TP3,,,,3.31\n",
			[]Reading{
				{Line: 2, Check: known("k1"), Value: quantity.Value{Typed: "6.78k", Number: 6780, Digit: 10}},
				{Line: 3, Check: known("k4"), Value: quantity.Value{Typed: "6.80k", Number: 6800, Digit: 10}},
				{Line: 4, Check: known("k3"), Value: quantity.Value{Typed: "3.31", Number: 3.31, Digit: 0.01}},
			}},
		{"by id, in any order of columns, comma in quotes", "reading,check\n\"6,78k\",k1\nOL,k4\n",
			[]Reading{
				{Line: 2, Check: known("k1"), Value: quantity.Value{Typed: "6,78k", Number: 6780, Digit: 10}},
				{Line: 3, Check: known("k4"), Value: quantity.Value{Typed: "OL", OverRange: true}},
			}},
		{"creeping, residue, not possible, fitted", "check,reading,moving,residue,fitted\n" +
			"k1,5k,up,0.3,\nk3,-,,,\n,,,,R3\nk1,6.8k,,,R1\n",
			[]Reading{
				{Line: 2, Check: known("k1"), Value: quantity.Value{Typed: "5k", Number: 5000, Digit: 1000}, Moving: MovingUp, Residue: &residue},
				{Line: 3, Check: known("k3"), NotPossible: true},
				{Line: 4, Fitted: "R3"},
				{Line: 5, Check: known("k1"), Value: quantity.Value{Typed: "6.8k", Number: 6800, Digit: 100}, Fitted: "R1"},
			}},
		{"blank lines, blanks, a byte order mark, Windows lines", "\ufeffcheck, reading \r\n\r\n , \r\nk1 , 6.8k\r\n",
			[]Reading{{Line: 4, Check: known("k1"), Value: quantity.Value{Typed: "6.8k", Number: 6800, Digit: 100}}}},
		{"only a header", "check,reading", nil},
		{"a short row", "check,reading,moving\nk2,0.58\n",
			[]Reading{{Line: 2, Check: known("k2"), Value: quantity.Value{Typed: "0.58", Number: 0.58, Digit: 0.01}}}},
		{"a check said twice, its places by their nodes", "check,red,black,reading\nk3,sense,gnd,3.31\n",
			[]Reading{{Line: 2, Check: known("k3"), Value: quantity.Value{Typed: "3.31", Number: 3.31, Digit: 0.01}}}},
		{"a check said twice", "check,state,across,swapped,reading\nk5,cold,R1,yes,300k\n",
			[]Reading{{Line: 2, Check: known("k5"), Value: quantity.Value{Typed: "300k", Number: 300e3, Digit: 1000}}}},
	} {
		got, err := ReadReadings("r.csv", strings.NewReader(c.src), p)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
		} else if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
}

// The same nodes make the same check, whatever words name them; swapped probes
// make another one.
func TestReadReadingsFindsTheCheck(t *testing.T) {
	t.Parallel()
	p := sheetBoard(t)
	for _, c := range []struct{ row, id, red, black string }{
		{"cold,resistance,,,R3,,,1", "k1", "sense", "gnd"},
		{"cold,resistance,TP3,gnd,,,,1", "k1", "sense", "gnd"},
		{"cold,resistance,sense,,,,,1", "k1", "sense", "gnd"},
		{"cold,resistance,gnd,sense,,,yes,1", "k1", "sense", "gnd"},
		{"cold,resistance,,,R3,,yes,1", "", "gnd", "sense"},
		{"cold,resistance,,,R3,yes,,1", "k4", "sense", "gnd"},
		{"cold,resistance,,,R1,,yes,1", "k5", "sense", "bus"},
		{"cold,resistance,,,R1,,,1", "", "bus", "sense"},
		{"cold,diode,,,D1,,,0.5", "k2", "gnd", "v5"},
		{"cold,diode,v5,gnd,,,,OL", "", "v5", "gnd"},
		{"live,dc_volts,sense,,,,,1", "k3", "sense", "gnd"},
	} {
		rs, err := ReadReadings("r.csv", strings.NewReader("state,measure,red,black,across,lifted,swapped,reading\n"+c.row), p)
		if err != nil {
			t.Errorf("%s: %v", c.row, err)
			continue
		}
		got := rs[0].Check
		if got.ID != c.id || got.RedNode != c.red || got.BlackNode != c.black {
			t.Errorf("%s: %q from %s to %s, want %q from %s to %s", c.row, got.ID, got.RedNode, got.BlackNode, c.id, c.red, c.black)
		}
	}
	rs, err := ReadReadings("r.csv", strings.NewReader("check,lifted,swapped,reading\nk1,yes,,1\nk1,,yes,1\n"), p)
	if err != nil {
		t.Fatal(err)
	}
	if c := rs[0].Check; c.ID != "k4" || c.Minutes != 6 {
		t.Errorf("k1 lifted is %q, %v minutes", c.ID, c.Minutes)
	}
	if c := rs[1].Check; c.ID != "" || !c.Swapped || c.RedNode != "gnd" {
		t.Errorf("k1 swapped is %+v", c)
	}
}

func TestReadReadingsErrors(t *testing.T) {
	t.Parallel()
	p := sheetBoard(t)
	const head = "state,measure,red,black,across,lifted,reading\n"
	for _, c := range []struct{ src, want string }{
		{"", "r.csv:1:1: the file is empty; expected a header row such as state,measure,red,black,across,lifted,reading"},
		{"check,value\n", `r.csv:1:7: "value": an unknown column; expected a header row with check, state, measure, red, black, across, lifted, swapped, reading, moving, residue, fitted, separated by commas`},
		{"check;reading\nk1;5\n", `r.csv:1:1: "check;reading": an unknown column; expected a header row with check, state, measure, red, black, across, lifted, swapped, reading, moving, residue, fitted, separated by commas`},
		{"check,check\n", `r.csv:1:7: "check": a column that is there twice`},
		{head + "cold,resistance,,,R3,,4k7k\n", `r.csv:2:23: "4k7k": "k" is not understood after a letter code (a tolerance has a field of its own); expected ohms such as 820, 4.7k, 4k7 or 0R1, or OL, or -`},
		{head + "cold,resistance,,,R3,,4.7 V\n", `r.csv:2:23: "4.7 V": a wrong unit; expected ohms such as 820, 4.7k, 4k7 or 0R1, or OL, or -`},
		{head + "cold,resistance,,,R3,,-4.7\n", `r.csv:2:23: "-4.7": a minus has no meaning here; expected ohms such as 820, 4.7k, 4k7 or 0R1, or OL, or -`},
		{head + "cold,resistance,,,R3,,4,7k\n", `r.csv:2:25: "7k": more cells than the header has columns; expected quotes around a value with a decimal comma`},
		{head + "cold,resistance,,,R3,,\n", `r.csv:2:1: reading is missing; expected a value, OL, or - where the check cannot be made`},
		{head + "cold,resistance,,,R9,,1\n", `r.csv:2:19: "R9": no such part; expected a part with two pins`},
		{head + "cold,resistance,TPX,,,,1\n", `r.csv:2:17: "TPX": no point and no node of this name; expected a point or a node`},
		{head + "cold,resistance,sense,x,,,1\n", `r.csv:2:23: "x": no point and no node of this name; expected a point or a node`},
		{head + "warm,resistance,sense,,,,1\n", `r.csv:2:1: "warm": no such state; expected a state of the profile`},
		{head + "cold,ohms,sense,,,,1\n", `r.csv:2:6: "ohms": not a measure; expected resistance, diode, dc_volts, ac_volts, capacitance or esr`},
		{head + "live,resistance,sense,,,,1\n", `r.csv:2:6: "resistance": this is measured on the unpowered board only; expected state cold`},
		{head + "cold,resistance,sense,,R3,,1\n", `r.csv:2:24: "R3": a check is either across a part or between places; expected across, or red and black`},
		{head + "cold,resistance,sense,TP3,,,1\n", `r.csv:2:17: "sense": both probes are on the same node; expected two different nodes`},
		{head + "cold,resistance,,,,,1\n", `r.csv:2:1: the check says not where; expected across, or red`},
		{head + "cold,resistance,sense,,,yes,1\n", `r.csv:2:25: "yes": lifted is for a cold check across a part; expected across and a cold measure`},
		{head + "cold,resistance,,,R3,true,1\n", `r.csv:2:22: "true": lifted is a yes or no; expected yes or nothing`},
		{head + ",resistance,,,R3,,1\n", `r.csv:2:1: state is missing`},
		{head + "cold,,,,R3,,1\n", `r.csv:2:1: measure is missing`},
		{"check,reading,moving\nk1,5,sideways\n", `r.csv:2:6: "sideways": not a way to creep; expected up, down or nothing`},
		{"check,reading,residue\nk1,5,1 A\nk1,5,OL\n", "r.csv:2:6: \"1 A\": a wrong unit; expected volts such as 3.31, 325 V or 6.15m\n" +
			"r.csv:3:6: \"OL\": a residue is a number; expected volts such as 3.31, 325 V or 6.15m"},
		{"check,reading,fitted\nk1,5,R9\n", `r.csv:2:6: "R9": no such part; expected a designator of the profile`},
		{"check,reading\nk9,5\n", `r.csv:2:1: "k9": no check of this id; expected the id of a check of the profile`},
		{"check,across,reading\nk1,R1,5\n", `r.csv:2:4: "R1": the check k1 says otherwise; expected R3`},
		{"check,red,reading\nk3,bus,5\n", `r.csv:2:4: "bus": the check k3 says otherwise; expected TP3`},
		{"check,lifted,reading\nk4,no,5\n", `r.csv:2:4: "no": the check k4 says otherwise; expected yes or nothing`},
		{"check,swapped,reading\nk5,no,5\n", `r.csv:2:4: "no": the check k5 says otherwise; expected yes or nothing`},
		{"check,reading\nk1,\"5\nk2,6\n", `r.csv:3:6: not CSV: extraneous or missing " in quoted-field`},
		{"check,reading\nk1,\xff\n", `r.csv:1:1: the file is not text; expected UTF-8`},
		{"red,black,state,measure,reading\nsénse,gnd,cold,résistance,1\n", `r.csv:2:16: "résistance": not a measure; expected resistance, diode, dc_volts, ac_volts, capacitance or esr`},
		{head + "cold,resistance,,,R3,,4k7k\ncold,diode,,,R3,,5k\n", "r.csv:2:23: \"4k7k\""},
	} {
		rs, err := ReadReadings("r.csv", strings.NewReader(c.src), p)
		if err == nil {
			t.Errorf("%q: no error, %+v", c.src, rs)
		} else if !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%q:\n got %s\nwant %s", c.src, err, c.want)
		}
	}
	if _, err := ReadReadings("r.csv", strings.NewReader("check,reading\n"+strings.Repeat("k1,5k\n", 501)), p); err == nil || !strings.Contains(err.Error(), "500") {
		t.Errorf("more readings than the limit: %v", err)
	}
	if _, err := ReadReadings("r.csv", strings.NewReader(strings.Repeat("check,reading\n", 1<<17)), p); err == nil {
		t.Error("a file beyond the limit was read")
	}
}

func FuzzReadReadings(f *testing.F) {
	for _, s := range []string{
		"state,measure,red,black,across,lifted,reading\ncold,resistance,,,R3,,6.78k\n",
		"check,reading,moving,residue,fitted\nk1,\"4,7k\",up,0.3,\n,,,,R3\nk3,-,,,\n", "a,\"b\n\"\"c\"\n", "check;reading\n",
	} {
		f.Add([]byte(s))
	}
	p := sheetBoard(f)
	f.Fuzz(func(t *testing.T, src []byte) {
		rs, err := ReadReadings("r", strings.NewReader(string(src)), p)
		for i, r := range rs {
			if r.Line < 2 || i > 0 && r.Line <= rs[i-1].Line || !r.Bare() && r.Check.RedNode == "" {
				t.Fatalf("%q: reading %+v", src, r)
			}
		}
		if err == nil {
			return
		}
		var es written.Errors
		if !errors.As(err, &es) {
			t.Fatalf("%v is no written.Errors", err)
		}
		for _, e := range es {
			if e.Line < 1 || e.Column < 1 {
				t.Fatalf("%q: an error without a place: %v", src, e)
			}
		}
	})
}
