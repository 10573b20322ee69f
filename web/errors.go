package web

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"log/slog"
	"net/http"
	"strings"

	"ohmstead/internal/fault"
	"ohmstead/web/page"
)

// statusOf maps the kinds of error to HTTP, in one place.
var statusOf = map[fault.Kind]int{
	fault.Internal:  http.StatusInternalServerError,
	fault.Invalid:   http.StatusUnprocessableEntity,
	fault.NotFound:  http.StatusNotFound,
	fault.Forbidden: http.StatusForbidden,
	fault.Conflict:  http.StatusConflict,
	fault.Gone:      http.StatusGone,
	fault.Busy:      http.StatusServiceUnavailable,
}

// titleOf says on the page of trouble what has happened.
var titleOf = map[fault.Kind]string{
	fault.Internal:  "That did not work",
	fault.Invalid:   "This cannot be accepted as it stands",
	fault.NotFound:  "There is nothing here",
	fault.Forbidden: "This is not yours to open",
	fault.Conflict:  "Somebody was here before you",
	fault.Gone:      "This has been withdrawn",
	fault.Busy:      "Not just now",
}

type requestIDKey struct{}

// withRequestID gives every request a number that the log and the page of
// trouble share.
func withRequestID(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b := make([]byte, 6)
		rand.Read(b) //nolint:errcheck // never fails since Go 1.24
		id := hex.EncodeToString(b)
		w.Header().Set("X-Request-Id", id)
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), requestIDKey{}, id)))
	})
}

func requestID(ctx context.Context) string {
	id, _ := ctx.Value(requestIDKey{}).(string)
	return id
}

// fail is the one way in which a request ends in an error: it logs the cause
// and shows the person's text, as a page or, to a script, as a problem document
// (RFC 9457).
func (s *Server) fail(w http.ResponseWriter, r *http.Request, v *visit, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // nobody is waiting any more
	}
	kind := fault.KindOf(err)
	level := slog.LevelInfo
	switch kind {
	case fault.Internal:
		level = slog.LevelError
	case fault.Busy:
		level = slog.LevelWarn
	}
	s.log.Log(r.Context(), level, "request failed", "request", requestID(r.Context()), "method", r.Method,
		"path", r.URL.Path, "kind", titleOf[kind], "cause", err)
	status := statusOf[kind]
	if wantsJSON(r) {
		writeProblem(w, status, titleOf[kind], fault.Text(err), fault.Fields(err))
		return
	}
	f := s.frame(v, titleOf[kind], "")
	p := page.TroublePage{Frame: f, Text: fault.Text(err)}
	if kind == fault.Internal {
		p.RequestID = requestID(r.Context())
	}
	if err := render(w, r, status, page.Trouble(p)); err != nil {
		s.log.Error("page of trouble", "cause", err)
	}
}

func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "application/json") ||
		strings.HasPrefix(r.Header.Get("Accept"), "application/json")
}
