package main

import (
	"bytes"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/postgres"
	"ohmstead/profiles"
)

// A shop's own directory may hold a sibling of a shipped board. A file that is
// wrong is named in the log with line and column, and the shop opens all the same.
func TestOwnProfiles(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"sedge-g.yaml": "format: ohmstead/board-profile/1\nid: sedge-g\nbased_on: sedge-d\ntitle: SEDGE G, own sibling\nrevision: G\n",
		"wrong.yaml":   "format: ohmstead/board-profile/1\nid: wrong\ntitle: Wrong\nrevision: A\nparts: 7\n",
		"notes.txt":    "not a profile",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	log := slog.New(slog.NewTextHandler(&out, nil))
	pool := pgtest.DB(t)
	store := postgres.New(pool)
	cfg := Config{Profiles: dir}
	for range 2 { // the second time nothing is new
		if err := syncProfiles(t.Context(), store, cfg, log); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := pool.Query(t.Context(), `SELECT key FROM profile_version WHERE author = 'this shop' ORDER BY key`)
	if err != nil {
		t.Fatal(err)
	}
	var own []string
	for rows.Next() {
		var key string
		if err := rows.Scan(&key); err != nil {
			t.Fatal(err)
		}
		own = append(own, key)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"sedge-g"}, own); diff != "" {
		t.Errorf("own profiles (-want +got):\n%s", diff)
	}
	if got := out.String(); !strings.Contains(got, "wrong.yaml:5:") {
		t.Errorf("the log does not say where wrong.yaml is wrong:\n%s", got)
	}
}

func TestShippedProfilesAreRead(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	loaded, _, err := Config{}.shelves()[0].read(slog.New(slog.NewTextHandler(&out, nil)))
	if err != nil {
		t.Fatal(err)
	}
	files, err := fs.Glob(profiles.Files, "*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(loaded) != len(files) || len(loaded) == 0 {
		t.Errorf("%d of %d shipped profiles can be used:\n%s", len(loaded), len(files), &out)
	}
}

func TestProfilesDirectoryMissing(t *testing.T) {
	t.Parallel()
	cfg := Config{Profiles: filepath.Join(t.TempDir(), "none")}
	_, _, err := cfg.shelves()[1].read(slog.New(slog.DiscardHandler))
	if err == nil {
		t.Error("a directory that is not there was read")
	}
}
