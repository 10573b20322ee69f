package profile

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/written"
)

// Every way a profile can be wrong, with its place. Each case changes one text
// of the example once.
func TestErrors(t *testing.T) {
	t.Parallel()
	good := example(t)
	for _, c := range []struct{ old, new, want string }{
		// The head.
		{"ohmstead/board-profile/1", "ohmstead/board-profile/2", `1:9: "ohmstead/board-profile/2": not the format of a board profile; expected ohmstead/board-profile/1`},
		{"format: ohmstead/board-profile/1", "", "2:1: format is missing"},
		{"id: demo-sense-a", "id: Demo", `2:5: "Demo": not an id; expected lower-case letters, digits and hyphens`},
		{"id: demo-sense-a  ", "id: other  ", `2:5: "other": the id is not the file's name; expected demo-sense-a`},
		{"title: Pump drive, bus sensing", "", "1:1: title is missing"},
		{"title: Pump drive, bus sensing", "title: [a]", "3:8: title is a list; expected a text"},
		{"revision: A", "revison: A", `4:1: "revison": an unknown key; expected one of format, id, based_on, flattened_from, title, family, revision, note, ground, stored_energy, hazardous_live, alike, ambient, parts, points, states, checks, blocks, indications`},
		{"revision: A", "revision:", `4:1: "revision": nothing stands here, and there is nothing to remove; expected a value (a text with a comma in it needs quotes)`},
		{"revision: A", "ambient: {typical: 25 %}", `4:20: "25 %": not a value for typical: a wrong unit; expected degrees Celsius such as 25`},
		{"revision: A", "ambient: {typical: 200}", `4:20: "200": no bench is that warm; expected at most 150 °C`},
		{"revision: A", "flattened_from: B", `4:17: "B": not an id; expected lower-case letters, digits and hyphens`},
		{"revision: A", "flattened_from: b\nbased_on: c", `4:17: "b": a flattened profile is not based on another`},
		{"ground: gnd ", "ground: gdn ", `5:9: "gdn": no part is connected to this node; expected the node that reads 0 V`},
		{"ground: gnd ", "# ", "1:1: ground is missing; expected the node that reads 0 V"},
		{"stored_energy: [C10]", "stored_energy: C10", `6:16: "C10": stored_energy is a text; expected a list`},
		{"stored_energy: [C10]", "stored_energy: [C11]", `6:17: "C11": no such part; expected a capacitor`},
		{"stored_energy: [C10]", "stored_energy: [R1]", `6:17: "R1": not a capacitor; expected a capacitor`},
		{"stored_energy: [C10]", "hazardous_live: [mains]", `6:18: "mains": no part is connected to this node; expected a node`},

		// Parts.
		{"kind: resistor, pins: [bus_p, n1]", "pins: [bus_p, n1]", "9:9: kind is missing"},
		{"kind: resistor, pins: [bus_p, n1]", "kind: resitor, pins: [bus_p, n1]", `9:15: "resitor": an unknown kind of part; expected a kind such as resistor, capacitor or diode`},
		{"pins: [bus_p, n1], ", "", "9:9: pins of R1 are missing; expected a list of two nodes"},
		{"pins: [bus_p, n1]", "pins: [bus_p]", "9:31: 1 pins; expected a list of two nodes"},
		{"pins: [bus_p, n1]", "pins: {a: bus_p, b: n1}", "9:32: pins of R1 are a map; expected a list of two nodes"},
		{"pins: {plus: bus_p, minus: gnd}", "pins: gnd", `12:32: "gnd": pins of C10 are a text; expected a list of two nodes or a map with plus, minus`},
		{"pins: {pin: adc, ground: gnd, supply: v5}", "pins: [adc, gnd]", "14:32: pins of U2 are a list; expected a map with pin, ground, supply"},
		{"pins: {pin: adc, ground: gnd, supply: v5}", "pins: {pin: adc, ground: gnd}", "14:33: supply is missing"},
		{"pins: {pin: adc, ground: gnd, supply: v5}", "pins: {pin: adc, ground: gnd, supply: v5, vcc: v5}", `14:68: "vcc": an unknown key; expected one of pin, ground, supply`},
		{"value: 330k, tolerance: 1 %, package: \"1206\"", "tolerance: 1 %", "9:9: value is missing; expected ohms such as 820, 4.7k, 4k7 or 0R1"},
		{"value: 6k8", "value: 6k8k", `11:52: "6k8k": not a value for value: "k" is not understood after a letter code (a tolerance has a field of its own); expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"value: 6k8", "value: 6.8 nF", `11:52: "6.8 nF": not a value for value: a wrong unit; expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"value: 6k8", "value: 6.8e3", `11:52: "6.8e3": not a value for value: exponents are not accepted; expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"value: 6k8", "value: OL", `11:52: "OL": value cannot be over-range; expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"value: 6k8", "value: 0", `11:52: "0": value cannot be 0; expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"value: 6k8", "value: [6k8]", "11:52: value is a list; expected ohms such as 820, 4.7k, 4k7 or 0R1"},
		{"value: 6k8, tolerance: 1 %", "value: 6k8, tolerance: 1", `11:68: "1": not a value for tolerance: the % sign is missing; expected a percentage such as 5 %`},
		{"value: 6k8, tolerance: 1 %", "value: 6k8, tolerance: 100 %", `11:68: "100 %": a tolerance of 100 % or more says nothing; expected a percentage below 100 %`},
		{"value: 6k8", "value: 6k8, gain: 3", `11:57: "gain": an unknown key; expected one of kind, pins, where, package, rating, marking, safety, photo, note, value, tolerance`},
		{"value: 6k8", "value: 6800G", `11:52: "6800G": value is greater than any part's; expected at most 1000 GΩ`},
		{"supply: v5}}", "supply: v5}, clamp: 1u}", `14:76: "1u": clamp is smaller than any part's; expected at least 1 mV`},
		{"supply: v5}}", "supply: v5}, clamp: never}", `14:76: "never": not a value for clamp: not a number; expected volts such as 3.31, 325 V or 6.15m or none`},
		{"where: beside U2", "safety: yes", `11:81: "yes": safety is a yes or no; expected true or false`},
		{"where: beside U2", "rating: {volts: -75}", `11:89: "-75": volts cannot be below 0; expected volts such as 3.31, 325 V or 6.15m`},
		{"where: beside U2", "rating: 75 V", `11:81: "75 V": rating is a text; expected a map with volts, watts`},
		{"where: beside U2", "photo: {x: 3}", "11:81: y is missing; expected a plain number such as 5"},
		{"  R4:  {kind: resistor, pins: [sense, adc], value: 1k, tolerance: 5 %}", "  R4: 1k", `13:7: "1k": part R4 is a text; expected a map with kind and pins`},
		{"  R4: ", "  R1: ", `13:3: "R1": stands here twice, first in line 9`},
		{"  R4: ", "  \" R4\": ", `13:3: " R4": not a name; expected 1 to 60 characters in one line`},

		// Points.
		{"TP3: {node: sense", "adc: {node: sense}\n  TP3: {node: sense", `17:3: "adc": a point may not bear a node's name; expected another name`},
		{"TP3: {node: sense", "TP3: {node: sens", `17:15: "sens": no part is connected to this node; expected a node of a part`},
		{"TP3: {node: sense", "TP3: {node: sense, to: x", `17:26: "x": no part is connected to this node; expected a node of a part`},
		{"TP3: {node: sense, where", "TP3: {where", "17:9: node is missing"},
		{"TP3: {node: sense, where: left of U2}", "TP3: sense", `17:8: "sense": point TP3 is a text; expected a map with node, to, where, note, photo`},

		// States and sources.
		{"hazard: extra_low_voltage", "hazard: low", `22:13: "low": not a hazard; expected none, extra_low_voltage or hazardous`},
		{"setup_minutes: 2", "setup_minutes: 2 min", `23:20: "2 min": not a value for setup_minutes: "min" is not understood; expected a plain number such as 5`},
		{"volts: 30 V", "volts: 61 V", `25:10: source bench can have more than 60 V in a state with hazard extra_low_voltage; expected hazard: hazardous`},
		{"volts: 30 V, tolerance: 1 %", "volts: 60 V, tolerance: 1 %", `25:10: source bench can have more than 60 V in a state with hazard extra_low_voltage; expected hazard: hazardous`},
		{"volts: 30 V, tolerance: 1 %}", "volts: 30 V, tolerance: 1 %}\n      - {name: top, plus: n1, minus: bus_p, volts: 31 V}", `25:7: the sources can have 61 V between gnd and n1 in a state with hazard extra_low_voltage; expected hazard: hazardous`},
		{"volts: 30 V", "volts_ac: 31 V, frequency: 50 Hz", `25:10: source bench can have more than 42.4 V peak in a state with hazard extra_low_voltage; expected hazard: hazardous`},
		{"volts: 30 V", "volts: 30 V, amps: 1", `25:67: "1": a source gives either volts or amps; expected one of them`},
		{"volts: 30 V", "limit: 1 A", `25:10: the source gives nothing; expected volts, amps, holds or volts_ac`},
		{"volts: 30 V", "amps: 1", `25:10: at_most is missing; expected volts such as 3.31, 325 V or 6.15m`},
		{"volts: 30 V", "holds: {node: adc}, at_most: 30", `25:56: volts is missing; expected volts such as 3.31, 325 V or 6.15m`},
		{"volts: 30 V", "holds: {node: ad, volts: 2.5}, at_most: 30", `25:62: "ad": no point and no node of this name; expected a point or a node`},
		{"volts: 30 V", "holds: {node: adc, volts: 2.5, to: nowhere}, at_most: 30", `25:83: "nowhere": no point and no node of this name; expected a point or a node`},
		{"volts: 30 V", "volts_ac: 12 V", `25:10: frequency is missing; expected hertz such as 50 or 100k`},
		{"volts: 30 V", "volts: 30 V, frequency: 50", `25:72: "50": frequency belongs to volts_ac`},
		{"volts: 30 V", "volts: 30 V, at_most: 50", `25:70: "50": at_most belongs to amps and holds`},
		{"name: bench, ", "", "25:10: name is missing"},
		{"minus: gnd, volts: 30 V", "minus: bus_p, volts: 30 V", `25:43: "bus_p": plus and minus of a source are the same node`},
		{"  live:\n", "  odd: 5\n  live:\n", `26:8: "5": state odd is a text; expected a map with title, note, hazard, setup_minutes, live_common, sources, switches`},
		{"  live:\n", "  cold: {hazard: none, live_common: false}\n  live:\n", `26:18: "none": the cold state has no hazard: it is unpowered
26:37: "false": the cold state has no live_common: it is unpowered`},
		{"  live:\n", "  live:\n    switches: {K9: closed}\n", `27:16: "K9": no switch of this name; expected a part of kind switch`},
		{"{name: v5,  plus", "{name: bus,  plus", `30:16: "bus": a second entry with this name`},
		{"  live:\n", "  cold: {sources: []}\n  live:\n", `26:19: the cold state has no sources: it is unpowered`},
		{"  live:\n", "  live:\n    switches: {R1: closed}\n", `27:16: "R1": no switch of this name; expected a part of kind switch`},
		{"  live:\n", "  live:\n    live_common: maybe\n", `27:18: "maybe": live_common is a yes or no; expected true or false`},

		// Checks.
		{"{id: k1, ", "{", "33:6: id is missing"},
		{"id: k2", "id: k1", `34:10: "k1": a second entry with this id`},
		{"{id: k1, state: cold", "{id: k1, state: warm", `33:21: "warm": no such state; expected a state of the profile`},
		{"measure: diode", "measure: continuity", `34:36: "continuity": not a measure; expected resistance, diode, dc_volts, ac_volts, capacitance or esr`},
		{"state: live, measure: dc_volts", "state: live, measure: diode", `35:36: "diode": this is measured on the unpowered board only; expected state cold`},
		{"across: R3}", "across: R9}", `33:56: "R9": no such part; expected a part with two pins`},
		{"across: R3}", "across: U2}", `33:56: "U2": a part of kind input_pin has more than two pins; expected a part with two pins`},
		{"across: R3}", "across: R3, red: adc}", `33:56: "R3": a check is either across a part or between places; expected across, or red and black`},
		{"across: R3}", "black: adc}", `33:6: the check says not where; expected across, or red`},
		{"red: adc, black: v5", "red: ad, black: v5", `34:48: "ad": no point and no node of this name; expected a point or a node`},
		{"red: adc, black: v5", "red: adc, black: vcc", `34:60: "vcc": no point and no node of this name; expected a point or a node`},
		{"red: adc, black: v5", "red: TP3, black: sense", `34:48: "TP3": both probes are on the same node; expected two different nodes`},
		{"red: adc, black: v5", "red: adc, lifted: true", `34:61: "true": lifted is for a cold check across a part; expected across and a cold measure`},
		{"  - {id: k1, state: cold, measure: resistance, across: R3}", "  - k1", `33:5: "k1": a check is a text; expected a map with id, state, measure, across, red, black, lifted, swapped, minutes, note`},
		{"across: R3}", "across: R3, minutes: 0}", `33:69: "0": minutes cannot be 0; expected a plain number such as 5`},
		{"across: R3}", "across: R3, colour: red}", `33:60: "colour": an unknown key; expected one of id, state, measure, across, red, black, lifted, swapped, minutes, note`},
		{"across: R3}", "across: R3, drop: true}", `33:66: "k1": nothing to drop: no inherited entry of this name`},
		{"revision: A", "alike: [[k1, k9]]", `4:14: "k9": no check of this id; expected the id of a check`},
		{"revision: A", "alike: [[k1]]", `4:9: one check is not alike with itself; expected two checks or more`},
		{"revision: A", "alike: [k1, k2]", "4:9: \"k1\": a group of alike is a text; expected a list\n4:13: \"k2\": a group of alike is a text; expected a list"},

		// Blocks and indications.
		{"parts: [R1, R2, R3, R4, U2]", "parts: [R1, R5]", `39:101: "R5": no such part; expected a designator`},
		{"path: [bus_p, R1", "path: [bus, R1", `39:53: "bus": no part, point or node of this name; expected a part, a point or a node`},
		{"believes: {node: adc", "believes: {node: ad", `40:32: "ad": no point and no node of this name; expected a point or a node`},
		{"of: bus,", "of: mains,", `40:41: "mains": no source of this name; expected the name of a source`},
		{", full_scale: 5 V", "", `40:26: full_scale is missing; expected volts such as 3.31, 325 V or 6.15m`},
		{"  bus-sense: {", "  odd: 5\n  bus-sense: {", `39:8: "5": block odd is a text; expected a map with title, note, path, parts, believes, safety`},
		{"  - code: 2\n", "  - odd\n  - code: 2\n", `43:5: "odd": an indication is a text; expected a map with code, shows, meaning, note, blocks, limits, normal_on_a_bench`},
		{"{state: live, node: adc, below: 2.1 V, above: 4.2 V}", "low", `48:9: "low": a limit is a text; expected a map with state, node, to, below, above`},
		{"code: 2", "code: none", `43:11: "none": this code means that nothing is shown; expected another code`},
		{"  - code: 2\n", "  - code: 2\n  - code: 2\n", `44:11: "2": a second entry with this code`},
		{"blocks: [bus-sense]", "blocks: [x]", `46:14: "x": no block of this id; expected the id of a block`},
		{"below: 2.1 V, above: 4.2 V", "below: 4.2 V, above: 2.1 V", `48:41: "4.2 V": below is higher than above: it would always be shown`},
		{", below: 2.1 V, above: 4.2 V", "", `48:10: the limit has no bound; expected below, above or both`},
		{"state: live, node: adc", "state: soak, node: adc", `48:17: "soak": no such state; expected a state of the profile`},
		{"state: live, node: adc", "state: live, node: ad", `48:29: "ad": no point and no node of this name; expected a point or a node`},
		{"state: live, node: adc", "state: live, to: ad, node: adc", `48:27: "ad": no point and no node of this name; expected a point or a node`},
		{"normal_on_a_bench: false", "normal_on_a_bench: 0", `49:24: "0": normal_on_a_bench is a yes or no; expected true or false`},
	} {
		if n := strings.Count(good, c.old); n == 0 {
			t.Fatalf("%q is not in the example", c.old)
		}
		_, err := Load("demo-sense-a.yaml", []byte(strings.Replace(good, c.old, c.new, 1)), nil)
		if err == nil {
			t.Errorf("%s for %s: no error", c.new, c.old)
			continue
		}
		checkPlaces(t, err, strings.Replace(good, c.old, c.new, 1))
		got := strings.ReplaceAll(err.Error(), "demo-sense-a.yaml:", "")
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s for %s:\n got %s\nwant %s", c.new, c.old, got, c.want)
		}
	}
}

