package profile

import (
	"fmt"
	"slices"
	"strings"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// maxName is how long a name may be: a designator, a node, an id.
const maxName = 60

// fields reads the values of a map and keeps what is wrong with them.
type fields struct {
	errs *written.Errors
}

// isMap tells whether n is a map with no keys but these, and says so if not.
func (f fields) isMap(n *written.Node, what string, keys ...string) bool {
	if n.Kind != written.Map {
		f.errs.Add(n.Position, n.Text, fmt.Sprintf("%s is %s", what, n.Kind), "a map with "+strings.Join(keys, ", "))
		return false
	}
	for _, e := range n.Entries {
		if !slices.Contains(keys, e.Key) {
			f.errs.Add(e.Position, e.Key, "an unknown key", "one of "+strings.Join(keys, ", "))
		}
	}
	return true
}

// list gives the items of a list, at most `most`; nil when it is none.
func (f fields) list(n *written.Node, what string, most int) []*written.Node {
	if n == nil {
		return nil
	}
	if n.Kind != written.List {
		f.errs.Add(n.Position, n.Text, fmt.Sprintf("%s is %s", what, n.Kind), "a list")
		return nil
	}
	if len(n.Items) > most {
		f.errs.Add(n.Position, "", fmt.Sprintf("%s has %d entries", what, len(n.Items)), fmt.Sprintf("at most %d", most))
		return nil
	}
	return n.Items
}

// entries gives the entries of a map whose keys are names, at most `most`.
func (f fields) entries(n *written.Node, what string, most int) []written.Entry {
	if n == nil {
		return nil
	}
	if n.Kind != written.Map {
		f.errs.Add(n.Position, n.Text, fmt.Sprintf("%s is %s", what, n.Kind), "a map by name")
		return nil
	}
	if len(n.Entries) > most {
		f.errs.Add(n.Position, "", fmt.Sprintf("%s has %d entries", what, len(n.Entries)), fmt.Sprintf("at most %d", most))
		return nil
	}
	for _, e := range n.Entries {
		f.name(e.Position, e.Key)
	}
	return n.Entries
}

// name checks that a text can be a name.
func (f fields) name(at written.Position, s string) {
	if s == "" || len([]rune(s)) > maxName || strings.TrimSpace(s) != s || strings.ContainsAny(s, "\n\t") {
		f.errs.Add(at, s, "not a name", fmt.Sprintf("1 to %d characters in one line", maxName))
	}
}

// text reads a text; a missing key is empty.
func (f fields) text(n *written.Node, key string) string {
	v := n.Get(key)
	if v == nil {
		return ""
	}
	if v.Kind != written.Text {
		f.errs.Add(v.Position, "", fmt.Sprintf("%s is %s", key, v.Kind), "a text")
		return ""
	}
	return v.Text
}

// need reads a name that must be there.
func (f fields) need(n *written.Node, key string) string {
	if n.Get(key) == nil {
		f.errs.Add(n.Position, "", key+" is missing", "")
		return ""
	}
	before := len(*f.errs)
	s := f.text(n, key)
	if len(*f.errs) == before {
		f.name(n.Get(key).Position, s)
	}
	return s
}

// texts reads a list of names.
func (f fields) texts(n *written.Node, what string, most int) []*written.Node {
	var out []*written.Node
	for _, item := range f.list(n, what, most) {
		if item.Kind != written.Text {
			f.errs.Add(item.Position, "", fmt.Sprintf("an entry of %s is %s", what, item.Kind), "a text")
			continue
		}
		f.name(item.Position, item.Text)
		out = append(out, item)
	}
	return out
}

// flag reads true or false; a missing key gives def.
func (f fields) flag(n *written.Node, key string, def bool) bool {
	v := n.Get(key)
	if v == nil {
		return def
	}
	switch f.text(n, key) {
	case "true":
		return true
	case "false":
		return false
	}
	f.errs.Add(v.Position, v.Text, key+" is a yes or no", "true or false")
	return def
}

// value reads one parameter of p's rules; a missing key gives its default.
func (f fields) value(n *written.Node, p param) float64 {
	v := n.Get(p.name)
	if v == nil {
		if p.required {
			f.errs.Add(n.Position, "", p.name+" is missing", p.expected())
		}
		return p.def
	}
	return f.number(v, p)
}

// number reads the value of one node by p's rules.
func (f fields) number(v *written.Node, p param) float64 {
	if v.Kind != written.Text {
		f.errs.Add(v.Position, "", fmt.Sprintf("%s is %s", p.name, v.Kind), p.expected())
		return p.def
	}
	if x, ok := p.words[v.Text]; ok {
		return x
	}
	q, err := quantity.Parse(v.Text, p.unit)
	switch {
	case err != nil:
		f.errs.Add(v.Position, v.Text, fmt.Sprintf("not a value for %s: %s", p.name, problem(err)), p.expected())
	case q.OverRange:
		f.errs.Add(v.Position, v.Text, p.name+" cannot be over-range", p.expected())
	case q.Number < 0 && !p.minus:
		f.errs.Add(v.Position, v.Text, p.name+" cannot be below 0", p.expected())
	case q.Number == 0 && !p.zero:
		f.errs.Add(v.Position, v.Text, p.name+" cannot be 0", p.expected())
	case p.unit == quantity.Percent && p.name == "tolerance" && q.Number >= 1:
		f.errs.Add(v.Position, v.Text, "a tolerance of 100 % or more says nothing", "a percentage below 100 %")
	default:
		return q.Number
	}
	return p.def
}

func (p param) expected() string {
	s := quantity.Expected(p.unit)
	for w := range p.words {
		s += " or " + w
	}
	return s
}

func problem(err error) string {
	if e, ok := err.(*quantity.Error); ok {
		return e.Problem
	}
	return err.Error()
}
