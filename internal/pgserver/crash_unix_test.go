//go:build unix

package pgserver

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// childEnv makes this test binary an application that can be killed.
const childEnv = "OHMSTEAD_PGSERVER_CHILD"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childEnv); dir != "" {
		fmt.Println("ended:", writeForEver(dir))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// writeForEver is the application of these tests: it stores one row after the
// other and says each id once Postgres has acknowledged it.
func writeForEver(dir string) error {
	ctx := context.Background()
	s, err := Start(ctx, Options{Dir: dir})
	if err != nil {
		return err
	}
	conn, err := pgx.Connect(ctx, s.URL())
	if err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, `CREATE TABLE IF NOT EXISTS reading (id bigserial PRIMARY KEY)`); err != nil {
		return err
	}
	for {
		var id int64
		if err := conn.QueryRow(ctx, `INSERT INTO reading DEFAULT VALUES RETURNING id`).Scan(&id); err != nil {
			return err
		}
		fmt.Println(id)
	}
}

// child is a running writeForEver and what it has been told is stored.
type child struct {
	cmd          *exec.Cmd
	lines        *bufio.Scanner
	acknowledged []int64
}

func startChild(t *testing.T, cmd *exec.Cmd, dir string) *child {
	t.Helper()
	cmd.Env = append(os.Environ(), childEnv+"="+dir)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	return &child{cmd: cmd, lines: bufio.NewScanner(out)}
}

// read takes n more acknowledged ids.
func (c *child) read(t *testing.T, n int) {
	t.Helper()
	for range n {
		if !c.lines.Scan() {
			t.Fatalf("the child ended early: %v", c.lines.Err())
		}
		if !c.take() {
			t.Fatalf("child: %s", c.lines.Text())
		}
	}
}

// readRest takes what it still said before it ended.
func (c *child) readRest() {
	for c.lines.Scan() && c.take() {
	}
}

func (c *child) take() bool {
	id, err := strconv.ParseInt(c.lines.Text(), 10, 64)
	if err == nil {
		c.acknowledged = append(c.acknowledged, id)
	}
	return err == nil
}

// checkStored starts a server and looks for every row that was acknowledged.
func checkStored(t *testing.T, dir string, acknowledged []int64) {
	t.Helper()
	s := start(t, Options{Dir: dir})
	lost := query[int](t, s.URL(), `SELECT count(*) FROM unnest($1::bigint[]) AS a(id)
		WHERE NOT EXISTS (SELECT FROM reading WHERE reading.id = a.id)`, acknowledged)
	if lost > 0 {
		t.Errorf("%d of %d acknowledged rows are lost", lost, len(acknowledged))
	}
	if err := s.Stop(); err != nil {
		t.Error(err)
	}
}

// postmasterPID reads the id of the server from its own file.
func postmasterPID(t *testing.T, dir string) int {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "data", "postmaster.pid"))
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := strings.Cut(string(b), "\n")
	pid, err := strconv.Atoi(first)
	if err != nil {
		t.Fatal(err)
	}
	return pid
}

func TestApplicationKilled(t *testing.T) {
	t.Parallel()
	needPostgres(t)
	dir := newDir(t)
	var acknowledged []int64
	for round := range 3 {
		c := startChild(t, exec.Command(os.Args[0]), dir)
		c.read(t, 100*(round+1))
		c.cmd.Process.Kill()
		c.readRest()
		c.cmd.Wait()
		acknowledged = append(acknowledged, c.acknowledged...)
		checkStored(t, dir, acknowledged)
	}
}

// The application sees the end of its server, and the next one recovers.
func TestServerKilledUnderApplication(t *testing.T) {
	t.Parallel()
	needPostgres(t)
	dir := newDir(t)
	var acknowledged []int64
	for range 2 {
		c := startChild(t, exec.Command(os.Args[0]), dir)
		c.read(t, 200)
		if err := syscall.Kill(postmasterPID(t, dir), syscall.SIGKILL); err != nil {
			t.Fatal(err)
		}
		// Both at once, as when memory runs out: an old session may still be
		// busy when the next server starts.
		c.cmd.Process.Kill()
		c.readRest()
		c.cmd.Wait()
		acknowledged = append(acknowledged, c.acknowledged...)
		checkStored(t, dir, acknowledged)
	}
}

