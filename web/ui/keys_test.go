package ui

import (
	"strings"
	"testing"

	"github.com/a-h/templ"
	"golang.org/x/net/html"
)

// elements renders a component and lists its elements of a tag.
func elements(t *testing.T, c templ.Component, tag string) []map[string]string {
	t.Helper()
	var b strings.Builder
	if err := c.Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode || n.Data != tag {
			continue
		}
		attrs := map[string]string{}
		for _, a := range n.Attr {
			attrs[a.Key] = a.Val
		}
		out = append(out, attrs)
	}
	return out
}

// Everything that a reading needs is on the keys, each once and with a name.
func TestPadKeys(t *testing.T) {
	t.Parallel()
	want := strings.Fields("0 1 2 3 4 5 6 7 8 9 . k M m OL 0.00 - ⌫")
	seen := map[string]bool{}
	for _, k := range PadKeys() {
		if seen[k.Text] || k.Label == "" {
			t.Errorf("key %q is there twice, or without a name", k.Text)
		}
		seen[k.Text] = true
	}
	for _, text := range want {
		if !seen[text] {
			t.Errorf("there is no key %q", text)
		}
	}
	if len(seen) != len(want) {
		t.Errorf("%d keys, want %d", len(seen), len(want))
	}
	for _, b := range elements(t, KeyPad(), "button") {
		if b["type"] != "button" || b["data-key"] == "" || b["aria-label"] == "" {
			t.Errorf("a key would send the form, or cannot be read out: %v", b)
		}
	}
}

func TestPresses(t *testing.T) {
	t.Parallel()
	for _, part := range []bool{false, true} {
		labels := elements(t, PressKeys(map[string]bool{"swapped": true, "new": true}, part), "label")
		boxes := elements(t, PressKeys(map[string]bool{"swapped": true, "new": true}, part), "input")
		if len(labels) != 7 || len(boxes) != 7 {
			t.Fatalf("%d labels, %d boxes", len(labels), len(boxes))
		}
		for i, b := range boxes {
			_, down := b["checked"]
			if want := b["name"] == "swapped" || b["name"] == "new"; down != want {
				t.Errorf("%s is down: %v", b["name"], down)
			}
			_, ofPart := labels[i]["data-part"]
			_, hidden := labels[i]["hidden"]
			if ofPart != strings.Contains("lifted old new", b["name"]) || hidden != (ofPart && !part) {
				t.Errorf("%s with part %v: only for parts %v, hidden %v", b["name"], part, ofPart, hidden)
			}
		}
	}
}

func TestClockAndVolts(t *testing.T) {
	t.Parallel()
	in := Input{Name: "before_at", Label: "Meter proved before, at", Value: "14:05", Problem: "too long ago", Required: true}
	f := elements(t, Clock(in), "input")[0]
	if f["type"] != "time" || f["step"] != "1" || f["value"] != "14:05" || f["aria-invalid"] != "true" || f["aria-describedby"] != "f-before_at-problem" {
		t.Errorf("%v", f)
	}
	if b := elements(t, Clock(in), "button")[0]; b["type"] != "button" || b["data-now"] != f["id"] {
		t.Errorf("the key beside it: %v", b)
	}
	v := elements(t, Volts(Input{Name: "volts:C1", Label: "V", Value: "0.03"}), "input")[0]
	if v["inputmode"] != "decimal" || v["value"] != "0.03" || v["name"] != "volts:C1" {
		t.Errorf("%v", v)
	}
}

// The drawing of a scale carries every part of what it shows.
func TestScaleIsDrawn(t *testing.T) {
	t.Parallel()
	s := NewScale(Scaled{Known: true, Log: true, Low: at(100), Typical: at(110), High: at(120), Open: &Reads{Value: 140}, Actual: &Reads{Value: 700}})
	if n := len(elements(t, ScaleMark(s), "rect")); n != 1 {
		t.Errorf("%d bars", n)
	}
	if n := len(elements(t, ScaleMark(s), "text")); n != 2 {
		t.Errorf("%d texts, want open and the factor", n)
	}
	svg := elements(t, ScaleMark(s), "svg")[0]
	if svg["aria-hidden"] != "true" || svg["width"] != "150" {
		t.Errorf("%v", svg)
	}
	if n := len(elements(t, ScaleMark(NewScale(Scaled{})), "rect")); n != 0 {
		t.Error("a bar is drawn though nothing is known")
	}
}

// The strip says in words what it shows, and its drawing is one image.
func TestStripIsDrawn(t *testing.T) {
	t.Parallel()
	s := Strip{Title: "Bus sensing", Words: "From bus; R11 120 kΩ.", Source: "bus", Believes: "bus 299 V", Note: "healthy: 324 V", Stops: []Stop{
		{Node: &StripNode{Name: "p", Level: "324 V", Read: "311 V", Verdict: NotBad}},
		{Part: &StripPart{Ref: "R11", Nominal: "120 kΩ", Broken: true, Read: "OL", Verdict: Bad}},
		{Node: &StripNode{Name: "vb", Level: "floats", Legs: []StripPart{{Ref: "R17", Nominal: "6.8 kΩ", To: "com"}}}},
	}}
	var b strings.Builder
	if err := StripDrawing(s).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`aria-label="From bus; R11 120 kΩ."`, ">R11<", ">120 kΩ<", ">OL<", ">324 V<", ">311 V<", ">floats<", " to com<", "“bus 299 V”", "healthy: 324 V", "s-break"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the drawing has no %s", want)
		}
	}
	scroller := elements(t, StripDrawing(s), "div")[0]
	if scroller["tabindex"] != "0" || scroller["aria-label"] == "" {
		t.Errorf("it cannot be scrolled by keyboard: %v", scroller)
	}
	s.Believes = ""
	b.Reset()
	if err := StripDrawing(s).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "believes") {
		t.Error("the controller believes, though nobody knows what")
	}
}
