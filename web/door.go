package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"time"
	"unicode/utf8"

	"ohmstead/internal/fault"
	"ohmstead/internal/password"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

func (s *Server) health(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if _, err := s.store.NeedsOwner(r.Context()); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, err := w.Write([]byte("ok\n"))
	return err
}

// home leads everybody to where their day begins.
func (s *Server) home(w http.ResponseWriter, r *http.Request, v *visit) error {
	to := "/counter"
	if v.person.Role == staff.Bench {
		to = "/bench"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// door shows the sign-in form.
func (s *Server) door(w http.ResponseWriter, r *http.Request, v *visit) error {
	if v.person != nil {
		http.Redirect(w, r, localPath(r.FormValue("then")), http.StatusSeeOther)
		return nil
	}
	if needs, err := s.store.NeedsOwner(r.Context()); err != nil {
		return err
	} else if needs {
		http.Redirect(w, r, "/first-start", http.StatusSeeOther)
		return nil
	}
	return render(w, r, http.StatusOK, page.Door(page.DoorPage{Frame: s.frame(v, "Sign in", ""), Then: r.FormValue("then")}))
}

// signIn checks name and password. What it answers does not tell an unknown
// name from a wrong password.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request, v *visit) error {
	name, text := r.PostFormValue("name"), r.PostFormValue("password")
	p, err := s.identify(r, name, text)
	if err != nil {
		if k := fault.KindOf(err); k != fault.Invalid && k != fault.Busy {
			return err
		}
		form := page.DoorPage{Frame: s.frame(v, "Sign in", ""), Name: name, Then: r.PostFormValue("then"), Refusal: page.RefusalOf(err)}
		return render(w, r, statusOf[fault.KindOf(err)], page.Door(form))
	}
	if err := s.welcome(w, r, p); err != nil {
		return err
	}
	http.Redirect(w, r, localPath(r.PostFormValue("then")), http.StatusSeeOther)
	return nil
}

func (s *Server) identify(r *http.Request, name, text string) (staff.Person, error) {
	ctx, from := r.Context(), addressOf(r)
	if wait := s.slow.enter(name, from, s.now()); wait > 0 {
		return staff.Person{}, fault.New(fault.Busy, "Too many wrong passwords. Try again in %s.", max(time.Second, wait.Round(time.Second)))
	}
	p, err := s.store.PersonByName(ctx, name)
	if err != nil && fault.KindOf(err) != fault.NotFound {
		return staff.Person{}, err
	}
	ok, err := password.Check(ctx, p.PasswordHash, text)
	if err != nil {
		return staff.Person{}, err
	}
	if !ok {
		s.audit(r, "refused", clip(name, staff.MaxName), nil, "")
		return staff.Person{}, fault.New(fault.Invalid, "Name and password do not belong together. Type both again.")
	}
	s.slow.welcomed(name, from)
	return p, nil
}

// welcome starts a new session; the one that the browser held before is dead.
func (s *Server) welcome(w http.ResponseWriter, r *http.Request, p staff.Person) error {
	ctx := r.Context()
	if old := s.sessionHash(r); old != nil {
		if err := s.store.EndSession(ctx, old); err != nil {
			return err
		}
	}
	token := staff.NewToken()
	if _, err := s.store.StartSession(ctx, p.ID, staff.TokenHash(token), nil); err != nil {
		return err
	}
	s.audit(r, "signed_in", "", &p, "")
	s.setSession(w, r, token)
	return nil
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request, v *visit) error {
	if err := s.store.EndSession(r.Context(), s.sessionHash(r)); err != nil {
		return err
	}
	s.audit(r, "signed_out", "", v.person, "")
	s.clearSession(w, r)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// localPath keeps a return address inside the application.
func localPath(then string) string {
	u, err := url.Parse(then)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(then, "/") ||
		strings.HasPrefix(then, "//") || strings.ContainsAny(then, "\\\r\n") {
		return "/"
	}
	return then
}

// opener is what the first start needs of storage.
type opener interface {
	FirstOwner(ctx context.Context, site shop.Site, set shop.Settings, name, passwordHash string) (staff.Person, error)
}

// firstStart shows the form that opens a new shop.
func (s *Server) firstStart(w http.ResponseWriter, r *http.Request, v *visit) error {
	if needs, err := s.store.NeedsOwner(r.Context()); err != nil {
		return err
	} else if !needs {
		http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
		return nil
	}
	form := page.FirstStartPage{Frame: s.frame(v, "Open your shop", ""), Form: page.NewShopForm()}
	return render(w, r, http.StatusOK, page.FirstStart(form))
}

// openShop creates the shop and its owner, and signs the owner in.
func (s *Server) openShop(w http.ResponseWriter, r *http.Request, v *visit) error {
	if needs, err := s.store.NeedsOwner(r.Context()); err != nil {
		return err
	} else if !needs { // before a password is hashed: that is dear, and anybody may ask for it
		return fault.New(fault.Conflict, "This shop has been set up already. Sign in instead.")
	}
	form := page.FirstStartPage{
		Frame: s.frame(v, "Open your shop", ""), Name: r.PostFormValue("name"), Form: shopForm(r),
	}
	p, err := s.createOwner(r, form)
	if fault.KindOf(err) == fault.Invalid && err != nil {
		form.Refusal = page.RefusalOf(err, append([]string{"name", "password", "again"}, page.ShopFields...)...)
		return render(w, r, http.StatusUnprocessableEntity, page.FirstStart(form))
	}
	if err != nil {
		return err
	}
	if err := s.welcome(w, r, p); err != nil {
		return err
	}
	http.Redirect(w, r, "/shop?opened=yes", http.StatusSeeOther)
	return nil
}

func (s *Server) createOwner(r *http.Request, form page.FirstStartPage) (staff.Person, error) {
	problems := map[string]string{}
	name, err := staff.CheckName(form.Name)
	note(problems, "name", err)
	site, set, err := readShop(form.Form, shop.Site{}, shop.Settings{})
	addFields(problems, err)
	hash := ""
	if err := checkNewPassword(r.PostFormValue("password"), r.PostFormValue("again"), name); err != nil {
		addFields(problems, err)
	} else if len(problems) == 0 {
		if hash, err = password.Hash(r.Context(), r.PostFormValue("password")); err != nil {
			return staff.Person{}, err
		}
	}
	if len(problems) > 0 {
		return staff.Person{}, fault.Form(problems)
	}
	return s.store.FirstOwner(r.Context(), site, set, name, hash)
}

// checkNewPassword refuses what is too short, too long, or the person's own
// name; nothing is asked of its characters (ASVS 6.2.1, 6.2.5, 6.2.9).
func checkNewPassword(text, again, name string) error {
	n := utf8.RuneCountInString(text)
	switch {
	case n < password.MinLength:
		return fault.Field("password", "Use at least %d characters; a few words in a row are good.", password.MinLength)
	case n > password.MaxLength:
		return fault.Field("password", "Use at most %d characters.", password.MaxLength)
	case strings.EqualFold(text, name) || password.Common(text):
		return fault.Field("password", "This one is guessed first. Take another.")
	case text != again:
		return fault.Field("again", "This is not the same as above.")
	}
	return nil
}