func TestDied(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	s := start(t, Options{Dir: dir})
	if err := syscall.Kill(postmasterPID(t, dir), syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	select {
	case <-s.Died():
	case <-time.After(10 * time.Second):
		t.Fatal("nobody noticed that the server was killed")
	}
	if err := s.Stop(); err != nil {
		t.Errorf("Stop after the server died: %v", err)
	}
	start(t, Options{Dir: dir})
}

// On systems that do not tie a child's life to its parent's, the server outlives a
// killed application. Here it is started by a shell that ends at once.
func TestLeftoverIsStopped(t *testing.T) {
	t.Parallel()
	needPostgres(t)
	dir := newDir(t)
	if err := start(t, Options{Dir: dir}).Stop(); err != nil {
		t.Fatal(err)
	}
	c := reopen(t, dir)
	if err := c.makeSocketDir(); err != nil {
		t.Fatal(err)
	}
	sh := exec.Command("sh", append([]string{"-c", `"$@" >/dev/null 2>&1 &`, "sh", c.inst.postgres()}, c.args()...)...)
	sh.Dir, sh.Env = "/", serverEnv()
	sh.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Credential: c.acct.credential()}
	if err := sh.Run(); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the leftover server answers", func() bool {
		conn, err := pgx.Connect(t.Context(), socketURL(c.socketDir, superuser, superuser))
		return err == nil && conn.Close(t.Context()) == nil
	})
	old := postmasterPID(t, dir)
	c.lock.Close() // as if the application had been killed
	s := start(t, Options{Dir: dir})
	if commandLine(old) != "" {
		t.Errorf("the leftover server, process %d, still runs", old)
	}
	if got := query[int](t, s.URL(), `SELECT 1`); got != 1 {
		t.Error("no answer")
	}
}

// reopen takes a stopped cluster as an application does before it launches.
func reopen(t *testing.T, dir string) *cluster {
	t.Helper()
	c, err := openCluster(t.Context(), Options{Dir: dir, Log: discard, Connections: 10})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.lock.Close() })
	return c
}

func waitFor(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); !ok(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("waited in vain: %s", what)
		}
	}
}

// After a power cut the process id in the server's file may belong to anybody, and
// socket and half-made cluster may lie about.
func TestStaleFiles(t *testing.T) {
	t.Parallel()
	needPostgres(t)
	dir := newDir(t)
	s := start(t, Options{Dir: dir})
	pidFile := filepath.Join(dir, "data", "postmaster.pid")
	before, err := os.ReadFile(pidFile)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Stop(); err != nil {
		t.Fatal(err)
	}
	c := reopen(t, dir)
	c.close()
	other := exec.Command("sleep", "600")
	other.SysProcAttr = &syscall.SysProcAttr{Credential: c.acct.credential()}
	other.Dir = "/"
	if err := other.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { other.Process.Kill(); other.Wait() })
	_, rest, _ := strings.Cut(string(before), "\n")

	for name, content := range map[string]string{
		"id of a living stranger": fmt.Sprintf("%d\n%s", other.Process.Pid, rest),
		"id of nobody":            fmt.Sprintf("%d\n%s", 1<<22-1, rest),
		"cut short":               "",
		"nonsense":                "x\n",
	} {
		for path, content := range map[string]string{
			pidFile: content,
			filepath.Join(dir, "run", ".s.PGSQL.5432.lock"): "1\n",
			filepath.Join(dir, "run", ".s.PGSQL.5432"):      "",
			filepath.Join(dir, "data.new", "PG_VERSION"):    "15\n",
		} {
			os.MkdirAll(filepath.Dir(path), 0o700)
			if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
				t.Fatal(err)
			}
			if c.acct.drop {
				os.Chown(path, int(c.acct.uid), int(c.acct.gid))
			}
		}
		s := start(t, Options{Dir: dir})
		if err := s.Stop(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := other.Process.Signal(syscall.Signal(0)); errors.Is(err, os.ErrProcessDone) {
		t.Error("a stranger's process was ended")
	}
}
