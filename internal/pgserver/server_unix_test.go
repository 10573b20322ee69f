//go:build unix

package pgserver

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// needPostgres skips on a machine without the programs, and fails there in CI.
func needPostgres(t *testing.T) {
	t.Helper()
	_, err := findInstallations(t.Context(), "")
	if err == nil {
		return
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("CI=true: %v", err)
	}
	t.Skip(err)
}

// newDir gives a directory that the server's account can reach; the one of
// t.TempDir is closed to it when the test runs as root.
func newDir(t *testing.T) string {
	t.Helper()
	base, err := os.MkdirTemp("", "pgserver-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(base) })
	if err := os.Chmod(base, 0o711); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(base, "pg")
}

func start(t *testing.T, o Options) *Server {
	t.Helper()
	needPostgres(t)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	s, err := Start(ctx, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Stop(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// query runs one statement and gives the first column of its first row.
func query[T any](t *testing.T, url, sql string, args ...any) T {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(t.Context())
	rows, err := conn.Query(t.Context(), sql, args...)
	if err != nil {
		t.Fatal(err)
	}
	v, err := pgx.CollectOneRow(rows, pgx.RowTo[T])
	if err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return v
}

func TestColdAndWarmStart(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	cold := start(t, Options{Dir: dir})
	conn, err := pgx.Connect(t.Context(), cold.URL())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := conn.Exec(t.Context(), `CREATE TABLE kept AS SELECT 42 AS n`); err != nil {
		t.Fatal(err)
	}
	// The connection stays open: Stop must not wait for it.
	if err := cold.Stop(); err != nil {
		t.Fatal(err)
	}
	if err := cold.Stop(); err != nil {
		t.Errorf("second Stop: %v", err)
	}
	select {
	case <-cold.Died():
		t.Error("Died is closed after an ordinary Stop")
	default:
	}
	warm := start(t, Options{Dir: dir})
	if got := query[int](t, warm.URL(), `SELECT n FROM kept`); got != 42 {
		t.Errorf("after a warm start: %d", got)
	}
}

func TestSettings(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	s := start(t, Options{Dir: dir, Connections: 17})
	for setting, want := range map[string]string{
		"fsync": "on", "synchronous_commit": "on", "full_page_writes": "on",
		"listen_addresses": "", "max_connections": "17", "data_checksums": "on",
		"unix_socket_permissions": "0700", "TimeZone": "UTC", "server_encoding": "UTF8",
		"is_superuser": "off",
	} {
		if got := query[string](t, s.URL(), `SHOW `+setting); got != want {
			t.Errorf("%s = %q, want %q", setting, got, want)
		}
	}
	if got := query[string](t, s.URL(), `SELECT lower('ÄÖÉ')`); got != "äöé" {
		t.Errorf("lower case of letters beyond ASCII: %q", got)
	}
	if got := query[bool](t, s.URL(), `SELECT 'Z' < 'a'`); !got {
		t.Error("text is not sorted by code point")
	}
	if err := Check(t.Context(), s.URL()); err != nil {
		t.Error(err)
	}
	if got := query[string](t, s.URL(), `SHOW server_version`); !strings.HasPrefix(got, s.Version()) {
		t.Errorf("Version %q, the server says %q", s.Version(), got)
	}
	// No password is asked, so the socket's directory is closed to all others.
	for _, name := range []string{"run", "data"} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o700 {
			t.Errorf("%s has mode %v", name, info.Mode())
		}
	}
}

func TestSecondInstanceIsRefused(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	first := start(t, Options{Dir: dir})
	_, err := Start(t.Context(), Options{Dir: dir})
	if !errors.Is(err, ErrInUse) {
		t.Fatalf("second start: %v", err)
	}
	if want := "process " + strconv.Itoa(os.Getpid()); !strings.Contains(err.Error(), want) {
		t.Errorf("the message does not name %s: %v", want, err)
	}
	if got := query[int](t, first.URL(), `SELECT 1`); got != 1 {
		t.Error("the first server was disturbed")
	}
}

func TestPaths(t *testing.T) {
	t.Parallel()
	for name, tail := range map[string]string{
		"spaces":    "my shop's data",
		"marks":     `a+b "c" %20 ?x=1&y #z\`,
		"comma":     "Lantern, Quay",
		"not ASCII": "Werkstatt Überlingen",
		"long":      strings.Repeat("long-", 20) + "/" + strings.Repeat("path-", 20),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(newDir(t), tail)
			s := start(t, Options{Dir: dir, Throwaway: true})
			if got := query[int](t, s.URL(), `SELECT 1`); got != 1 {
				t.Error("no answer")
			}
			short, err := os.Readlink(filepath.Join(dir, "run"))
			if elsewhere := name == "long" || name == "comma"; elsewhere != (err == nil) {
				t.Fatalf("socket elsewhere: %v, wanted %v", err == nil, elsewhere)
			}
			if err := s.Stop(); err != nil {
				t.Fatal(err)
			}
			if _, err := os.Lstat(filepath.Join(dir, "run")); err == nil {
				t.Error("the socket's directory is still there after Stop")
			}
			if _, err := os.Stat(short); short != "" && err == nil {
				t.Errorf("%s is still there after Stop", short)
			}
		})
	}
}

// A start that is called off leaves nothing running and nothing locked.
func TestStartCalledOff(t *testing.T) {
	t.Parallel()
	needPostgres(t)
	dir := newDir(t)
	ctx, cancel := context.WithTimeout(t.Context(), 150*time.Millisecond) // within initdb
	defer cancel()
	if _, err := Start(ctx, Options{Dir: dir}); err == nil {
		t.Fatal("started in no time")
	}
	start(t, Options{Dir: dir})
}

func TestCheckUnreachable(t *testing.T) {
	t.Parallel()
	err := Check(t.Context(), "postgres://nobody@127.0.0.1:1/none")
	if err == nil || !strings.Contains(err.Error(), "DATABASE_URL") {
		t.Errorf("got %v", err)
	}
}

func TestRemove(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	s := start(t, Options{Dir: dir, Throwaway: true})
	if err := Remove(t.Context(), dir); !errors.Is(err, ErrInUse) {
		t.Errorf("remove while it runs: %v", err)
	}
	if got := query[int](t, s.URL(), `SELECT 1`); got != 1 {
		t.Error("the server was disturbed")
	}
	if err := s.Stop(); err != nil {
		t.Fatal(err)
	}
	if err := Remove(t.Context(), dir); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Errorf("%s is still there", dir)
	}
}
