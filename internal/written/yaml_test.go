package written

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// outline writes a tree with its places, for comparison.
func outline(n *Node) string {
	switch n.Kind {
	case Map:
		var parts []string
		for _, e := range n.Entries {
			parts = append(parts, fmt.Sprintf("%s@%d:%d=%s", e.Key, e.Line, e.Column, outline(e.Value)))
		}
		return "{" + strings.Join(parts, " ") + "}"
	case List:
		var parts []string
		for _, item := range n.Items {
			parts = append(parts, outline(item))
		}
		return "[" + strings.Join(parts, " ") + "]"
	case Null:
		return fmt.Sprintf("null@%d:%d", n.Line, n.Column)
	}
	return fmt.Sprintf("%q@%d:%d", n.Text, n.Line, n.Column)
}

func TestTextsAsWritten(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ src, want string }{
		{"a: 0603", `{a@1:1="0603"@1:4}`},
		{"a: on\nb: yes\nc: True", `{a@1:1="on"@1:4 b@2:1="yes"@2:4 c@3:1="True"@3:4}`},
		{"a: 4\nb: 1.50\nc: 1e3", `{a@1:1="4"@1:4 b@2:1="1.50"@2:4 c@3:1="1e3"@3:4}`},
		{"a: 0x1F\nb: 1_000\nc: .inf\nd: 2020-01-01", `{a@1:1="0x1F"@1:4 b@2:1="1_000"@2:4 c@3:1=".inf"@3:4 d@4:1="2020-01-01"@4:4}`},
		{"a: 1 %\nb: 4,7k", `{a@1:1="1 %"@1:4 b@2:1="4,7k"@2:4}`},
		{"4: x\non: y", `{4@1:1="x"@1:4 on@2:1="y"@2:5}`},
		{"a: ~\nb: null\nc:\nd: \"null\"", `{a@1:1=null@1:4 b@2:1=null@2:4 c@3:1=null@3:3 d@4:1="null"@4:4}`},
		{"é: {ü: [ñ, x]}", `{é@1:1={ü@1:5=["ñ"@1:9 "x"@1:12]}}`},
		{"\ufeffa: 1\r\nb: 2\r\n", `{a@1:1="1"@1:4 b@2:1="2"@2:4}`},
		{"a: |\n  two\n  lines\n", `{a@1:1="two\nlines\n"@1:4}`},
		{"a: two\n  lines # and a comment\n", `{a@1:1="two lines"@1:4}`},
		{"a: &x {b: 1}\nc: *x", `{a@1:1={b@1:8="1"@1:11} c@2:1={b@1:8="1"@1:11}}`},
		{"[]", `[]`},
		{"just text", `"just text"@1:1`},
	} {
		n, err := YAML("f", []byte(c.src))
		if err != nil {
			t.Errorf("%q: %v", c.src, err)
		} else if d := cmp.Diff(c.want, outline(n)); d != "" {
			t.Errorf("%q: %s", c.src, d)
		}
	}
}

func TestYAMLErrors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ src, want string }{
		{"", "f.yaml:1:1: the file is empty"},
		{"# only a comment\n", "f.yaml:1:1: the file is empty"},
		{"a: 1\n---\nb: 2\n", "f.yaml:3:2: a second document in one file; expected one document"},
		{"a: 1\nb: 2\na: 3\nb: 4\n", "f.yaml:3:1: \"a\": stands here twice, first in line 1\nf.yaml:4:1: \"b\": stands here twice, first in line 2"},
		{"a: [1, 2\n", "f.yaml:1:4: not YAML: sequence end token ']' not found"},
		{"a: b: c\n", "f.yaml:1:4: not YAML: mapping value is not allowed in this context"},
		{"\ta: 1\n", "f.yaml:1:2: not YAML: tab character cannot use as a map key directly"},
		{"a: &x 1\n<<: *x\n", "f.yaml:2:1: \"<<\": merge keys are not used here; expected based_on for what two boards share"},
		{"a: !!str 5\n", "f.yaml:1:4: \"!!str\": this part of YAML is not used here; expected texts, lists and maps"},
		{"a: *x\n", "f.yaml:1:4: \"*x\": no anchor of this name stands before it"},
		{"a: &x [*x]\n", "f.yaml:1:8: \"*x\": an alias inside its own anchor"},
		{"~: 1\n", "f.yaml:1:1: \"~\": not a key; expected a text"},
		{"a: b\x01c\n", "f.yaml:1:5: a character that is not text; expected UTF-8 without control characters"},
		{"a: 1\nb: \xff\n", "f.yaml:2:4: a character that is not text; expected UTF-8 without control characters"},
		{`a: "x\0y"`, "f.yaml:1:4: \"x\\x00y\": a character that is not text; expected no control characters"},
	} {
		n, err := YAML("f.yaml", []byte(c.src))
		if err == nil {
			t.Errorf("%q: no error, %s", c.src, outline(n))
		} else if d := cmp.Diff(c.want, err.Error()); d != "" {
			t.Errorf("%q: %s", c.src, d)
		}
	}
}

