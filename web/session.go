package web

import (
	"context"
	"net/http"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// doorkeeper is what signing in needs of storage.
type doorkeeper interface {
	NeedsOwner(ctx context.Context) (bool, error)
	PersonByName(ctx context.Context, name string) (staff.Person, error)
	StartSession(ctx context.Context, person uuid.UUID, tokenHash []byte, device *uuid.UUID) (staff.Session, error)
	SessionPerson(ctx context.Context, tokenHash []byte) (staff.Session, error)
	EndSession(ctx context.Context, tokenHash []byte) error
	SetPassword(ctx context.Context, by staff.Actor, person uuid.UUID, passwordHash string, keep []byte) error
	Audit(ctx context.Context, a staff.Audit) error
}

// overHTTPS tells whether the browser asks over HTTPS: itself, or through a proxy
// in front of which it does.
func (s *Server) overHTTPS(r *http.Request) bool { return r.TLS != nil || s.secure }

// cookieName gives the session cookie its name: the __Host- prefix binds it to
// this host, and browsers accept that only over HTTPS.
func (s *Server) cookieName(r *http.Request) string {
	if s.overHTTPS(r) {
		return "__Host-ohmstead"
	}
	return "ohmstead"
}

func (s *Server) setSession(w http.ResponseWriter, r *http.Request, token string) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(r), Value: token, Path: "/", HttpOnly: true, Secure: s.overHTTPS(r),
		SameSite: http.SameSiteLaxMode, MaxAge: int(staff.AbsoluteLimit / time.Second),
	})
}

func (s *Server) clearSession(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(r), Path: "/", HttpOnly: true, Secure: s.overHTTPS(r),
		SameSite: http.SameSiteLaxMode, MaxAge: -1,
	})
}

// sessionHash is what the database knows of this browser's session; nil without one.
func (s *Server) sessionHash(r *http.Request) []byte {
	c, err := r.Cookie(s.cookieName(r))
	if err != nil || c.Value == "" {
		return nil
	}
	return staff.TokenHash(c.Value)
}

// personOf finds who is signed in; nil when nobody is.
func (s *Server) personOf(r *http.Request) (*staff.Person, error) {
	hash := s.sessionHash(r)
	if hash == nil {
		return nil, nil
	}
	session, err := s.store.SessionPerson(r.Context(), hash)
	if err != nil {
		if fault.KindOf(err) == fault.NotFound {
			return nil, nil
		}
		return nil, err
	}
	return &session.Person, nil
}

// audit writes to the record of sign-ins and refusals; a record that cannot be
// written is logged and does not stop the person.
func (s *Server) audit(r *http.Request, kind, name string, p *staff.Person, note string) {
	a := staff.Audit{Name: name, Kind: kind, Address: addressOf(r), Note: note}
	if p != nil {
		a.SiteID, a.PersonID, a.Name = &p.SiteID, &p.ID, p.Name
	}
	if err := s.store.Audit(r.Context(), a); err != nil {
		s.log.Error("audit", "kind", kind, "cause", err)
	}
}
