package page

import (
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// accessible fails for what would leave somebody out: a field without a name, a
// label or a problem that leads nowhere, an id that is there twice, a table
// without headings, a page without its one title.
func accessible(t *testing.T, name string, doc *html.Node) {
	t.Helper()
	ids := map[string]int{}
	for n := range doc.Descendants() {
		if id, ok := attribute(n, "id"); ok {
			ids[id]++
		}
	}
	for id, n := range ids {
		if n > 1 {
			t.Errorf("%s: the id %q is there %d times", name, id, n)
		}
	}
	if n := len(pick(doc, "main h1")); n != 1 {
		t.Errorf("%s: %d titles, want 1", name, n)
	}
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		switch n.Data {
		case "input", "select", "textarea":
			if kind, _ := attribute(n, "type"); kind != "hidden" && !named(doc, n) {
				t.Errorf("%s: a field %v has no name that can be read out", name, n.Attr)
			}
		case "table":
			if len(pick(n, "th[scope]")) == 0 {
				t.Errorf("%s: a table has no headings", name)
			}
		case "button", "a":
			if hidden, _ := attribute(n, "aria-hidden"); hidden != "true" && words(n) == "" {
				t.Errorf("%s: nothing stands on %v", name, n.Attr)
			}
		}
		for _, refers := range []string{"aria-describedby", "aria-labelledby", "for", "list"} {
			to, _ := attribute(n, refers)
			for _, id := range strings.Fields(to) {
				if ids[id] == 0 {
					t.Errorf("%s: %s of %s refers to %q, which is not there", name, refers, n.Data, id)
				}
			}
		}
		if href, _ := attribute(n, "href"); n.Data == "a" && strings.HasPrefix(href, "#") && ids[href[1:]] == 0 {
			t.Errorf("%s: a link leads to %s, which is not there", name, href)
		}
	}
}

// named tells whether a field has a label around it, for it, or of its own.
func named(doc, field *html.Node) bool {
	if label, _ := attribute(field, "aria-label"); label != "" {
		return true
	}
	for p := field.Parent; p != nil; p = p.Parent {
		if p.Data == "label" {
			return words(p) != ""
		}
	}
	id, _ := attribute(field, "id")
	return slices.ContainsFunc(pick(doc, "label"), func(l *html.Node) bool {
		to, _ := attribute(l, "for")
		return id != "" && to == id && words(l) != ""
	})
}
