package profile

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

const parentBoard = `format: ohmstead/board-profile/1
id: board-a
title: Board, first
revision: A
note: the elder
ground: g
stored_energy: [C1, C2]
hazardous_live: [p, m1]
parts:
  R1: {kind: resistor, pins: [p, m1], value: 100k, tolerance: 5 %, rating: {volts: 500, watts: 2}}
  R2: {kind: resistor, pins: [m1, g], value: 100k}
  R3: {kind: resistor, pins: [p, s], value: 680k, package: axial}
  R4: {kind: resistor, pins: [s, g], value: 8k2}
  C1: {kind: capacitor, pins: {plus: p, minus: g}, value: 330u}
  C2: {kind: capacitor, pins: {plus: p, minus: g}, value: 330u}
  U1: {kind: input_pin, pins: {pin: s, ground: g, supply: v5}}
  K1: {kind: switch, pins: [s, g]}
points:
  TPM: {node: m1, where: between the bleeders}
  TPS: {node: s}
states:
  injected:
    hazard: extra_low_voltage
    sources: [{name: bench, plus: p, minus: g, volts: 30}]
  live:
    title: mains
    switches: {K1: closed}
    sources:
      - {name: bus, plus: p, minus: g, volts: 325}
      - {name: half, plus: m1, minus: g, volts: 160}
      - {name: v5, plus: v5, minus: g, volts: 5}
      - {name: reg, plus: v5, minus: g, holds: {node: m1, volts: 1}, at_most: 5}
checks:
  - {id: k1, state: cold, measure: resistance, across: R1}
  - {id: k2, state: cold, measure: resistance, across: R2}
  - {id: k3, state: cold, measure: resistance, across: R3}
  - {id: k4, state: live, measure: dc_volts, red: TPM}
  - {id: k5, state: live, measure: dc_volts, red: TPS}
  - {id: k6, state: injected, measure: dc_volts, red: s}
alike: [[k1, k2], [k1, k3, k5]]
blocks:
  bleeder: {title: bleeder, path: [p, R1, m1, R2, g], parts: [R1, R2]}
  sense: {title: sensing, path: [p, R3, s], parts: [R3, R4, R2], believes: {node: s, of: bus, full_scale: 5}}
  half: {believes: {node: s, of: half, full_scale: 5}}
indications:
  - {code: 1, shows: one, blocks: [bleeder, sense], limits: [{state: live, node: TPM, below: 1}, {state: live, node: s, above: 4}]}
  - {code: 2, shows: two}
`

func parents(files map[string]string) Parent {
	return func(id string) ([]byte, error) {
		if src, ok := files[id]; ok {
			return []byte(src), nil
		}
		return nil, fs.ErrNotExist
	}
}

func sibling(t *testing.T, rest string) *Profile {
	t.Helper()
	src := "format: ohmstead/board-profile/1\nid: board-b\nbased_on: board-a\n" + rest
	p, err := Load("board-b.yaml", []byte(src), parents(map[string]string{"board-a": parentBoard}))
	if err != nil {
		t.Fatalf("%v in\n%s", err, src)
	}
	return p
}

// names lists what a profile has, in order.
func names(p *Profile) string {
	var parts, points, states, checks, blocks, codes []string
	for _, x := range p.Parts {
		parts = append(parts, x.Ref)
	}
	for _, x := range p.Points {
		points = append(points, x.Name)
	}
	for _, x := range p.States {
		s := x.ID
		for _, src := range x.Sources {
			s += "+" + src.Name
		}
		states = append(states, s)
	}
	for _, x := range p.Checks {
		checks = append(checks, x.ID)
	}
	for _, x := range p.Blocks {
		blocks = append(blocks, fmt.Sprintf("%s%v%v%v", x.ID, x.Path, x.Parts, x.Believes != nil))
	}
	for _, x := range p.Indications {
		codes = append(codes, fmt.Sprintf("%s%v%d", x.Code, x.Blocks, len(x.Limits)))
	}
	return strings.Join([]string{
		"parts " + strings.Join(parts, " "), "points " + strings.Join(points, " "), "states " + strings.Join(states, " "),
		"checks " + strings.Join(checks, " "), "blocks " + strings.Join(blocks, " "), "codes " + strings.Join(codes, " "),
		fmt.Sprintf("alike %v energy %v live %v", p.Alike, p.StoredEnergy, p.HazardousLive),
	}, "\n")
}

