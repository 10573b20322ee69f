package page

import (
	"sort"

	"ohmstead/internal/fault"
)

// Refusal says why a form came back: a sentence for the top and a message for
// each field.
type Refusal struct {
	Text   string
	Fields []FieldProblem
}

// FieldProblem is a message that belongs to one field.
type FieldProblem struct{ Field, Text string }

// RefusalOf makes a Refusal from an error; fields come in the order of names
// given, others after them alphabetically.
func RefusalOf(err error, order ...string) Refusal {
	if err == nil {
		return Refusal{}
	}
	r := Refusal{Text: fault.Text(err)}
	fields := fault.Fields(err)
	seen := map[string]bool{}
	for _, name := range order {
		if text, ok := fields[name]; ok && !seen[name] {
			r.Fields = append(r.Fields, FieldProblem{name, text})
			seen[name] = true
		}
	}
	var rest []string
	for name := range fields {
		if !seen[name] {
			rest = append(rest, name)
		}
	}
	sort.Strings(rest)
	for _, name := range rest {
		r.Fields = append(r.Fields, FieldProblem{name, fields[name]})
	}
	if len(r.Fields) == 1 && r.Fields[0].Text == r.Text {
		r.Text = "This cannot be stored yet."
	}
	return r
}

// Problem gives the message of one field, empty when it is all right.
func (r Refusal) Problem(field string) string {
	for _, f := range r.Fields {
		if f.Field == field {
			return f.Text
		}
	}
	return ""
}

// TroublePage says what went wrong and what to do.
type TroublePage struct {
	Frame     Frame
	Text      string
	RequestID string
}
