package written

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ohmstead/internal/quantity"
)

// maxName is how long a name may be: a designator, a node, an id.
const maxName = 60

// Fields reads the values of maps and lists and keeps what is wrong with them.
type Fields struct {
	Errs *Errors
}

// Rule says how one value is written and what it may be.
type Rule struct {
	Name     string
	Unit     quantity.Unit
	Default  float64            // when it is left out
	Required bool               // it cannot be left out
	Zero     bool               // 0 is a value too; otherwise it must be above 0
	Minus    bool               // values below 0 are values too
	Least    float64            // the smallest value above 0 that makes sense, without sign; 0: any
	Most     float64            // the greatest; 0: any
	Words    map[string]float64 // words accepted in place of a number
}

// IsMap tells whether n is a map with no keys but these, and
// says so if not; what names it in messages.
func (f Fields) IsMap(n *Node, what string, keys ...string) bool {
	if n.Kind != Map {
		f.Errs.Add(n.Position, n.Text, fmt.Sprintf("%s is %s", what, n.Kind), "a map with "+strings.Join(keys, ", "))
		return false
	}
	for _, e := range n.Entries {
		if !slices.Contains(keys, e.Key) {
			f.Errs.Add(e.Position, e.Key, "an unknown key", "one of "+strings.Join(keys, ", "))
		}
	}
	return true
}

// List gives the items of a list, at most `most`; nil when it is none.
func (f Fields) List(n *Node, what string, most int) []*Node {
	if n == nil {
		return nil
	}
	if n.Kind != List {
		f.Errs.Add(n.Position, n.Text, fmt.Sprintf("%s is %s", what, n.Kind), "a list")
		return nil
	}
	if len(n.Items) > most {
		f.Errs.Add(n.Position, "", fmt.Sprintf("%s has %d entries", what, len(n.Items)), fmt.Sprintf("at most %d", most))
		return nil
	}
	return n.Items
}

// Entries gives the entries of a map whose keys are names, at most `most`.
func (f Fields) Entries(n *Node, what string, most int) []Entry {
	if n == nil {
		return nil
	}
	if n.Kind != Map {
		f.Errs.Add(n.Position, n.Text, fmt.Sprintf("%s is %s", what, n.Kind), "a map by name")
		return nil
	}
	if len(n.Entries) > most {
		f.Errs.Add(n.Position, "", fmt.Sprintf("%s has %d entries", what, len(n.Entries)), fmt.Sprintf("at most %d", most))
		return nil
	}
	for _, e := range n.Entries {
		f.name(e.Position, e.Key)
	}
	return n.Entries
}

// name checks that a text can be a name.
func (f Fields) name(at Position, s string) {
	if s == "" || len([]rune(s)) > maxName || strings.TrimSpace(s) != s || strings.ContainsAny(s, "\n\t") {
		f.Errs.Add(at, s, "not a name", fmt.Sprintf("1 to %d characters in one line", maxName))
	}
}

// Text reads a text; a missing key is empty.
func (f Fields) Text(n *Node, key string) string {
	v := n.Get(key)
	if v == nil {
		return ""
	}
	if v.Kind != Text {
		f.Errs.Add(v.Position, "", fmt.Sprintf("%s is %s", key, v.Kind), "a text")
		return ""
	}
	return v.Text
}

// Need reads a name that must be there.
func (f Fields) Need(n *Node, key string) string {
	if n.Kind != Map {
		return "" // and was reported
	}
	if n.Get(key) == nil {
		f.Errs.Add(n.Position, "", key+" is missing", "")
		return ""
	}
	before := len(*f.Errs)
	s := f.Text(n, key)
	if len(*f.Errs) == before {
		f.name(n.Get(key).Position, s)
	}
	return s
}

// Texts reads a list of names.
func (f Fields) Texts(n *Node, what string, most int) []*Node {
	var out []*Node
	for _, item := range f.List(n, what, most) {
		if item.Kind != Text {
			f.Errs.Add(item.Position, "", fmt.Sprintf("an entry of %s is %s", what, item.Kind), "a text")
			continue
		}
		f.name(item.Position, item.Text)
		out = append(out, item)
	}
	return out
}

// Flag reads true or false; a missing key gives def.
func (f Fields) Flag(n *Node, key string, def bool) bool {
	v := n.Get(key)
	if v == nil {
		return def
	}
	switch f.Text(n, key) {
	case "true":
		return true
	case "false":
		return false
	}
	f.Errs.Add(v.Position, v.Text, key+" is a yes or no", "true or false")
	return def
}

// Value reads one parameter of the rule; a missing key gives its default.
func (f Fields) Value(n *Node, r Rule) float64 {
	v := n.Get(r.Name)
	if v == nil {
		if r.Required && n.Kind == Map {
			f.Errs.Add(n.Position, "", r.Name+" is missing", r.expected())
		}
		return r.Default
	}
	return f.Number(v, r)
}

// Number reads the value of one node by the rule.
func (f Fields) Number(v *Node, r Rule) float64 {
	if v.Kind != Text {
		f.Errs.Add(v.Position, "", fmt.Sprintf("%s is %s", r.Name, v.Kind), r.expected())
		return r.Default
	}
	if x, ok := r.Words[v.Text]; ok {
		return x
	}
	q, err := quantity.Parse(v.Text, r.Unit)
	switch {
	case err != nil:
		f.Errs.Add(v.Position, v.Text, fmt.Sprintf("not a value for %s: %s", r.Name, problem(err)), r.expected())
	case q.OverRange:
		f.Errs.Add(v.Position, v.Text, r.Name+" cannot be over-range", r.expected())
	case q.Number < 0 && !r.Minus:
		f.Errs.Add(v.Position, v.Text, r.Name+" cannot be below 0", r.expected())
	case q.Number == 0 && !r.Zero:
		f.Errs.Add(v.Position, v.Text, r.Name+" cannot be 0", r.expected())
	case r.Unit == quantity.Percent && r.Name == "tolerance" && q.Number >= 1:
		f.Errs.Add(v.Position, v.Text, "a tolerance of 100 % or more says nothing", "a percentage below 100 %")
	case r.Most > 0 && math.Abs(q.Number) > r.Most:
		f.Errs.Add(v.Position, v.Text, r.Name+" is greater than any part's", "at most "+quantity.Format(r.Most, 0, r.Unit))
	case q.Number != 0 && math.Abs(q.Number) < r.Least:
		f.Errs.Add(v.Position, v.Text, r.Name+" is smaller than any part's", "at least "+quantity.Format(r.Least, 0, r.Unit))
	default:
		return q.Number
	}
	return r.Default
}

func (r Rule) expected() string {
	s := quantity.Expected(r.Unit)
	for w := range r.Words {
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