func TestSiblingInheritsAll(t *testing.T) {
	t.Parallel()
	p := sibling(t, "revision: B\n")
	if p.BasedOn != "board-a" || p.ID != "board-b" || p.Revision != "B" || p.Title != "Board, first" || p.Family != "Board" || p.Note != "the elder" {
		t.Errorf("head %q %q %q %q %q %q", p.BasedOn, p.ID, p.Revision, p.Title, p.Family, p.Note)
	}
	want := `parts R1 R2 R3 R4 C1 C2 U1 K1
points TPM TPS
states cold injected+bench live+bus+half+v5+reg
checks k1 k2 k3 k4 k5 k6
blocks bleeder[p R1 m1 R2 g][R1 R2]false sense[p R3 s][R3 R4 R2]true half[][]true
codes 1[bleeder sense]2 2[]0
alike [[k1 k2] [k1 k3 k5]] energy [C1 C2] live [p m1]`
	if d := cmp.Diff(want, names(p)); d != "" {
		t.Error(d)
	}
}

// Maps merge key by key, inside parts too; a kind replaces the whole part; null
// removes; lists with names replace, drop, keep the place and append; other
// lists are replaced whole.
func TestSiblingMerges(t *testing.T) {
	t.Parallel()
	p := sibling(t, `note: null
parts:
  R9: {kind: resistor, pins: [s, g], value: 1M}
  R3: {value: 470k, rating: {volts: 350}}
  R1: {rating: {watts: null}}
  R4: {kind: resistor, pins: [s, g], value: 10k}
  C1: {pins: {plus: s}}
points:
  TPS: {where: left}
states:
  live:
    title: null
    sources:
      - {name: v33, plus: v5, minus: g, volts: 3.3}
      - {name: bus, plus: p, minus: g, volts: 310}
      - {name: half, drop: true}
checks:
  - {id: k9, state: cold, measure: diode, red: s, black: v5}
  - {id: k2, state: cold, measure: resistance, across: R2, lifted: true}
  - {id: k3, drop: true}
indications:
  - {code: 3, shows: three}
  - {code: 1, shows: one new}
blocks:
  half: null
  sense: {parts: [R3]}
stored_energy: [C2]
`)
	want := `parts R1 R2 R3 R4 C1 C2 U1 K1 R9
points TPM TPS
states cold injected+bench live+bus+v5+reg+v33
checks k1 k2 k4 k5 k6 k9
blocks bleeder[p R1 m1 R2 g][R1 R2]false sense[p R3 s][R3]true
codes 1[]0 2[]0 3[]0
alike [[k1 k2] [k1 k5]] energy [C2] live [p m1]`
	if d := cmp.Diff(want, names(p)); d != "" {
		t.Error(d)
	}
	r1, _ := p.Part("R1")
	r3, _ := p.Part("R3")
	r4, _ := p.Part("R4")
	c1, _ := p.Part("C1")
	if r1.Rating != (Rating{Volts: 500}) {
		t.Errorf("R1 is rated %+v", r1.Rating)
	}
	if r3.Param("value") != 470e3 || r3.Package != "axial" || r3.Rating.Volts != 350 {
		t.Errorf("R3 is %+v", r3)
	}
	if r4.Param("value") != 10e3 || r4.Param("tolerance") != 0.05 {
		t.Errorf("R4 is %+v", r4)
	}
	if c1.Pin("plus") != "s" || c1.Pin("minus") != "g" {
		t.Errorf("C1 is %+v", c1)
	}
	tps, _ := p.Point("TPS")
	live, _ := p.State("live")
	k2, _ := p.Check("k2")
	if tps.Node != "s" || tps.Where != "left" || live.Title != "" || live.Sources[0].Volts != 310 || !k2.Lifted || p.Note != "" {
		t.Errorf("%+v %+v %+v %q", tps, live, k2, p.Note)
	}
}

