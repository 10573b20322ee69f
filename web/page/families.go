package page

import (
	"strconv"

	"github.com/google/uuid"

	"ohmstead/internal/shop"
)

// FamiliesPage lists the kinds of board that the shop knows.
type FamiliesPage struct {
	Frame    Frame
	Families []FamilyLine
	MayEdit  bool
	Form     FamilyForm
	Refusal  Refusal
}

// FamilyLine is one family with its revisions.
type FamilyLine struct {
	ID        string
	Name      string
	Title     string
	NewBoard  string // what a new board costs fitted; "" not known
	Revisions []RevisionLine
}

// RevisionLine is one revision and where its profile is read.
type RevisionLine struct {
	Name    string
	Address string
	Profile bool // something is known of it
}

// FamilyForm enters a family or changes one; ID is empty for a new one.
type FamilyForm struct {
	ID       string
	Name     string
	Title    string
	NewBoard string // as typed
}

// NewFamilies builds the page. form is what is being edited or was refused.
func NewFamilies(f Frame, families []shop.Family, revisions []shop.Revision, mayEdit bool, form FamilyForm, refusal Refusal) FamiliesPage {
	p := FamiliesPage{Frame: f, MayEdit: mayEdit, Form: form, Refusal: refusal}
	of := map[uuid.UUID][]RevisionLine{}
	for _, r := range revisions {
		of[r.FamilyID] = append(of[r.FamilyID], RevisionLine{Name: r.Name, Address: "/families/" + r.ID.String(), Profile: r.ProfileVersionID != nil})
	}
	for _, fam := range families {
		line := FamilyLine{ID: fam.ID.String(), Name: fam.Name, Title: fam.Title, Revisions: of[fam.ID]}
		if fam.NewBoard != nil {
			line.NewBoard = f.Locale.Money(*fam.NewBoard)
		}
		p.Families = append(p.Families, line)
	}
	switch len(families) {
	case 0:
		p.Frame.Title = "No board family is known yet."
	case 1:
		p.Frame.Title = "1 board family, " + count(len(revisions), "revision") + "."
	default:
		p.Frame.Title = strconv.Itoa(len(families)) + " board families, " + count(len(revisions), "revision") + "."
	}
	return p
}

// FamilyFormOf opens the form on a family.
func FamilyFormOf(f shop.Family, locale string) FamilyForm {
	form := FamilyForm{ID: f.ID.String(), Name: f.Name, Title: f.Title}
	if f.NewBoard != nil {
		form.NewBoard = f.NewBoard.Field(locale)
	}
	return form
}