// checkPlaces sees to it that what an error quotes stands at its place.
func checkPlaces(t *testing.T, err error, src string) {
	t.Helper()
	var es written.Errors
	if !errors.As(err, &es) {
		t.Fatalf("%v is no written.Errors", err)
	}
	lines := strings.Split(src, "\n")
	for _, e := range es {
		at := []rune(lines[e.Line-1])[e.Column-1:]
		if text := strings.TrimLeft(string(at), `"`); e.Text != "" && e.Problem != "nothing to drop: no inherited entry of this name" && !strings.HasPrefix(text, e.Text) {
			t.Errorf("%v: there stands %q", e, text)
		}
	}
}

// Several errors are told at once, in the order of the file, and one slip is
// not reported again by everything that names the part.
func TestSeveralErrors(t *testing.T) {
	t.Parallel()
	src := example(t)
	for _, r := range []struct{ old, new string }{
		{"value: 6k8", "value: 6k8k"}, {"title: Pump", "titel: Pump"}, {"hazard: extra_low_voltage", "hazard: low"}, {"kind: capacitor", "kind: condenser"},
	} {
		src = strings.Replace(src, r.old, r.new, 1)
	}
	_, err := Load("x", []byte(src), nil)
	if err == nil {
		t.Fatal("no error")
	}
	var got []string
	for _, line := range strings.Split(err.Error(), "\n") {
		place, _, _ := strings.Cut(line, ": ")
		got = append(got, place)
	}
	if d := cmp.Diff([]string{"x:1:1", "x:3:1", "x:11:52", "x:12:15", "x:22:13"}, got); d != "" {
		t.Errorf("%s in\n%v", d, err)
	}
}

