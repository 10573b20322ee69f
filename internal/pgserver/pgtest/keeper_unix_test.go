//go:build unix

package pgtest_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"ohmstead/internal/pgserver"
	"ohmstead/internal/pgserver/pgtest"
)

// hangEnv makes TestInChild wait to be killed.
const hangEnv = "OHMSTEAD_PGTEST_HANG"

// TestInChild is what the child processes of the tests below run; by itself it
// checks that a database can be had.
func TestInChild(t *testing.T) {
	db := pgtest.DB(t)
	var began string
	if err := db.QueryRow(context.Background(), `SELECT pg_postmaster_start_time()::text`).Scan(&began); err != nil {
		t.Fatal(err)
	}
	t.Logf("server began %s", began)
	if os.Getenv(hangEnv) != "" {
		time.Sleep(time.Hour)
	}
}

var serverBegan = regexp.MustCompile(`server began \S+ \S+`)

// newPlace is a directory for clusters of the children alone.
func newPlace(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "pgtest-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o711); err != nil {
		t.Fatal(err)
	}
	return dir
}

// child runs TestInChild in a process of its own.
func child(place string, env ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], "-test.run=^TestInChild$", "-test.v")
	cmd.Env = append(os.Environ(), "OHMSTEAD_TEST_DIR="+place, "OHMSTEAD_TEST_DATABASE_URL=")
	cmd.Env = append(cmd.Env, env...)
	return cmd
}

// checkNothingLeft waits for the keeper to end, and looks for files.
func checkNothingLeft(t *testing.T, place string) {
	t.Helper()
	var left []os.DirEntry
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		if left, _ = os.ReadDir(place); len(left) == 0 {
			return
		}
	}
	t.Errorf("%d files are left in %s, the first is %s", len(left), place, left[0].Name())
}

func TestProcessesShareOneCluster(t *testing.T) {
	t.Parallel()
	pgtest.URL(t) // skips where there is no Postgres
	place := newPlace(t)
	var outs [3]bytes.Buffer
	var cmds [3]*exec.Cmd
	for i := range cmds {
		cmds[i] = child(place)
		cmds[i].Stdout, cmds[i].Stderr = &outs[i], &outs[i]
		if err := cmds[i].Start(); err != nil {
			t.Fatal(err)
		}
	}
	began := map[string]bool{}
	for i, cmd := range cmds {
		if err := cmd.Wait(); err != nil {
			t.Fatalf("child %d: %v\n%s", i, err, &outs[i])
		}
		began[serverBegan.FindString(outs[i].String())] = true
	}
	if len(began) != 1 || began[""] {
		t.Errorf("three processes at once used these servers: %v", began)
	}
	checkNothingLeft(t, place)
}

func TestKilledProcessLeavesNothing(t *testing.T) {
	t.Parallel()
	pgtest.URL(t)
	place := newPlace(t)
	cmd := child(place, hangEnv+"=1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var seen bytes.Buffer
	for buf := make([]byte, 4096); !serverBegan.Match(seen.Bytes()); {
		n, err := out.Read(buf)
		seen.Write(buf[:n])
		if err != nil {
			t.Fatalf("the child ended early:\n%s", &seen)
		}
	}
	cmd.Process.Kill()
	io.Copy(io.Discard, out) // ends only if the keeper does not hold our pipe
	cmd.Wait()
	checkNothingLeft(t, place)
}

func TestWithoutPostgres(t *testing.T) {
	t.Parallel()
	for ci, want := range map[string]string{"": "--- SKIP: TestInChild", "true": "--- FAIL: TestInChild"} {
		place := newPlace(t)
		out, _ := child(place, "CI="+ci, "OHMSTEAD_PG_BIN="+place).CombinedOutput()
		if !bytes.Contains(out, []byte(want)) || !bytes.Contains(out, []byte("no usable PostgreSQL")) {
			t.Errorf("CI=%q: wanted %q and the reason in\n%s", ci, want, out)
		}
		if left, _ := os.ReadDir(place); len(left) > 0 {
			t.Errorf("CI=%q: %s is left behind", ci, left[0].Name())
		}
	}
}

// A server that goes on after the tests is left as it was found.
func TestExternalServer(t *testing.T) {
	t.Parallel()
	pgtest.URL(t)
	ctx := context.Background()
	pg, err := pgserver.Start(ctx, pgserver.Options{Dir: filepath.Join(newPlace(t), "pg"), Throwaway: true})
	if err != nil {
		t.Fatal(err)
	}
	defer pg.Stop()
	databases := func() string {
		conn, err := pgx.Connect(ctx, pg.AdminURL())
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close(ctx)
		var names string
		if err := conn.QueryRow(ctx, `SELECT string_agg(datname, ' ' ORDER BY datname) FROM pg_database`).Scan(&names); err != nil {
			t.Fatal(err)
		}
		return names
	}
	before := databases()
	place := newPlace(t)
	out, err := child(place, "OHMSTEAD_TEST_DATABASE_URL="+pg.AdminURL()).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if during := databases(); !strings.Contains(during, "ohmstead_test_") {
		t.Errorf("the tests did not use the server that was named: %s", during)
	}
	checkNothingLeft(t, place)
	if after := databases(); after != before {
		t.Errorf("databases before: %s; after: %s", before, after)
	}
}
