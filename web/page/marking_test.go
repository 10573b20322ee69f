package page

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/marking"
	"ohmstead/internal/profile"
)

func markingPage(t *testing.T, typed, locale string) MarkingPage {
	t.Helper()
	found, err := marking.Read(typed)
	if typed == "" {
		found, err = nil, nil
	}
	return NewMarking(Frame{Locale: NewLocale(locale, "Europe/Dublin")}, typed, found, err)
}

func TestMarkingRows(t *testing.T) {
	t.Parallel()
	line := func(r MarkingRow) string {
		return strings.Join([]string{r.Part, r.Value, r.Tolerance, r.Range, strings.Join(r.Notes, " ")}, " | ")
	}
	for _, c := range []struct {
		typed, locale string
		want          []string
	}{
		{"103", "en-IE", []string{
			"Resistor | 10 kΩ | not printed, usually ±5 % | 9.5 kΩ to 10.5 kΩ | With a line above or below the digits it means something else: see the maker’s sheet. The same value on a small 1 % part: 01C.",
			"Capacitor | 10 nF | not printed |  | "}},
		{"01C", "en-IE", []string{"Resistor | 10 kΩ | not printed, usually ±1 % | 9.9 kΩ to 10.1 kΩ | "}},
		{"4p7C", "de-DE", []string{"Capacitor | 4,7 pF | ±0,25 pF | 4,45 pF to 4,95 pF | "}},
		{"104Z", "en-IE", []string{"Capacitor | 100 nF | −20 % to +80 % | 80 nF to 180 nF | "}},
		{"0", "en-IE", []string{"Link | 0 Ω |  |  | "}},
		{"yellow violet orange grey", "en-IE", []string{
			"Resistor | 47 kΩ | ±0.01 % | 46.9953 kΩ to 47.0047 kΩ | Grey was ±0.05 % in older editions of the code, and is ±0.01 % since 2016."}},
		{"brown black black red brown red", "en-IE", []string{
			"Resistor | 10 kΩ | ±1 % | 9.9 kΩ to 10.1 kΩ | Changes by 50 ppm for each kelvin. The same value on a small 1 % part: 01C."}},
		{"473K", "en-IE", []string{"Capacitor | 47 nF | ±10 % | 42.3 nF to 51.7 nF | ",
			"Resistor | 473 kΩ | not printed |  | No preferred value: look at the print again."}},
	} {
		var got []string
		for _, r := range markingPage(t, c.typed, c.locale).Readings {
			got = append(got, line(r))
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s", c.typed, d)
		}
	}
}

// What the print leaves open stands below, and only that.
func TestMarkingUnsaid(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string][]string{
		"103":                         {"resistor or a capacitor", "inductor", "Working voltage"},
		"4n7":                         {"Working voltage"},
		"01C":                         {"inductor", "Working voltage"},
		"000":                         {"Working voltage"},
		"brown black black red brown": {"At which end", "inductor", "Working voltage"},
		"gold red violet yellow":      {"inductor", "Working voltage"}, // only one end can be the beginning
	} {
		got := markingPage(t, typed, "en-IE").Unsaid
		if len(got) != len(want) {
			t.Errorf("%s leaves open %q", typed, got)
			continue
		}
		for i := range want {
			if !strings.Contains(got[i], want[i]) {
				t.Errorf("%s leaves open %q, want %q", typed, got[i], want[i])
			}
		}
	}
}

func TestMarkingPage(t *testing.T) {
	t.Parallel()
	for typed, title := range map[string]string{
		"": "What does the print say?", "103": "“103” reads in 2 ways.", "4K7": "“4K7” reads one way.", "97C": "“97C” cannot be read.",
	} {
		p := markingPage(t, typed, "en-IE")
		doc := drawn(t, Marking(p))
		accessible(t, "marking "+typed, doc)
		if p.Frame.Title != title {
			t.Errorf("%q: title %q", typed, p.Frame.Title)
		}
		field := pick(doc, "main input")
		if kept, _ := attribute(field[0], "value"); len(field) != 1 || kept != typed {
			t.Errorf("%q: the field has %q", typed, kept)
		}
		if refused := p.Field.Problem != ""; refused != (typed == "97C") {
			t.Errorf("%q: problem %q", typed, p.Field.Problem)
		}
		if (len(pick(doc, "main table")) == 1) != (len(p.Readings) > 0) {
			t.Errorf("%q: the table is wrong", typed)
		}
	}
}

// A print that does not fit the part's value is said on the page of the revision.
func TestPrintAgainstValue(t *testing.T) {
	t.Parallel()
	known, err := profile.Load("p.yaml", []byte(`
format: ohmstead/board-profile/1
id: p
title: prints
ground: gnd
parts:
  R1: {kind: resistor, pins: [a, gnd], value: 10k, marking: "103"}
  R2: {kind: resistor, pins: [a, gnd], value: 1k, marking: "103"}
  R3: {kind: resistor, pins: [a, gnd], value: 4.75k, marking: 66B}
  R4: {kind: resistor, pins: [a, gnd], value: 1k, marking: X9}
  R5: {kind: resistor, pins: [a, gnd], value: 1k}
  C1: {kind: capacitor, pins: [a, gnd], value: 10n, marking: "103"}
  C2: {kind: capacitor, pins: [a, gnd], value: 100n, marking: 473K}
  D1: {kind: diode, pins: {anode: a, cathode: gnd}, marking: A7}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"R1": "printed 103", "R2": "printed 103: that is no resistor of 1 kΩ. One of the two is wrong.", "R3": "printed 66B",
		"R4": "printed X9", "R5": "", "C1": "printed 103", "C2": "printed 473K: that is no capacitor of 100 nF. One of the two is wrong.", "D1": "printed A7"}
	for _, row := range partRows(known, NewLocale("en-IE", "Europe/Dublin")) {
		if row.Print != want[row.Ref] || row.Misfit != strings.Contains(want[row.Ref], "wrong") {
			t.Errorf("%s: %q, misfit %v", row.Ref, row.Print, row.Misfit)
		}
	}
}
