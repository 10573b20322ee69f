package static

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func ask(path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

// ASVS 5.0 V13.4.3: no listings, and nothing but what is named here.
func TestOnlyTheFilesAreServed(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"/static/", "/static/static.go", "/static/../server.go", "/static/%2e%2e/server.go", "/static/..%2fserver.go",
		"/static/x/sheet.css", "/static//sheet.css", "/static/sheet.css/", "/static/%00", "/static/sheet.css%00"} {
		if w := ask(path); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d, %d bytes", path, w.Code, w.Body.Len())
		}
	}
	for name, want := range map[string]string{"sheet.css": "text/css", "sheet.js": "text/javascript", "icon.svg": "image/svg+xml"} {
		w := ask("/static/" + name)
		if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), want) || w.Body.Len() == 0 {
			t.Errorf("%s: status %d, %s, %d bytes", name, w.Code, w.Header().Get("Content-Type"), w.Body.Len())
		}
	}
}

// A file is kept for ever under the address that names its content, and only there.
func TestFilesAreKeptByTheirContent(t *testing.T) {
	t.Parallel()
	if got := ask(URL("sheet.css")).Header().Get("Cache-Control"); !strings.Contains(got, "immutable") {
		t.Errorf("under its own address: %s", got)
	}
	for _, path := range []string{"/static/sheet.css", "/static/sheet.css?v=0"} {
		if got := ask(path).Header().Get("Cache-Control"); strings.Contains(got, "immutable") {
			t.Errorf("%s: %s", path, got)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a file that is not there has an address")
		}
	}()
	URL("../server.go")
}
