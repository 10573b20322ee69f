package web

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"

	"github.com/a-h/templ"
)

// render writes a page as a whole: into a buffer first, so that no half page
// leaves with status 200.
func render(w http.ResponseWriter, r *http.Request, status int, c templ.Component) error {
	var b bytes.Buffer
	if err := c.Render(r.Context(), &b); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(status)
	_, err := w.Write(b.Bytes())
	return err
}

// writeJSON answers a script.
func writeJSON(w http.ResponseWriter, status int, body any) error {
	return writeTyped(w, status, "application/json; charset=utf-8", body)
}

func writeTyped(w http.ResponseWriter, status int, contentType string, body any) error {
	b, err := json.Marshal(body)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", contentType)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, err = w.Write(b)
	return err
}

// writeProblem answers a script with a problem document (RFC 9457).
func writeProblem(w http.ResponseWriter, status int, title, detail string, fields map[string]string) {
	body := map[string]any{"type": "about:blank", "title": title, "status": status, "detail": detail}
	if len(fields) > 0 {
		body["fields"] = fields
	}
	if err := writeTyped(w, status, "application/problem+json; charset=utf-8", body); err != nil {
		return // the script has gone; nothing is left to tell it
	}
}
