package web

import (
	"context"
	"crypto/rand"
	"math/big"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/password"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// peopleBook is what the owner's people page needs of storage.
type peopleBook interface {
	People(ctx context.Context, by staff.Actor) ([]staff.Person, error)
	Person(ctx context.Context, by staff.Actor, id uuid.UUID) (staff.Person, error)
	AddPerson(ctx context.Context, by staff.Actor, name string, role staff.Role, passwordHash string) (staff.Person, error)
	SetRole(ctx context.Context, by staff.Actor, person uuid.UUID, role staff.Role) error
	Deactivate(ctx context.Context, by staff.Actor, person uuid.UUID) error
	Reactivate(ctx context.Context, by staff.Actor, person uuid.UUID) error
}

func (s *Server) people(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.showPeople(w, r, v, http.StatusOK, page.PeoplePage{})
}

// showPeople fills in the list around what a form left behind.
func (s *Server) showPeople(w http.ResponseWriter, r *http.Request, v *visit, status int, p page.PeoplePage) error {
	list, err := s.store.People(r.Context(), v.actor())
	if err != nil {
		return err
	}
	p.Frame = s.frame(v, "The people of "+v.site.Name, placePeople)
	p.People = page.PeopleLines(list, v.person.ID)
	return render(w, r, status, page.People(p))
}

// addPerson enters somebody with a first password, shown once.
func (s *Server) addPerson(w http.ResponseWriter, r *http.Request, v *visit) error {
	form := page.PeoplePage{Name: r.PostFormValue("name"), Role: r.PostFormValue("role")}
	name, err := staff.CheckName(form.Name)
	if err == nil && !staff.Role(form.Role).Valid() {
		err = fault.Field("role", "Choose what this person does.")
	}
	first, hash := "", ""
	if err == nil {
		if first, hash, err = firstPassword(r.Context()); err == nil {
			_, err = s.store.AddPerson(r.Context(), v.actor(), name, staff.Role(form.Role), hash)
		}
	}
	if fault.KindOf(err) == fault.Invalid && err != nil {
		form.Refusal = page.RefusalOf(err, "name", "role")
		return s.showPeople(w, r, v, http.StatusUnprocessableEntity, form)
	}
	if err != nil {
		return err
	}
	return s.showPeople(w, r, v, http.StatusOK, page.PeoplePage{NewName: name, NewPassword: first})
}

func (s *Server) resetPassword(w http.ResponseWriter, r *http.Request, v *visit) error {
	p, err := s.personNamed(r, v)
	if err != nil {
		return err
	}
	if p.ID == v.person.ID {
		http.Redirect(w, r, "/me", http.StatusSeeOther)
		return nil
	}
	first, hash, err := firstPassword(r.Context())
	if err != nil {
		return err
	}
	if err := s.store.SetPassword(r.Context(), v.actor(), p.ID, hash, nil); err != nil {
		return err
	}
	return s.showPeople(w, r, v, http.StatusOK, page.PeoplePage{NewName: p.Name, NewPassword: first})
}

func (s *Server) setRole(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.changePerson(w, r, v, func(p staff.Person) error {
		role := staff.Role(r.PostFormValue("role"))
		if !role.Valid() {
			return fault.New(fault.Invalid, "Choose what %s does.", p.Name)
		}
		return s.store.SetRole(r.Context(), v.actor(), p.ID, role)
	})
}

func (s *Server) setActive(w http.ResponseWriter, r *http.Request, v *visit) error {
	return s.changePerson(w, r, v, func(p staff.Person) error {
		switch r.PostFormValue("active") {
		case "yes":
			return s.store.Reactivate(r.Context(), v.actor(), p.ID)
		case "no":
			return s.store.Deactivate(r.Context(), v.actor(), p.ID)
		}
		return fault.New(fault.Invalid, "Say whether %s works here.", p.Name)
	})
}

// changePerson runs one change and shows the list again, with the reason when
// it was refused.
func (s *Server) changePerson(w http.ResponseWriter, r *http.Request, v *visit, change func(staff.Person) error) error {
	p, err := s.personNamed(r, v)
	if err == nil {
		err = change(p)
	}
	switch k := fault.KindOf(err); {
	case err == nil:
		http.Redirect(w, r, "/people", http.StatusSeeOther)
		return nil
	case k == fault.Conflict || k == fault.Invalid:
		return s.showPeople(w, r, v, statusOf[k], page.PeoplePage{ChangeRefused: fault.Text(err)})
	}
	return err
}

// personNamed finds the person of the address among the shop's people.
func (s *Server) personNamed(r *http.Request, v *visit) (staff.Person, error) {
	id, err := uuid.Parse(chi.URLParam(r, "person"))
	if err != nil {
		return staff.Person{}, fault.New(fault.NotFound, "There is no such person.")
	}
	return s.store.Person(r.Context(), v.actor(), id)
}

// firstPassword makes a random password to be read aloud once: three groups of
// letters and digits that cannot be mistaken for each other (60 bits).
func firstPassword(ctx context.Context) (text, hash string, err error) {
	const letters = "abcdefghjkmnpqrstuvwxyz23456789"
	var b strings.Builder
	for i := range 12 {
		if i > 0 && i%4 == 0 {
			b.WriteByte('-')
		}
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(letters))))
		if err != nil {
			return "", "", err
		}
		b.WriteByte(letters[n.Int64()])
	}
	hash, err = password.Hash(ctx, b.String())
	return b.String(), hash, err
}

// me shows who is signed in and lets them change their password.
func (s *Server) me(w http.ResponseWriter, r *http.Request, v *visit) error {
	return render(w, r, http.StatusOK, page.Me(page.MePage{
		Frame: s.frame(v, v.person.Name+", "+v.person.Role.Title(), ""), First: v.person.MustChangePassword,
		Changed: r.URL.Query().Get("changed") == "yes",
	}))
}

func (s *Server) changeOwnPassword(w http.ResponseWriter, r *http.Request, v *visit) error {
	err := s.replacePassword(r, v)
	if err == nil {
		http.Redirect(w, r, "/me?changed=yes", http.StatusSeeOther)
		return nil
	}
	k := fault.KindOf(err)
	if k != fault.Invalid && k != fault.Busy {
		return err
	}
	return render(w, r, statusOf[k], page.Me(page.MePage{
		Frame: s.frame(v, v.person.Name+", "+v.person.Role.Title(), ""), First: v.person.MustChangePassword,
		Refusal: page.RefusalOf(err, "now", "password", "again"),
	}))
}

func (s *Server) replacePassword(r *http.Request, v *visit) error {
	ctx, from := r.Context(), addressOf(r)
	if s.slow.enter(v.person.Name, from, s.now()) > 0 {
		return fault.New(fault.Busy, "Too many wrong passwords. Try again in a few minutes.")
	}
	ok, err := password.Check(ctx, v.person.PasswordHash, r.PostFormValue("now"))
	if err != nil {
		return err
	}
	if !ok {
		return fault.Field("now", "This is not your present password.")
	}
	s.slow.welcomed(v.person.Name, from)
	text := r.PostFormValue("password")
	if err := checkNewPassword(text, r.PostFormValue("again"), v.person.Name); err != nil {
		return err
	}
	hash, err := password.Hash(ctx, text)
	if err != nil {
		return err
	}
	if err := s.store.SetPassword(ctx, v.actor(), v.person.ID, hash, s.sessionHash(r)); err != nil {
		return err
	}
	s.audit(r, "password", "", v.person, "")
	return nil
}
