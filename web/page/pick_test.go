package page

import (
	"strings"
	"testing"

	"github.com/a-h/templ"
	"golang.org/x/net/html"
)

// drawn renders a page and reads it back.
func drawn(t *testing.T, c templ.Component) *html.Node {
	t.Helper()
	var b strings.Builder
	if err := c.Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// pick finds the elements that a selector means: steps of tag, .class, #id and
// [name=value], each step anywhere below the one before.
func pick(root *html.Node, selector string) []*html.Node {
	at := []*html.Node{root}
	for _, step := range strings.Fields(selector) {
		var next []*html.Node
		seen := map[*html.Node]bool{}
		for _, n := range at {
			for d := range n.Descendants() {
				if d.Type == html.ElementNode && !seen[d] && isStep(d, step) {
					seen[d] = true
					next = append(next, d)
				}
			}
		}
		at = next
	}
	return at
}

// isStep tells whether an element fits one step of a selector.
func isStep(n *html.Node, step string) bool {
	if i := strings.IndexByte(step, '['); i >= 0 {
		name, value, given := strings.Cut(strings.TrimSuffix(step[i+1:], "]"), "=")
		if got, ok := attribute(n, name); !ok || given && got != value {
			return false
		}
		step = step[:i]
	}
	if i := strings.IndexByte(step, '#'); i >= 0 {
		if id, _ := attribute(n, "id"); id != step[i+1:] {
			return false
		}
		step = step[:i]
	}
	tag, classes, _ := strings.Cut(step, ".")
	has, _ := attribute(n, "class")
	for _, class := range strings.FieldsFunc(classes, func(r rune) bool { return r == '.' }) {
		if !strings.Contains(" "+has+" ", " "+class+" ") {
			return false
		}
	}
	return tag == "" || n.Data == tag
}

func attribute(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

// words is what a person reads below the nodes: white space folded, without
// what is hidden from reading.
func words(nodes ...*html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		}
		if hidden, _ := attribute(n, "aria-hidden"); hidden == "true" || n.Data == "script" || n.Data == "head" {
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
		if n.Type == html.ElementNode && n.Data != "strong" {
			b.WriteByte(' ')
		}
	}
	for _, n := range nodes {
		walk(n)
		b.WriteByte(' ')
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// reads fails unless exactly the elements of the selector read like this, in order.
func reads(t *testing.T, root *html.Node, selector string, want ...string) {
	t.Helper()
	found := pick(root, selector)
	var got []string
	for _, n := range found {
		got = append(got, words(n))
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s reads\n  %s\nwant\n  %s", selector, strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}