func TestWarnings(t *testing.T) {
	t.Parallel()
	src := example(t)
	for _, r := range []struct{ old, new string }{
		{"value: 6k8", "value: 6k85"}, {"path: [bus_p, R1, n1", "path: [bus_p, R1, gnd"}, {"pins: [sense, adc]", "pins: [adc, adc]"},
		{"plus: bus_p, minus: gnd, volts: 30 V", "plus: bus, minus: gnd, volts: 30 V"},
		{"volts: 5 V,", "volts_ac: 5 V, frequency: 50, limit: 1,"},
	} {
		src = strings.Replace(src, r.old, r.new, 1)
	}
	p, err := Load("x", []byte(src), nil)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, w := range p.Warnings {
		got = append(got, w.Error())
	}
	want := []string{
		`x:11:52: "6k85": R3 has no preferred value (IEC 60063); expected 6.81 kΩ, the nearest`,
		`x:13:31: R4 has both pins on one node`,
		`x:25:29: "bus": no part is connected to this node of source bench; expected a node of a part`,
		`x:30:83: "1": limit has no effect on a source of volts_ac`,
		`x:39:60: "R1": the path goes from R1 to gnd, which it does not touch`,
		`x:39:69: "R2": the path goes from R2 to gnd, which it does not touch`,
		`x:39:80: "R4": the path goes from R4 to sense, which it does not touch`,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestLimits(t *testing.T) {
	t.Parallel()
	const head = "format: ohmstead/board-profile/1\nid: x\ntitle: x\n"
	many := func(n int, format string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	for what, src := range map[string]string{
		"parts has":       "ground: a\nparts:\n" + many(maxParts+1, " R%d: {kind: link, pins: [a, b]}\n"),
		"states has":      "states:\n" + many(maxStates+1, " s%d: {}\n"),
		"checks has":      "checks:\n" + many(maxChecks+1, " - {id: k%d, state: cold, measure: diode, red: a, black: b}\n"),
		"indications has": "indications:\n" + many(maxIndications+1, " - {code: c%d}\n"),
		"points has":      "points:\n" + many(maxPoints+1, " p%d: {node: a}\n"),
		"blocks has":      "blocks:\n" + many(maxBlocks+1, " b%d: {}\n"),
		"not a name":      "ground: " + strings.Repeat("x", 61),
		"too long":        "note: " + strings.Repeat("x", 4001),
		"too deeply":      "note: " + strings.Repeat("[", 20) + strings.Repeat("]", 20),
		"too much in it":  "checks:\n" + many(5000, " - {id: k%d, state: cold, measure: diode, red: a, black: b}\n"),
	} {
		_, err := Load("x", []byte(head+src), nil)
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

func TestBasedOnErrors(t *testing.T) {
	t.Parallel()
	files := map[string]string{
		"a": "id: a\nbased_on: b", "b": "id: b\nbased_on: a", "self": "id: self\nbased_on: self", "lost": "id: lost\nbased_on: nowhere",
		"bad": "id: bad\ncolour: red", "child": "id: child\nbased_on: bad", "list": "id: list\nbased_on: [a]",
	}
	for i := range maxParents + 1 {
		files[fmt.Sprintf("c%d", i)] = fmt.Sprintf("id: c%d\nbased_on: c%d", i, i+1)
	}
	parent := func(id string) ([]byte, error) {
		src, ok := files[id]
		if !ok {
			return nil, fs.ErrNotExist
		}
		return []byte("format: ohmstead/board-profile/1\ntitle: x\n" + src + "\n"), nil
	}
	for id, want := range map[string]string{
		"a":     `b.yaml:4:11: "a": this profile is based on itself; expected another profile's id`,
		"self":  `self.yaml:4:11: "self": this profile is based on itself; expected another profile's id`,
		"lost":  `lost.yaml:4:11: "nowhere": no such profile beside this one; expected the id of another profile`,
		"child": `bad.yaml:4:1: "colour": an unknown key`,
		"list":  `list.yaml:4:11: based_on is a list; expected a text`,
		"c0":    `c8.yaml:4:11: "c9": too many profiles based on each other; expected at most 8`,
	} {
		src, _ := parent(id)
		_, err := Load(id+".yaml", src, parent)
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: %v, want %s", id, err, want)
		}
	}
	src, _ := parent("lost")
	if _, err := Load("lost.yaml", src, nil); err == nil || !strings.Contains(err.Error(), "no other profiles can be found from here") {
		t.Errorf("without parents: %v", err)
	}
	if _, err := Load("lost.yaml", src, func(string) ([]byte, error) { return nil, fmt.Errorf("disk on fire") }); err == nil ||
		!strings.Contains(err.Error(), "disk on fire") {
		t.Errorf("a parent that cannot be read: %v", err)
	}
}
