package web

import (
	"context"
	"net/http"
	"unicode/utf8"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// familyBook is what the pages of board families need of storage.
type familyBook interface {
	Families(ctx context.Context) ([]shop.Family, error)
	SaveFamily(ctx context.Context, by staff.Actor, f shop.Family) (shop.Family, error)
	Revisions(ctx context.Context, family uuid.UUID) ([]shop.Revision, error)
	Profile(ctx context.Context, id uuid.UUID) (shop.Profile, error)
}

// families lists the kinds of board; ?edit= opens the form on one.
func (s *Server) families(w http.ResponseWriter, r *http.Request, v *visit) error {
	list, err := s.store.Families(r.Context())
	if err != nil {
		return err
	}
	var form page.FamilyForm
	for _, f := range list {
		if f.ID.String() == r.URL.Query().Get("edit") {
			form = page.FamilyFormOf(f, v.site.Locale)
		}
	}
	return s.showFamilies(w, r, v, http.StatusOK, list, form, nil)
}

func (s *Server) showFamilies(w http.ResponseWriter, r *http.Request, v *visit, status int, list []shop.Family, form page.FamilyForm, refused error) error {
	revisions, err := s.store.Revisions(r.Context(), uuid.Nil)
	if err != nil {
		return err
	}
	f := s.frame(v, "", placeFamilies)
	if r.URL.Query().Get("saved") == "yes" {
		f.Notice = "Stored."
	}
	may := staff.Can(v.person.Role, staff.ManageProfiles)
	p := page.NewFamilies(f, list, revisions, may, form, page.RefusalOf(refused, "name", "title", "new_board"))
	return render(w, r, status, page.Families(p))
}

// saveFamily enters a family or changes one.
func (s *Server) saveFamily(w http.ResponseWriter, r *http.Request, v *visit) error {
	form := page.FamilyForm{ID: r.PostFormValue("id"), Name: r.PostFormValue("name"), Title: r.PostFormValue("title"), NewBoard: r.PostFormValue("new_board")}
	f, err := readFamily(form, v)
	if err == nil {
		_, err = s.store.SaveFamily(r.Context(), v.actor(), f)
	}
	k := fault.KindOf(err)
	switch {
	case err == nil:
		http.Redirect(w, r, "/families?saved=yes", http.StatusSeeOther)
		return nil
	case k != fault.Invalid && k != fault.Conflict:
		return err
	}
	list, listErr := s.store.Families(r.Context())
	if listErr != nil {
		return listErr
	}
	return s.showFamilies(w, r, v, statusOf[k], list, form, err)
}

// readFamily says what the form means.
func readFamily(form page.FamilyForm, v *visit) (shop.Family, error) {
	problems := map[string]string{}
	f := shop.Family{Name: trim(form.Name), Title: trim(form.Title)}
	if form.ID != "" {
		id, err := uuid.Parse(form.ID)
		if err != nil {
			return f, fault.New(fault.Invalid, "This form is incomplete. Load the page again.")
		}
		f.ID = id
	}
	switch n := utf8.RuneCountInString(f.Name); {
	case n == 0:
		problems["name"] = "Enter the family’s name as printed on the board."
	case n > 60:
		problems["name"] = "Use at most 60 characters."
	}
	if utf8.RuneCountInString(f.Title) > 200 {
		problems["title"] = "Use at most 200 characters."
	}
	var err error
	f.NewBoard, err = readLimit(form.NewBoard, v)
	note(problems, "new_board", err)
	return f, fault.Form(problems)
}

// revision shows what is known of one revision.
func (s *Server) revision(w http.ResponseWriter, r *http.Request, v *visit) error {
	rev, err := s.revisionOf(r)
	if err != nil {
		return err
	}
	lineage, err := s.lineage(r.Context(), rev.ProfileVersionID)
	if err != nil {
		return err
	}
	var known *profile.Profile
	unreadable := ""
	if len(lineage) > 0 {
		if known, err = profile.Load(lineage[0].Key, lineage[0].Flattened, nil); err != nil {
			s.log.Error("stored profile", "key", lineage[0].Key, "cause", err)
			unreadable = err.Error()
		}
	}
	p := page.NewRevision(s.frame(v, "", placeFamilies), rev, lineage, known, unreadable)
	return render(w, r, http.StatusOK, page.Revision(p))
}

func (s *Server) revisionOf(r *http.Request) (shop.Revision, error) {
	id, err := uuid.Parse(chi.URLParam(r, "revision"))
	if err == nil {
		var list []shop.Revision
		if list, err = s.store.Revisions(r.Context(), uuid.Nil); err != nil {
			return shop.Revision{}, err
		}
		for _, rev := range list {
			if rev.ID == id {
				return rev, nil
			}
		}
	}
	return shop.Revision{}, fault.New(fault.NotFound, "There is no such revision. It is found under board families.")
}

// mostVersions is how far back the page of a revision looks.
const mostVersions = 20

// lineage gives a profile version and those it came from, newest first.
func (s *Server) lineage(ctx context.Context, newest *uuid.UUID) ([]shop.Profile, error) {
	var out []shop.Profile
	for id := newest; id != nil && len(out) < mostVersions; {
		p, err := s.store.Profile(ctx, *id)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
		id = p.ParentID
	}
	return out, nil
}
