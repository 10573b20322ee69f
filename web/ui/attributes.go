package ui

import "github.com/a-h/templ"

// attributes are those that every control of a field shares.
func (in Input) attributes() templ.Attributes {
	a := templ.Attributes{}
	if in.Required {
		a["required"] = true
	}
	if in.Focus {
		a["autofocus"] = true
	}
	if d := in.describedBy(); d != "" {
		a["aria-describedby"] = d
	}
	if in.Problem != "" {
		a["aria-invalid"] = "true"
	}
	return a
}