// Files made to cost much are refused quickly.
func TestYAMLBombs(t *testing.T) {
	t.Parallel()
	fill := func(s string) string { return strings.Repeat(s, MaxBytes/len(s)) }
	var keys strings.Builder
	for i := range 40000 {
		fmt.Fprintf(&keys, "k%d: v\n", i)
	}
	laughs := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c < 'j'; c++ {
		laughs += fmt.Sprintf("%c: &%c [%s]\n", c, c, strings.Repeat(fmt.Sprintf("*%c,", c-1), 9))
	}
	for name, src := range map[string]string{
		"size": "a: " + strings.Repeat("x", MaxBytes), "brackets": fill("["), "braces": fill("{a: "),
		"dashes": fill("- "), "questions": fill("? "), "tags": fill("!a "), "anchors": fill("&a "),
		"keys": keys.String(), "laughs": laughs, "items": "a: [" + fill("1,")[:MaxBytes-10] + "]",
		"long text": "a: " + strings.Repeat("x", MaxText+1),
		"deep":      strings.Repeat("[", MaxDepth+1) + strings.Repeat("]", MaxDepth+1),
	} {
		start := time.Now()
		_, err := YAML("bomb", []byte(src))
		if took := time.Since(start); took > 5*time.Second {
			t.Errorf("%s: took %v", name, took)
		}
		var e *Error
		if !errors.As(err, &e) || e.Line < 1 || e.Column < 1 {
			t.Errorf("%s: %v, want an error with a place", name, err)
		}
	}
}

func TestErrorsAreKeptInOrder(t *testing.T) {
	t.Parallel()
	var es Errors
	es.Add(Position{"f", 2, 1}, "x", "late", "")
	es.Add(Position{"f", 1, 5}, "y", "early", "something")
	es.Add(Position{"f", 2, 1}, "x", "late", "")
	want := "f:1:5: \"y\": early; expected something\nf:2:1: \"x\": late"
	if err := es.Err(); err == nil || err.Error() != want {
		t.Errorf("got %v", err)
	}
	for range 2 * MaxErrors {
		es.Add(Position{"f", 3, 1}, "", "more", "")
	}
	if len(es) != MaxErrors {
		t.Errorf("%d errors kept", len(es))
	}
	if err := (Errors)(nil).Err(); err != nil {
		t.Errorf("no errors give %v", err)
	}
	long := &Error{Position: Position{"f", 1, 1}, Text: strings.Repeat("x", 100), Problem: "p"}
	if n := len(long.Error()); n > 90 {
		t.Errorf("a long text makes %d bytes", n)
	}
}

func TestGet(t *testing.T) {
	t.Parallel()
	n, err := YAML("f", []byte("a: {b: c}"))
	if err != nil {
		t.Fatal(err)
	}
	if got := n.Get("a").Get("b"); got == nil || got.Text != "c" {
		t.Errorf("a.b is %v", got)
	}
	if got := n.Get("x").Get("y"); got != nil {
		t.Errorf("x.y is %v", got)
	}
}

// bare drops the places, to compare what was written again with the original.
func bare(n *Node) *Node {
	out := &Node{Kind: n.Kind, Text: n.Text}
	for _, item := range n.Items {
		out.Items = append(out.Items, bare(item))
	}
	for _, e := range n.Entries {
		out.Entries = append(out.Entries, Entry{Key: e.Key, Value: bare(e.Value)})
	}
	return out
}

func TestEmit(t *testing.T) {
	t.Parallel()
	src := `format: x/1
empty: {}
parts:
  R1: {kind: resistor, pins: [a, b], value: "4,7k", note: "say \"no\": # it"}
  odd key!: [null, "null", "~", "- x", ""]
checks:
  -
    deep: [{a: {b: {c: d}}}]
`
	n, err := YAML("f", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	text := Emit(n)
	again, err := YAML("f", text)
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	if d := cmp.Diff(bare(n), bare(again)); d != "" {
		t.Errorf("%s in\n%s", d, text)
	}
	if !strings.Contains(string(text), "\n  R1: {kind: resistor, pins: [a, b], value: \"4,7k\"") {
		t.Errorf("a part is not in one line:\n%s", text)
	}
}

// Whatever is read has places, and reads back from what Emit writes.
func FuzzYAML(f *testing.F) {
	for _, s := range []string{
		"a: 0603\nb: [on, {c: ~}]\n", "a: &x {b: 1}\nc: *x\n", "- |\n  x\n- >-\n  y\n", "? a\n: b\n",
		"a: 'it''s'\nb: \"\\u00e9\\n\"\n", "{a: b, c: [d, e]}", "a:\n- b\n- c: d\n", "a: !x b", "%YAML 1.2\n---\na: b\n...\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		n, err := YAML("f", src)
		if err != nil {
			var es Errors
			if !errors.As(err, &es) || len(es) == 0 {
				t.Fatalf("%v is no Errors", err)
			}
			for _, e := range es {
				if e.Line < 1 || e.Column < 1 || e.File != "f" || e.Problem == "" {
					t.Fatalf("an error without a place or a problem: %#v", e)
				}
			}
			return
		}
		text := Emit(n)
		again, err := YAML("f", text)
		if err != nil {
			t.Fatalf("%q was written as\n%s\nwhich does not read: %v", src, text, err)
		}
		if d := cmp.Diff(bare(n), bare(again)); d != "" {
			t.Fatalf("%q was written as\n%s\nwhich reads differently: %s", src, text, d)
		}
	})
}
