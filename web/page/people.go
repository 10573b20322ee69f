package page

import (
	"github.com/google/uuid"

	"ohmstead/internal/staff"
	"ohmstead/web/ui"
)

// PeoplePage is the owner's list of who works here.
type PeoplePage struct {
	Frame         Frame
	People        []PersonLine
	Name, Role    string // of the form for a new person, as typed
	Refusal       Refusal
	NewName       string // whose password has just been made
	NewPassword   string // shown once
	ChangeRefused string // why a change to somebody was refused
}

// PersonLine is one person in the list.
type PersonLine struct {
	ID     string
	Name   string
	Role   string // code
	Title  string // in words
	Active bool
	First  bool // has not yet set a password of their own
	Me     bool
}

// standing says what the person does and whether something is out of the ordinary.
func (l PersonLine) standing() string {
	switch {
	case !l.Active:
		return l.Title + ", no longer works here"
	case l.First:
		return l.Title + ", has not set a password yet"
	case l.Me:
		return l.Title + ", you"
	}
	return l.Title
}

// PeopleLines makes the list; me is who looks at it.
func PeopleLines(list []staff.Person, me uuid.UUID) []PersonLine {
	out := make([]PersonLine, 0, len(list))
	for _, p := range list {
		out = append(out, PersonLine{
			ID: p.ID.String(), Name: p.Name, Role: string(p.Role), Title: p.Role.Title(),
			Active: p.Active(), First: p.MustChangePassword, Me: p.ID == me,
		})
	}
	return out
}

func roleOptions() []ui.Option {
	var out []ui.Option
	for _, r := range staff.Roles() {
		out = append(out, ui.Option{Value: string(r), Label: r.Title()})
	}
	return out
}