// Whatever is inherited and names something removed goes with it.
func TestSiblingDropsWhatIsGone(t *testing.T) {
	t.Parallel()
	p := sibling(t, "parts: {R1: null, R2: null, C1: null, K1: null}\n")
	want := `parts R3 R4 C2 U1
points TPS
states cold injected+bench live+bus+v5
checks k3 k5 k6
blocks bleeder[][]false sense[p R3 s][R3 R4]true half[][]false
codes 1[bleeder sense]1 2[]0
alike [[k3 k5]] energy [C2] live [p]`
	if d := cmp.Diff(want, names(p)); d != "" {
		t.Error(d)
	}
	p = sibling(t, "states: {injected: null}\nblocks: {bleeder: null}\npoints: {TPM: null}\n")
	want = `parts R1 R2 R3 R4 C1 C2 U1 K1
points TPS
states cold live+bus+half+v5+reg
checks k1 k2 k3 k5
blocks sense[p R3 s][R3 R4 R2]true half[][]true
codes 1[sense]1 2[]0
alike [[k1 k2] [k1 k3 k5]] energy [C1 C2] live [p m1]`
	if d := cmp.Diff(want, names(p)); d != "" {
		t.Error(d)
	}
}

// What the file itself says must be there, inherited or not.
func TestSiblingErrors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ src, want string }{
		{"parts: {R1: null}\nchecks: [{id: k1, state: cold, measure: resistance, across: R1}]", `5:61: "R1": no such part; expected a part with two pins`},
		{"parts: {R12: null}", `4:9: "R12": nothing stands here, and there is nothing to remove; expected a value (a text with a comma in it needs quotes)`},
		{"parts: {R1: {where: null}}", `4:14: "where": nothing stands here, and there is nothing to remove; expected a value (a text with a comma in it needs quotes)`},
		{"checks: [{id: k12, drop: true}]", `4:26: "k12": nothing to drop: no inherited entry of this name`},
		{"checks: [{id: k1, drop: no}]", `4:25: "no": drop is true or left out; expected true`},
		{"checks: [{id: k1, drop: true, across: R2}]", `4:11: an entry that drops says nothing else; expected its name and drop: true`},
		{"checks: [{id: k1, drop: true}, {id: k1, drop: true}]", `4:37: "k1": a second entry with this id`},
		{"checks: [{id: k1}]", "4:11: state is missing\nboard-b.yaml:4:11: measure is missing"},
		{"parts: {R3: {value: 4k7k}}", `4:21: "4k7k": not a value for value: "k" is not understood after a letter code (a tolerance has a field of its own); expected ohms such as 820, 4.7k, 4k7 or 0R1`},
		{"parts: {R3: {pins: {a: p}}}", "4:21: pins of R3 are a map; expected a list of two nodes"},
		{"blocks: {sense: {believes: {of: mains}}}", `4:33: "mains": no source of this name; expected the name of a source`},
		{"states: {live: {switches: {K2: open}}}", `4:28: "K2": no switch of this name; expected a part of kind switch`},
		{"title: null", "1:1: title is missing"},
	} {
		src := "format: ohmstead/board-profile/1\nid: board-b\nbased_on: board-a\n" + c.src
		p, err := Load("board-b.yaml", []byte(src), parents(map[string]string{"board-a": parentBoard}))
		if err == nil {
			t.Errorf("%s: no error\n%s", c.src, names(p))
		} else if got := err.Error(); got != "board-b.yaml:"+c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.src, got, c.want)
		}
	}
}

