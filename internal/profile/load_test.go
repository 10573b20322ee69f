package profile

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"ohmstead/internal/written"
)

// same compares profiles, but for where they were read.
var same = cmp.Options{
	cmpopts.IgnoreUnexported(Profile{}),
	cmpopts.IgnoreFields(Profile{}, "File", "Warnings"),
	cmpopts.EquateNaNs(),
}

func example(t testing.TB) string {
	t.Helper()
	src, err := os.ReadFile("testdata/demo-sense-a.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

func mustLoad(t testing.TB, src string) *Profile {
	t.Helper()
	p, err := Load("x", []byte(src), nil)
	if err != nil {
		t.Fatalf("%v in\n%s", err, src)
	}
	return p
}

// The example of the format, read completely.
func TestLoadExample(t *testing.T) {
	t.Parallel()
	got, err := LoadFile("testdata/demo-sense-a.yaml")
	if err != nil {
		t.Fatal(err)
	}
	resistor := func(ref, a, b string, value, tol float64) Part {
		return Part{Ref: ref, Kind: Resistor, Pins: []Pin{{"a", a}, {"b", b}}, Params: map[string]float64{"value": value, "tolerance": tol}}
	}
	chip := func(p Part) Part { p.Package = "1206"; return p }
	r3 := resistor("R3", "sense", "gnd", 6800, 0.01)
	r3.Where = "beside U2"
	want := &Profile{
		ID: "demo-sense-a", Title: "Pump drive, bus sensing", Family: "Pump drive", Revision: "A", Ground: "gnd",
		StoredEnergy: []string{"C10"}, Ambient: Ambient{25, 5},
		Parts: []Part{
			chip(resistor("R1", "bus_p", "n1", 330e3, 0.01)), chip(resistor("R2", "n1", "sense", 330e3, 0.01)), r3,
			{Ref: "C10", Kind: Capacitor, Pins: []Pin{{"plus", "bus_p"}, {"minus", "gnd"}},
				Params: map[string]float64{"value": 330e-6, "tolerance": 0.2, "esr": math.NaN()}},
			resistor("R4", "sense", "adc", 1000, 0.05),
			{Ref: "U2", Kind: InputPin, Pins: []Pin{{"pin", "adc"}, {"ground", "gnd"}, {"supply", "v5"}},
				Params: map[string]float64{"clamp": 0.6, "resistance": 10e6}},
		},
		Points: []Point{{Name: "TP3", Node: "sense", Where: "left of U2"}},
		States: []State{
			{ID: "cold", Title: "unpowered", Hazard: HazardNone, Switches: map[string]bool{}},
			{ID: "injected", Title: "30 V from a current-limited supply on the dead bus", Hazard: ExtraLowVoltage, SetupMinutes: 2,
				Switches: map[string]bool{},
				Sources:  []Source{{Name: "bench", Kind: VoltsSource, Plus: "bus_p", Minus: "gnd", Volts: 30, Tolerance: 0.01, Limit: 2}}},
			{ID: "live", Title: "isolated, current-limited mains; 5 V present", Hazard: Hazardous, SetupMinutes: 5, LiveCommon: true,
				Switches: map[string]bool{},
				Sources: []Source{
					{Name: "bus", Kind: VoltsSource, Plus: "bus_p", Minus: "gnd", Volts: 325, Tolerance: 0.1, Limit: 2},
					{Name: "v5", Kind: VoltsSource, Plus: "v5", Minus: "gnd", Volts: 5, Tolerance: 0.02, Limit: 2}}},
		},
		Checks: []Check{
			{ID: "k1", State: "cold", Measure: MeasureResistance, Across: "R3", Minutes: 1, RedNode: "sense", BlackNode: "gnd"},
			{ID: "k2", State: "cold", Measure: MeasureDiode, Red: "adc", Black: "v5", Minutes: 1, RedNode: "adc", BlackNode: "v5"},
			{ID: "k3", State: "live", Measure: MeasureDCVolts, Red: "TP3", Minutes: 1, RedNode: "sense", BlackNode: "gnd"},
			{ID: "k4", State: "cold", Measure: MeasureResistance, Across: "R3", Lifted: true, Minutes: 6, RedNode: "sense", BlackNode: "gnd"},
		},
		Blocks: []Block{{ID: "bus-sense", Title: "DC-bus voltage sensing", Path: []string{"bus_p", "R1", "n1", "R2", "sense", "R4", "adc"},
			Parts: []string{"R1", "R2", "R3", "R4", "U2"}, Believes: &Believes{Node: "adc", Of: "bus", FullScale: 5}}},
		Indications: []Indication{{Code: "2", Shows: "two blinks, pause", Meaning: "DC-bus voltage out of range", Blocks: []string{"bus-sense"},
			Limits: []Limit{{State: "live", Place: "adc", Node: "adc", To: "gnd", Below: 2.1, Above: 4.2}}}},
		Nodes: []string{"bus_p", "n1", "sense", "gnd", "adc", "v5"},
	}
	if d := cmp.Diff(want, got, same); d != "" {
		t.Error(d)
	}
	if len(got.Warnings) > 0 {
		t.Errorf("warnings: %v", written.Errors(got.Warnings))
	}
}

// What Flatten writes loads to the same profile.
func TestFlatten(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, example(t))
	flat, err := p.Flatten()
	if err != nil {
		t.Fatal(err)
	}
	again, err := Load("demo-sense-a.yaml", flat, nil)
	if err != nil {
		t.Fatalf("%v in\n%s", err, flat)
	}
	if d := cmp.Diff(p, again, same); d != "" {
		t.Errorf("%s in\n%s", d, flat)
	}
	twice, err := again.Flatten()
	if err != nil || string(twice) != string(flat) {
		t.Errorf("flattened twice: %v\n%s", err, twice)
	}
	if _, err := (&Profile{}).Flatten(); err == nil {
		t.Error("a profile that was not loaded was flattened")
	}
}

// Every text is read as written.
func TestTextsAsWritten(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, `format: ohmstead/board-profile/1
id: x
title: on
revision: 1e3
ground: 0
parts:
  4: {kind: resistor, pins: [yes, 0], value: 10, package: 0603, marking: 01C, note: 0x1F}
indications:
  - {code: off, shows: 1.50, meaning: .inf}
`)
	part := p.Parts[0]
	got := []string{p.Title, p.Revision, p.Ground, part.Ref, part.Pins[0].Node, part.Package, part.Marking, part.Note,
		p.Indications[0].Code, p.Indications[0].Shows, p.Indications[0].Meaning}
	want := []string{"on", "1e3", "0", "4", "yes", "0603", "01C", "0x1F", "off", "1.50", ".inf"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestFamily(t *testing.T) {
	t.Parallel()
	const head = "format: ohmstead/board-profile/1\nid: x\n"
	for src, want := range map[string]string{
		"title: Pump drive, bus sensing":    "Pump drive",
		"title: Pump drive":                 "Pump drive",
		"title: Pump drive\nfamily: SEDGE":  "SEDGE",
		"title: \"\"\nfamily: 4":            "4",
		"title: A, B, C\nrevision: D":       "A",
		"title: SEDGE D, pump drive\nnote:": "",
	} {
		p, err := Load("x", []byte(head+src), nil)
		if want == "" {
			if err == nil {
				t.Errorf("%q: no error", src)
			}
			continue
		}
		if err != nil || p.Family != want {
			t.Errorf("%q: family %q, %v, want %q", src, p.Family, err, want)
		}
	}
}

// A profile without parts names places freely; what a good board reads there
// is learned.
func TestNoParts(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, `format: ohmstead/board-profile/1
id: x
title: A board without a schematic
ground: com
stored_energy: [big one]
states:
  live: {sources: [{name: bus, plus: P, minus: com, volts: 320}]}
points:
  spot: {node: third pin}
checks:
  - {id: a, state: cold, measure: resistance, red: X1.3, black: X1.4}
  - {id: b, state: cold, measure: resistance, red: X1.3}
  - {id: c, state: cold, measure: resistance, across: R47}
  - {id: d, state: cold, measure: resistance, across: R47, swapped: true}
  - {id: e, state: live, measure: dc_volts, red: spot}
alike: [[a, b]]
blocks:
  first: {parts: [R47], path: [P, R47, X1.3]}
`)
	var got []string
	for _, c := range p.Checks {
		got = append(got, c.ID+" "+c.RedNode+" "+c.BlackNode)
	}
	want := []string{"a X1.3 X1.4", "b X1.3 com", "c R47:a R47:b", "d R47:b R47:a", "e third pin com"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestDefaultChecks(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, `format: ohmstead/board-profile/1
id: x
title: x
ground: g
parts:
  R3: {kind: resistor, pins: [a, g], value: 1k}
  Z1: {kind: link, pins: [a, a]}
  C1: {kind: capacitor, pins: {plus: a, minus: g}, value: 1u}
  C2: {kind: capacitor, pins: [a, g], value: 1u}
  D1: {kind: diode, pins: {anode: g, cathode: a}}
  K1: {kind: switch, pins: [a, b]}
  L1: {kind: load, pins: [a, g]}
  BR1: {kind: bridge, pins: {ac1: b, ac2: c, plus: a, minus: g}}
points:
  TP3: {node: a}
  TP0: {node: g}
states:
  injected: {hazard: extra_low_voltage}
  live: {}
`)
	var got []string
	for _, c := range p.Checks {
		got = append(got, strings.Join([]string{c.ID, string(c.Measure), c.RedNode, c.BlackNode}, " "))
	}
	want := []string{
		"cold:R3 resistance a g", "cold:C1 resistance a g", "cold:C2 resistance a g", "cold:D1 resistance g a", "cold:K1 resistance a b",
		"injected:TP3 dc_volts a g", "live:TP3 dc_volts a g",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if p := mustLoad(t, "format: ohmstead/board-profile/1\nid: x\ntitle: x\nchecks: []\n"); len(p.Checks) != 0 {
		t.Errorf("an empty list of checks gives %v", p.Checks)
	}
}

// A place is read against its own zero, the ground where it is connected, or
// the minus of the first source on its island.
func TestZeros(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, `format: ohmstead/board-profile/1
id: x
title: x
ground: g
parts:
  R1: {kind: resistor, pins: [a, g], value: 1k}
  U7: {kind: optocoupler, pins: {anode: o1, cathode: o2, collector: a, emitter: g}}
  R2: {kind: resistor, pins: [vi, o1], value: 2k2}
  K1: {kind: switch, pins: [o2, ci]}
  CY: {kind: capacitor, pins: [ci, g], value: 2n2}
  R3: {kind: resistor, pins: [x1, x2], value: 1k}
points:
  PI: {node: o1}
  PO: {node: o1, to: o2}
states:
  iso:
    sources:
      - {name: v12, plus: vi, minus: ci, volts: 12}
      - {name: v5, plus: a, minus: g, volts: 5}
      - {name: reg, plus: x1, minus: x2, holds: {node: PI, volts: 2.5}, at_most: 60}
  joined:
    sources:
      - {name: v12, plus: vi, minus: g, volts: 12}
      - {name: reg, plus: x1, minus: x2, holds: {node: x1, volts: 2.5, to: o2}, at_most: 60}
checks:
  - {id: ground, state: iso, measure: dc_volts, red: a}
  - {id: island, state: iso, measure: dc_volts, red: PI}
  - {id: own, state: iso, measure: dc_volts, red: PO}
  - {id: joined, state: joined, measure: dc_volts, red: PI}
  - {id: cold, state: cold, measure: resistance, red: o1}
  - {id: bare, state: iso, measure: dc_volts, red: x1}
indications:
  - code: 1
    limits: [{state: iso, node: PI, below: 1}, {state: iso, node: o1, to: a, above: 1}, {state: joined, node: o1, above: 1}]
`)
	for id, want := range map[string]string{"ground": "g", "island": "ci", "own": "o2", "joined": "g", "cold": "ci", "bare": "x2"} {
		c, _ := p.Check(id)
		if c.BlackNode != want {
			t.Errorf("%s is read against %s, want %s", id, c.BlackNode, want)
		}
	}
	iso, _ := p.State("iso")
	if h := iso.Sources[2].Holds; h != (Holds{Node: "o1", To: "ci", Volts: 2.5}) {
		t.Errorf("holds %+v", h)
	}
	joined, _ := p.State("joined")
	if h := joined.Sources[1].Holds; h.To != "o2" {
		t.Errorf("holds against %q", h.To)
	}
	for i, want := range []string{"ci", "a", "g"} {
		if got := p.Indications[0].Limits[i].To; got != want {
			t.Errorf("limit %d against %q, want %q", i, got, want)
		}
	}
}

func TestResolve(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, example(t))
	c, err := p.Resolve(Check{State: "cold", Measure: MeasureResistance, Red: "TP3", Black: "gnd"})
	if err != nil || c.ID != "k1" || c.Minutes != 1 {
		t.Errorf("%+v, %v", c, err)
	}
	c, err = p.Resolve(Check{State: "cold", Measure: MeasureResistance, Across: "C10", Lifted: true, Swapped: true})
	if err != nil || c.ID != "" || c.RedNode != "gnd" || c.Minutes != 6 {
		t.Errorf("%+v, %v", c, err)
	}
	_, err = p.Resolve(Check{State: "cold", Measure: MeasureResistance, Across: "U2"})
	var e *CheckError
	if !errors.As(err, &e) || e.Field != "across" || !strings.Contains(err.Error(), `across "U2": a part of kind input_pin has more than two pins`) {
		t.Errorf("%v", err)
	}
	// Two capacitors side by side: the same check until one is lifted.
	a, b := Check{Across: "C1", RedNode: "p", BlackNode: "m"}, Check{Across: "C2", RedNode: "p", BlackNode: "m"}
	if a.Key() != b.Key() {
		t.Error("readings across parallel parts differ")
	}
	if a.Lifted, b.Lifted = true, true; a.Key() == b.Key() {
		t.Error("lifted readings of two parts are the same")
	}
}

func TestLookups(t *testing.T) {
	t.Parallel()
	p := mustLoad(t, example(t))
	if part, ok := p.Part("U2"); !ok || part.Pin("supply") != "v5" || part.Pin("gate") != "" || part.Param("clamp") != 0.6 || part.Param("x") != 0 {
		t.Errorf("U2 is %+v", part)
	}
	if _, ok := p.Part("R99"); ok {
		t.Error("R99 was found")
	}
	for place, want := range map[string]string{"TP3": "sense", "adc": "adc", "nowhere": ""} {
		if node, ok := p.Node(place); ok != (want != "") || ok && node != want {
			t.Errorf("%s is %q, %v", place, node, ok)
		}
	}
	if b, ok := p.Block("bus-sense"); !ok || b.Title == "" {
		t.Errorf("block %+v", b)
	}
	if _, ok := p.Block("x"); ok {
		t.Error("block x was found")
	}
	if _, ok := p.State("x"); ok {
		t.Error("state x was found")
	}
	if _, ok := p.Check("x"); ok {
		t.Error("check x was found")
	}
}

func TestLoadFileErrors(t *testing.T) {
	t.Parallel()
	if _, err := LoadFile("testdata/nothing.yaml"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v", err)
	}
	dir := t.TempDir()
	name := filepath.Join(dir, "other-name.yaml")
	if err := os.WriteFile(name, []byte(example(t)), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := LoadFile(name)
	if err == nil || !strings.Contains(err.Error(), `other-name.yaml:2:5: "demo-sense-a": the id is not the file's name; expected other-name`) {
		t.Errorf("%v", err)
	}
}

// What is no profile at all, or cannot be resolved without a ground.
func TestNoProfile(t *testing.T) {
	t.Parallel()
	head := "format: ohmstead/board-profile/1\nid: x\ntitle: x\n"
	for src, want := range map[string]string{
		"[a, b]": "x:1:1: a board profile is a map; expected format: ohmstead/board-profile/1",
		head + "checks: [{id: a, state: cold, measure: diode, red: p}]\n":                                     `x:4:11: the black probe has no place and the profile no ground; expected a place`,
		head + "ground: g\nparts: {K1: {kind: switch, pins: [a, g]}}\nstates: {on: {switches: {K1: ajar}}}\n": `x:6:30: "ajar": not a position of a switch; expected closed or open`,
	} {
		if _, err := Load("x", []byte(src), nil); err == nil || err.Error() != want {
			t.Errorf("%s\n got %v\nwant %s", src, err, want)
		}
	}
}

// Whatever is loaded stands on its feet, and every error has a place.
func FuzzLoad(f *testing.F) {
	base := []byte(example(f))
	f.Add(base)
	f.Add([]byte("format: ohmstead/board-profile/1\nid: x\ntitle: x\nbased_on: demo-sense-a\nparts: {R1: null, R3: {value: 8k2}}\nchecks: [{id: k2, drop: true}]\n"))
	f.Add([]byte("format: ohmstead/board-profile/1\nid: x\ntitle: x\nchecks: [{id: a, state: cold, measure: diode, red: p, black: q}]\n"))
	parent := func(id string) ([]byte, error) {
		if id == "demo-sense-a" {
			return base, nil
		}
		return nil, fs.ErrNotExist
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, err := Load("f", src, parent)
		if err != nil {
			var es written.Errors
			if !errors.As(err, &es) {
				t.Fatalf("%v is no written.Errors", err)
			}
			for _, e := range es {
				if e.Line < 1 || e.Column < 1 || e.Problem == "" {
					t.Fatalf("an error without a place: %v", e)
				}
			}
			return
		}
		for _, c := range p.Checks {
			if c.RedNode == "" || c.BlackNode == "" || c.Minutes <= 0 {
				t.Fatalf("check %+v", c)
			}
		}
		flat, err := p.Flatten()
		if err != nil {
			t.Fatal(err)
		}
		again, err := Load("f", flat, nil)
		if err != nil {
			t.Fatalf("%v in\n%s", err, flat)
		}
		if d := cmp.Diff(p, again, same); d != "" {
			t.Fatalf("%s in\n%s", d, flat)
		}
	})
}
