// Package static holds the files that browsers fetch: style sheets, small
// scripts, icons. All of them are our own; there is no build step.
//
// It knows file names and content hashes; it knows nothing of pages.
package static

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

//go:embed *.css *.js *.svg
var files embed.FS

var versions = hashAll()

func hashAll() map[string]string {
	out := map[string]string{}
	names, err := fs.Glob(files, "*")
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		b, err := files.ReadFile(name)
		if err != nil {
			panic(err)
		}
		sum := sha256.Sum256(b)
		out[name] = hex.EncodeToString(sum[:6])
	}
	return out
}

// URL gives the address of a file with its content hash, so that a browser may
// keep it for ever and still sees a new one at once. An unknown name panics:
// that is a programmer's mistake and a page test finds it.
func URL(name string) string {
	v, ok := versions[name]
	if !ok {
		panic(fmt.Sprintf("static: no file %q", name))
	}
	return "/static/" + name + "?v=" + v
}

// Handler serves the files below /static/.
func Handler() http.Handler {
	server := http.StripPrefix("/static/", http.FileServerFS(files))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := path.Base(r.URL.Path)
		v, ok := versions[name]
		if !ok || strings.Contains(strings.TrimPrefix(r.URL.Path, "/static/"), "/") {
			http.NotFound(w, r)
			return
		}
		if r.URL.Query().Get("v") == v {
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		} else {
			w.Header().Set("Cache-Control", "public, max-age=60")
		}
		w.Header().Set("ETag", `"`+v+`"`)
		server.ServeHTTP(w, r)
	})
}