// A part that is replaced by one of another kind is not there any more: an
// inherited check across it goes, and with it what names the check.
func TestSiblingReplacesAPart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, src, gone string }{
		{"more pins", "parts: {R1: {kind: bridge, pins: {ac1: x, ac2: y, plus: p, minus: m1}}}\n", "k1"},
		{"both pins on one node", "parts: {R1: {pins: [p, p]}}\n", "k1"},
	} {
		p := sibling(t, c.src)
		if _, ok := p.Check(c.gone); ok {
			t.Errorf("%s: %s is still there", c.name, c.gone)
		}
		if _, ok := p.Part("R1"); !ok {
			t.Errorf("%s: R1 is gone", c.name)
		}
	}
	p := sibling(t, "parts: {C1: {kind: resistor, pins: [p, m1], value: 1k}}\n")
	if slices.Contains(p.StoredEnergy, "C1") {
		t.Error("a resistor is to be proven discharged")
	}
}

// An inherited point whose name a new node takes is told where the new node is.
func TestSiblingTakesAPointsName(t *testing.T) {
	t.Parallel()
	src := "format: ohmstead/board-profile/1\nid: board-b\nbased_on: board-a\nparts: {RX: {kind: resistor, pins: [TPM, p], value: 1k}}\n"
	_, err := Load("board-b.yaml", []byte(src), parents(map[string]string{"board-a": parentBoard}))
	if err == nil || !strings.HasPrefix(err.Error(), `board-b.yaml:4:37: "TPM": a point may not bear a node's name`) {
		t.Errorf("%v", err)
	}
}

// A grandchild sees what its parent dropped as gone.
func TestGrandchild(t *testing.T) {
	t.Parallel()
	files := map[string]string{
		"board-a": parentBoard,
		"board-b": "format: ohmstead/board-profile/1\nid: board-b\nbased_on: board-a\nparts: {R1: null}\n",
	}
	load := func(rest string) (*Profile, error) {
		return Load("board-c.yaml", []byte("format: ohmstead/board-profile/1\nid: board-c\nbased_on: board-b\n"+rest), parents(files))
	}
	p, err := load("parts: {R1: {kind: resistor, pins: [p, m1], value: 220k}}\n")
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := p.Check("k1"); ok {
		t.Error("a check that the parent dropped came back")
	}
	if r, ok := p.Part("R1"); !ok || r.Param("value") != 220e3 {
		t.Errorf("R1 is %+v", r)
	}
	if _, err := load("checks: [{id: k1, drop: true}]\n"); err == nil {
		t.Error("a check that is gone was dropped again")
	}
}

// A flattened sibling loads to the same profile without its parent, whatever
// was removed; and nothing in it refers to what is not there (or it would not
// load: all of it is its own now).
func TestFlattenedSiblingStandsAlone(t *testing.T) {
	t.Parallel()
	parts := []string{"R1", "R2", "R3", "R4", "C1", "C2", "U1", "K1"}
	states := []string{"injected", "live"}
	checks := []string{"k1", "k2", "k3", "k4", "k5", "k6"}
	rapid.Check(t, func(t *rapid.T) {
		remove := func(all []string, what, entry string) string {
			var b strings.Builder
			for _, x := range all {
				if rapid.Bool().Draw(t, x) {
					fmt.Fprintf(&b, entry, x)
				}
			}
			return b.String()
		}
		src := "format: ohmstead/board-profile/1\nid: board-b\nbased_on: board-a\nparts:\n  RX: {kind: resistor, pins: [p, g], value: 1k}\n" +
			remove(parts, "part", "  %s: null\n") + "states:\n  extra: {}\n" + remove(states, "state", "  %s: null\n") +
			"checks:\n  - {id: kx, state: cold, measure: resistance, across: RX}\n" + remove(checks, "check", "  - {id: %s, drop: true}\n")
		p, err := Load("board-b.yaml", []byte(src), parents(map[string]string{"board-a": parentBoard}))
		if err != nil {
			t.Fatalf("%v in\n%s", err, src)
		}
		flat, err := p.Flatten()
		if err != nil {
			t.Fatal(err)
		}
		again, err := Load("board-b.yaml", flat, nil)
		if err != nil {
			t.Fatalf("%v in\n%s", err, flat)
		}
		if d := cmp.Diff(p, again, same); d != "" {
			t.Fatalf("%s in\n%s", d, flat)
		}
	})
}
