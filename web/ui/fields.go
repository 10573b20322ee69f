package ui

// Input is a field of a form: what it is called, what was typed, and what is
// wrong with it.
type Input struct {
	Name     string
	Label    string
	Hint     string // one short line under the label
	Value    string // as typed, also when it was refused
	Problem  string // message beside the field; empty when all is well
	Type     string // text (default), password, tel, email, date, search
	Mode     string // inputmode: decimal, numeric, tel …
	Complete string // autocomplete token
	Required bool
	Depends  bool // whether it is needed depends on another field: not called optional
	Focus    bool // takes the focus when the page opens
	Max      int  // longest text accepted, 0: the server's own limit
	ListID   string
	Row      string // the row in which a Cell stands: heard, not seen
}

func (in Input) kind() string {
	if in.Type == "" {
		return "text"
	}
	return in.Type
}

func (in Input) id() string { return "f-" + in.Name }

// describedBy lists the ids that explain the field to a screen reader.
func (in Input) describedBy() string {
	s := ""
	if in.Hint != "" {
		s = in.id() + "-hint"
	}
	if in.Problem != "" {
		if s != "" {
			s += " "
		}
		s += in.id() + "-problem"
	}
	return s
}

// Option is one choice of a Select or of Choices.
type Option struct {
	Value string
	Label string
	Group string // heading under which a select lists it; options of a group stand together
}

// OptionGroup is a run of options under one heading.
type OptionGroup struct {
	Label   string
	Options []Option
}

func grouped(options []Option) []OptionGroup {
	var out []OptionGroup
	for _, o := range options {
		if n := len(out); n == 0 || out[n-1].Label != o.Group {
			out = append(out, OptionGroup{Label: o.Group})
		}
		out[len(out)-1].Options = append(out[len(out)-1].Options, o)
	}
	return out
}
