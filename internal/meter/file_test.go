package meter

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/fault"
	"ohmstead/internal/written"
)

// The default meter is the one that the format describes, number by number.
func TestDefault(t *testing.T) {
	t.Parallel()
	want := &Meter{
		Name: "generic 6000-count handheld", Category: "CAT III 600 V", RatedVolts: 600,
		Resistance: Resistance{OpenCircuit: 0.5, Ranges: []Range{
			{600, 100, 0.009, 5, 0.1}, {6e3, 1e3, 0.009, 5, 1}, {60e3, 10e3, 0.009, 5, 10},
			{600e3, 100e3, 0.009, 5, 100}, {6e6, 1e6, 0.015, 5, 1e3}, {60e6, 10e6, 0.03, 5, 10e3},
		}},
		Diode:       Diode{Current: 1e-3, Compliance: 3, Accuracy: 0.01, Counts: 3, Resolution: 1e-3},
		DCVolts:     Volts{10e6, 0.005, 3, []Step{{6, 1e-3}, {60, 10e-3}, {600, 0.1}, {1000, 1}}},
		ACVolts:     Volts{10e6, 0.01, 5, []Step{{6, 1e-3}, {60, 10e-3}, {600, 0.1}, {750, 1}}},
		Capacitance: Impedance{100, 0.03, 5},
		ESR:         Impedance{100e3, 0.05, 5},
	}
	if d := cmp.Diff(want, Default()); d != "" {
		t.Error(d)
	}
}

func TestShipped(t *testing.T) {
	t.Parallel()
	if d := cmp.Diff([]string{"handheld-6000", "handheld-low-ohms"}, ShippedIDs()); d != "" {
		t.Error(d)
	}
	for _, id := range ShippedIDs() {
		m, err := Shipped(id)
		if err != nil {
			t.Errorf("%s: %v", id, err)
		} else if m.Resistance.OpenCircuit > 0.5 || m.RatedVolts < 600 {
			t.Errorf("%s tests with %v V and is rated for %v V", id, m.Resistance.OpenCircuit, m.RatedVolts)
		}
	}
	if m, err := Shipped("../shipped"); fault.KindOf(err) != fault.NotFound {
		t.Errorf("a meter that is not there: %v, %v", m, err)
	}
}

func TestLoadErrors(t *testing.T) {
	t.Parallel()
	src, err := ShippedSource(DefaultID)
	if err != nil {
		t.Fatal(err)
	}
	good := string(src)
	for _, c := range []struct{ old, new, want string }{
		{"ohmstead/meter/1", "ohmstead/meter/2", `m.yaml:3:9: "ohmstead/meter/2": not the format of a meter; expected ohmstead/meter/1`},
		{"CAT III 600 V", "600 V", `m.yaml:5:11: "600 V": not a measurement category; expected CAT II, III or IV and volts, such as CAT III 600 V`},
		{"category: CAT III 600 V", "colour: red", `m.yaml:5:1: "colour": an unknown key; expected one of format, name, category, resistance, diode, dc_volts, ac_volts, capacitance, esr`},
		{"open_circuit: 0.5 V", "open_circuit: 0.5 A", `m.yaml:7:17: "0.5 A": not a value for open_circuit: a wrong unit; expected volts such as 3.31, 325 V or 6.15m`},
		{"open_circuit: 0.5 V", "open_circuit: -1", `m.yaml:7:17: "-1": open_circuit cannot be below 0; expected volts such as 3.31, 325 V or 6.15m`},
		{"accuracy: 1.5 %", "accuracy: 1.5", `m.yaml:13:53: "1.5": not a value for accuracy: the % sign is missing; expected a percentage such as 5 %`},
		{"full_scale: 60k", "full_scale: 5k", `m.yaml:11:20: "5k": the ranges do not go upward; expected more than the range before`},
		{"full_scale: 60k,  ", "", `m.yaml:11:8: full_scale is missing; expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"[[6, 1m], [60, 10m], [600, 100m], [1000, 1]]", "[[6, 1m], [5, 10m]]", `m.yaml:16:85: "5": the ranges do not go upward; expected more than the range before`},
		{"[[6, 1m], [60, 10m], [600, 100m], [1000, 1]]", "[6, 1m]", "m.yaml:16:76: \"6\": not a pair; expected pairs of volts and resolution, such as [[6, 1m], [60, 10m]]\n" +
			"m.yaml:16:79: \"1m\": not a pair; expected pairs of volts and resolution, such as [[6, 1m], [60, 10m]]"},
		{"frequency: 100,", "frequency: 0,", `m.yaml:18:26: "0": frequency cannot be 0; expected hertz such as 50 or 100k`},
		{"compliance: 3 V", "compliance: OL", `m.yaml:15:39: "OL": compliance cannot be over-range; expected volts such as 3.31, 325 V or 6.15m`},
		{"name: generic 6000-count handheld", "", `m.yaml:3:1: name is missing`},
		{"esr:  ", "esx:  ", "m.yaml:3:1: esr is missing"},
		{"[[6, 1m], [60, 10m], [600, 100m], [1000, 1]]", "[]", "m.yaml:16:12: resolution is missing; expected pairs of volts and resolution, such as [[6, 1m], [60, 10m]]"},
		{"    - {full_scale: 600,", "    - 5\n    - {full_scale: 600,", `m.yaml:9:7: "5": a range is a text; expected a map with full_scale, reference, accuracy, counts, resolution`},
		{"esr:  ", "esr: ~\n#", `m.yaml:19:6: esr is nothing; expected a map with frequency, accuracy, counts`},
	} {
		if !strings.Contains(good, c.old) {
			t.Fatalf("%q is not in the file", c.old)
		}
		_, err := Load("m.yaml", []byte(strings.Replace(good, c.old, c.new, 1)))
		if err == nil {
			t.Errorf("%s for %s: no error", c.new, c.old)
		} else if !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s for %s:\n got %s\nwant %s", c.new, c.old, err, c.want)
		}
	}
	noRanges := good[:strings.Index(good, "  ranges:")] + good[strings.Index(good, "diode:"):]
	if _, err := Load("m.yaml", []byte(noRanges)); err == nil || !strings.HasPrefix(err.Error(), "m.yaml:7:3: ranges are missing; expected a list of ranges, upward") {
		t.Errorf("no ranges: %v", err)
	}
	if _, err := Load("m.yaml", []byte("a: [")); err == nil || !strings.HasPrefix(err.Error(), "m.yaml:1:") {
		t.Errorf("no YAML: %v", err)
	}
	if _, err := Load("m", []byte("[]")); err == nil || !strings.Contains(err.Error(), "a meter is a list") {
		t.Errorf("a list: %v", err)
	}
}

func FuzzLoad(f *testing.F) {
	for _, id := range ShippedIDs() {
		src, err := ShippedSource(id)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		m, err := Load("m", src)
		if err == nil {
			if len(m.Resistance.Ranges) == 0 || len(m.DCVolts.Steps) == 0 || m.Diode.Current <= 0 || m.ESR.Frequency <= 0 {
				t.Fatalf("a meter that measures nothing was accepted: %+v", m)
			}
			return
		}
		var es written.Errors
		if !errors.As(err, &es) {
			t.Fatalf("%v is no written.Errors", err)
		}
		for _, e := range es {
			if e.Line < 1 || e.Column < 1 || e.Problem == "" {
				t.Fatalf("an error without a place: %v", e)
			}
		}
	})
}
