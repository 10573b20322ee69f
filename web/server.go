// Package web serves Ohmstead's pages: who may go where, what a form means,
// which page answers.
//
// It knows HTTP and people at browsers; rules of the shop are in
// internal/shop, the engine in internal/analysis, and storage is whatever
// fulfils the interfaces that each place here declares.
package web

import (
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
	"ohmstead/web/static"
)

// Storage is all that the places together need kept.
type Storage interface {
	doorkeeper
	peopleBook
	shopBook
	ticketBook
	familyBook
	quoteBook
	handOverBook
	benchBook
	pastBook
	opener
}

// Options are what a server needs besides its storage.
type Options struct {
	Log *slog.Logger
	Now func() time.Time // nil: the clock on the wall
	// Origin is where browsers find the shop when that is not where it listens, such
	// as https://shop.example; "" when it is. Behind https:// cookies are secure.
	Origin string
	// Models keeps the boards that are on the bench; nil: a cache of the server's own.
	Models *atbench.Models
}

// Server answers requests. One is enough for a shop; several may share a
// database: nothing but the throttle at the door and a cache of what the engine
// has computed is kept in memory.
type Server struct {
	store   Storage
	log     *slog.Logger
	now     func() time.Time
	slow    *throttle       // sign-in attempts
	secure  bool            // browsers come over HTTPS, through a proxy
	models  *atbench.Models // of the boards that are on the bench; a cache
	warming atomic.Bool     // the engine is working ahead for somebody's list of the bench
}

// New makes the handler for the whole application.
func New(store Storage, o Options) http.Handler {
	s := &Server{store: store, log: o.Log, now: o.Now, slow: newThrottle(), models: o.Models,
		secure: strings.HasPrefix(o.Origin, "https://")}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.models == nil {
		s.models = atbench.NewModels(benchModels)
	}
	r := chi.NewRouter()
	r.Use(withRequestID, s.withPanicPage, s.withHeaders, withBodyLimit)
	r.Use(s.sameOrigin(o.Origin))
	r.Use(middleware.GetHead)
	r.Use(middleware.Compress(5, "text/html", "text/css", "text/javascript", "application/json", "image/svg+xml"))
	r.Handle("/static/*", static.Handler())
	for _, rt := range s.routes() {
		r.Method(rt.method, rt.path, s.guarded(rt))
	}
	r.NotFound(s.guarded(route{who: anyone, beforePassword: true, do: nowhere}).ServeHTTP)
	r.MethodNotAllowed(s.guarded(route{who: anyone, beforePassword: true, do: nowhere}).ServeHTTP)
	return r
}

func nowhere(http.ResponseWriter, *http.Request, *visit) error {
	return fault.New(fault.NotFound, "The address leads nowhere. It may have been typed wrongly.")
}

// sameOrigin refuses forms that a page of another site sent. A proxy may ask under
// another name than browsers do; theirs counts too.
func (s *Server) sameOrigin(known string) func(http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	if known != "" {
		if err := p.AddTrustedOrigin(known); err != nil {
			panic(err)
		}
	}
	p.SetDenyHandler(s.guarded(route{who: anyone, beforePassword: true, do: foreign}))
	return p.Handler
}

func foreign(http.ResponseWriter, *http.Request, *visit) error {
	return fault.New(fault.Forbidden, "This was sent by a page of another site, so nothing was done. If you meant it, do it on the shop’s own page.")
}

// visit is one request by one person in one shop.
type visit struct {
	person *staff.Person // nil before sign-in
	site   shop.Site     // zero before sign-in
	locale page.Locale
	now    time.Time
}

// actor is the person as the one who acts; only on routes that need sign-in.
func (v *visit) actor() staff.Actor { return v.person.Actor() }

// guarded wraps a route: it finds who is asking, lets the right people in, and
// gives every error its page.
func (s *Server) guarded(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := &visit{now: s.now()}
		if err := s.admit(w, r, rt, v); err != nil {
			s.fail(w, r, v, err)
		}
	})
}

func (s *Server) admit(w http.ResponseWriter, r *http.Request, rt route, v *visit) error {
	if err := s.recognise(r, v); err != nil {
		return err
	}
	switch {
	case v.person == nil && !rt.who.anyone:
		return s.askToSignIn(w, r)
	case v.person != nil && !rt.who.admits(v.person.Role):
		s.audit(r, "forbidden", "", v.person, r.Method+" "+r.URL.Path)
		return fault.New(fault.Forbidden, "This page is for others in the shop. Ask the owner if you need it.")
	case v.person != nil && v.person.MustChangePassword && !rt.beforePassword:
		http.Redirect(w, r, "/me", http.StatusSeeOther)
		return nil
	}
	if err := readForm(r); err != nil {
		return err
	}
	return rt.do(w, r, v)
}

// readForm reads what a form sent as a whole: of half a form nothing is done.
// What a script sends as JSON is left for its reader.
func readForm(r *http.Request) error {
	if r.Method != http.MethodPost {
		return nil
	}
	err := r.ParseForm()
	if tooMuch := (*http.MaxBytesError)(nil); errors.As(err, &tooMuch) {
		return fault.Wrap(err, fault.Invalid, "This is more than a form may hold (%d kB). Nothing was stored; go back and shorten it.", tooMuch.Limit>>10)
	}
	return fault.Wrap(err, fault.Invalid, "The form did not arrive in one piece. Nothing was stored; go back and send it again.")
}

// recognise finds the person and the shop of a request.
func (s *Server) recognise(r *http.Request, v *visit) error {
	var err error
	if v.person, err = s.personOf(r); err != nil || v.person == nil {
		return err
	}
	if v.site, err = s.store.Site(r.Context(), v.person.SiteID); err != nil {
		return err
	}
	v.locale = page.NewLocale(v.site.Locale, v.site.TZ)
	return nil
}

// askToSignIn leads to the door and back again afterwards. A script is told so;
// the readings that it holds stay where they are.
func (s *Server) askToSignIn(w http.ResponseWriter, r *http.Request) error {
	if wantsJSON(r) {
		writeProblem(w, http.StatusUnauthorized, "Not signed in", "Sign in again; nothing that you entered is lost.", nil)
		return nil
	}
	needs, err := s.store.NeedsOwner(r.Context())
	if err != nil {
		return err
	}
	to := "/sign-in"
	if needs {
		to = "/first-start"
	} else if r.Method == http.MethodGet && r.URL.Path != "/" {
		to += "?then=" + url.QueryEscape(r.URL.RequestURI())
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

func (s *Server) withPanicPage(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			cause := recover()
			if cause == nil {
				return
			}
			if cause == http.ErrAbortHandler {
				panic(cause)
			}
			s.fail(w, r, &visit{now: s.now()}, fmt.Errorf("panic: %v\n%s", cause, debug.Stack()))
		}()
		next.ServeHTTP(w, r)
	})
}

// frame is what the page carries around its content. here is the place of the
// signpost that it belongs to.
func (s *Server) frame(v *visit, title, here string) page.Frame {
	f := page.Frame{Title: title, Shop: v.site.Name, Locale: v.locale, Scripts: []string{"sheet.js"}}
	if v.person == nil {
		return f
	}
	f.Person, f.Role = v.person.Name, v.person.Role.Title()
	for _, p := range places {
		if p.who.admits(v.person.Role) {
			f.Places = append(f.Places, page.Place{Name: p.name, Address: p.address, Here: p.name == here})
		}
	}
	return f
}
