//go:build unix

package pgserver

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// fakeInstallation makes programs that only tell a version.
func fakeInstallation(t *testing.T, says string) string {
	t.Helper()
	dir := t.TempDir()
	for _, name := range []string{"postgres", "initdb"} {
		script := fmt.Sprintf("#!/bin/sh\necho '%s'\n", says)
		if err := os.WriteFile(filepath.Join(dir, name), []byte(script), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestExplicitDirectory(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		says    string
		version string // found; empty: refused
		message string
	}{
		"Debian's":      {"postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)", "15.18", ""},
		"plain":         {"postgres (PostgreSQL) 17.2", "17.2", ""},
		"too old":       {"postgres (PostgreSQL) 14.11", "", "too old: 14.11"},
		"beta":          {"postgres (PostgreSQL) 18beta1", "", "18beta1"},
		"devel":         {"postgres (PostgreSQL) 19devel", "", "19devel"},
		"something new": {"hello", "", "hello"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			found, err := findInstallations(t.Context(), fakeInstallation(t, c.says))
			switch {
			case c.version != "" && err != nil:
				t.Fatal(err)
			case c.version != "" && found[0].version != c.version:
				t.Errorf("version %q, want %q", found[0].version, c.version)
			case c.version == "" && (!errors.Is(err, ErrNoBinaries) || !strings.Contains(err.Error(), c.message)):
				t.Errorf("error %v, wanted %q in it", err, c.message)
			}
		})
	}
}

func TestNoPrograms(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	_, err := Start(t.Context(), Options{Dir: dir, BinDir: t.TempDir()})
	if !errors.Is(err, ErrNoBinaries) {
		t.Fatalf("got %v", err)
	}
	text := noBinaries(nil).Error()
	for _, wayOut := range []string{"apt install", "dnf install", "brew install", "OHMSTEAD_PG_BIN", "DATABASE_URL", "docker compose"} {
		if !strings.Contains(text, wayOut) {
			t.Errorf("the message does not mention %q:\n%s", wayOut, text)
		}
	}
	// Refused, it must not keep the directory.
	start(t, Options{Dir: dir, Throwaway: true})
}

func TestChoose(t *testing.T) {
	t.Parallel()
	found := []installation{{major: 17, version: "17.2"}, {major: 16}, {major: 15}}
	for data, want := range map[int]int{0: 17, 15: 15, 16: 16, 17: 17} {
		got, err := choose(found, data, "/data")
		if err != nil || got.major != want {
			t.Errorf("data of %d: chose %d (%v), want %d", data, got.major, err, want)
		}
	}
	for _, data := range []int{14, 18} {
		_, err := choose(found, data, "/data")
		if !errors.Is(err, ErrOtherMajor) || !strings.Contains(err.Error(), "17, 16, 15") {
			t.Errorf("data of %d: %v", data, err)
		}
	}
}

// tree is what a directory holds: names, modes, sizes, times and contents.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		content := ""
		if info.Mode().IsRegular() {
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			content = string(b)
		}
		files[path] = fmt.Sprint(info.Mode(), info.ModTime().UnixNano(), content)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestForeignDataStayUntouched(t *testing.T) {
	t.Parallel()
	needPostgres(t)
	for name, c := range map[string]struct {
		files map[string]string
		want  string
	}{
		"older":       {map[string]string{"PG_VERSION": "9.6\n"}, "9.6"},
		"newer":       {map[string]string{"PG_VERSION": "99\n", "postmaster.pid": "1\n"}, "written by PostgreSQL 99"},
		"no cluster":  {map[string]string{"letter.txt": "Dear all\n"}, "no PostgreSQL cluster"},
		"unreadable ": {map[string]string{"PG_VERSION": "what\n"}, "what"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := newDir(t)
			data := filepath.Join(dir, "data")
			if err := os.MkdirAll(filepath.Join(data, "base"), 0o700); err != nil {
				t.Fatal(err)
			}
			for name, content := range c.files {
				if err := os.WriteFile(filepath.Join(data, name), []byte(content), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			before := tree(t, data)
			s, err := Start(t.Context(), Options{Dir: dir})
			if err == nil {
				s.Stop()
				t.Fatal("started on data of another kind")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("message %q does not say %q", err, c.want)
			}
			if diff := cmp.Diff(before, tree(t, data)); diff != "" {
				t.Errorf("the data were changed:\n%s", diff)
			}
		})
	}
}
