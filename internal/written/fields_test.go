package written

import (
	"math"
	"strings"
	"testing"

	"ohmstead/internal/quantity"
)

// read gives the fields of a document and where their errors go.
func read(t *testing.T, src string) (*Node, Fields) {
	t.Helper()
	n, err := YAML("f", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	return n, Fields{Errs: &Errors{}}
}

func TestFieldsValue(t *testing.T) {
	t.Parallel()
	ohms := Rule{Name: "v", Unit: quantity.Ohm, Default: 7}
	zero, minus := Rule{Name: "v", Unit: quantity.Volt, Zero: true}, Rule{Name: "v", Unit: quantity.Volt, Zero: true, Minus: true}
	words := Rule{Name: "v", Unit: quantity.Ohm, Words: map[string]float64{"open": math.Inf(1)}}
	for _, c := range []struct {
		src  string
		rule Rule
		want float64
		err  string // part of it
	}{
		{"{v: 4k7}", ohms, 4700, ""},
		{"{x: 1}", ohms, 7, ""},
		{"{v: 0}", zero, 0, ""},
		{"{v: -5}", minus, -5, ""},
		{"{v: open}", words, math.Inf(1), ""},
		{"{x: 1}", Rule{Name: "v", Unit: quantity.Ohm, Required: true}, 0, "f:1:2: v is missing; expected ohms"},
		{"{v: 0}", ohms, 7, `f:1:5: "0": v cannot be 0`},
		{"{v: -5}", zero, 0, `"-5": v cannot be below 0`},
		{"{v: OL}", ohms, 7, "v cannot be over-range"},
		{"{v: closed}", words, 0, "or open"},
		{"{v: [1]}", ohms, 7, "f:1:5: v is a list"},
		{"{v: }", ohms, 7, "v is nothing"},
		{"{tolerance: 100 %}", Rule{Name: "tolerance", Unit: quantity.Percent}, 0, "says nothing"},
	} {
		n, f := read(t, c.src)
		got := f.Value(n, c.rule)
		switch err := f.Errs.Err(); {
		case got != c.want:
			t.Errorf("%s: %v, want %v", c.src, got, c.want)
		case (err == nil) != (c.err == ""), err != nil && !strings.Contains(err.Error(), c.err):
			t.Errorf("%s: %v, want %q", c.src, err, c.err)
		}
	}
}

func TestFieldsShapes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		src  string
		read func(Fields, *Node)
		err  string // part of it, empty: none
	}{
		{"{a: 1, b: 2}", func(f Fields, n *Node) { f.IsMap(n, "it", "a", "b") }, ""},
		{"{a: 1, c: 2}", func(f Fields, n *Node) { f.IsMap(n, "it", "a", "b") }, `f:1:8: "c": an unknown key; expected one of a, b`},
		{"[a]", func(f Fields, n *Node) { f.IsMap(n, "it", "a") }, "f:1:1: it is a list; expected a map with a"},
		{"[1, 2, 3]", func(f Fields, n *Node) { f.List(n, "it", 3) }, ""},
		{"[1, 2, 3]", func(f Fields, n *Node) { f.List(n, "it", 2) }, "it has 3 entries; expected at most 2"},
		{"{a: 1}", func(f Fields, n *Node) { f.List(n, "it", 2) }, "it is a map; expected a list"},
		{"{a: 1, b: 2}", func(f Fields, n *Node) { f.Entries(n, "it", 1) }, "it has 2 entries; expected at most 1"},
		{"{\" a\": 1}", func(f Fields, n *Node) { f.Entries(n, "it", 1) }, "not a name"},
		{"[a]", func(f Fields, n *Node) { f.Entries(n, "it", 1) }, "it is a list; expected a map by name"},
		{"{a: x y}", func(f Fields, n *Node) { f.Need(n, "a") }, ""},
		{"{a: \"\"}", func(f Fields, n *Node) { f.Need(n, "a") }, "not a name"},
		{"{a: {}}", func(f Fields, n *Node) { f.Need(n, "a") }, "a is a map; expected a text"},
		{"{b: 1}", func(f Fields, n *Node) { f.Need(n, "a") }, "a is missing"},
		{"text", func(f Fields, n *Node) { f.Need(n, "a") }, ""}, // IsMap has told of it
		{"[a, [b]]", func(f Fields, n *Node) { f.Texts(n, "it", 5) }, "f:1:5: an entry of it is a list; expected a text"},
		{"{a: true}", func(f Fields, n *Node) { f.Flag(n, "a", false) }, ""},
		{"{a: yes}", func(f Fields, n *Node) { f.Flag(n, "a", false) }, `"yes": a is a yes or no; expected true or false`},
	} {
		n, f := read(t, c.src)
		c.read(f, n)
		if err := f.Errs.Err(); (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%s: %v, want %q", c.src, err, c.err)
		}
	}
	n, f := read(t, "{a: true, b: false}")
	if !f.Flag(n, "a", false) || f.Flag(n, "b", true) || !f.Flag(n, "c", true) || f.List(nil, "it", 1) != nil || f.Entries(nil, "it", 1) != nil {
		t.Error("flags or missing lists are read wrongly")
	}
}
