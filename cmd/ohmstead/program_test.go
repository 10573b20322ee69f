package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"ohmstead/internal/pgserver"
	"ohmstead/internal/pgserver/pgtest"
)

// mainEnv makes this test binary the program itself, so that it can be signalled.
const mainEnv = "OHMSTEAD_TEST_MAIN"

func TestMain(m *testing.M) {
	if os.Getenv(mainEnv) != "" {
		main()
	}
	os.Exit(m.Run())
}

// newMain is the program on a private PostgreSQL, on any free port.
func newMain(data string) *Main {
	return &Main{
		Config:    Config{Listen: "127.0.0.1:0", Data: data},
		Log:       slog.New(slog.DiscardHandler),
		Throwaway: true,
	}
}

// open runs the program and closes it at the end of the test.
func open(t *testing.T, m *Main) {
	t.Helper()
	err := m.Run(t.Context())
	if errors.Is(err, pgserver.ErrNoBinaries) && os.Getenv("CI") != "true" {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := m.Close(); err != nil {
			t.Error(err)
		}
	})
}

// get asks for a page, without following redirects.
func get(t *testing.T, url string) (status int, location, body string) {
	t.Helper()
	client := http.Client{
		Timeout:       20 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	r, err := client.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, r.Header.Get("Location"), string(b)
}

// A new shop asks for its owner, and is the same shop after a restart.
func TestWholeProgram(t *testing.T) {
	t.Parallel()
	data := dataFor(t)
	for range 2 {
		m := newMain(data)
		open(t, m)
		if status, _, body := get(t, m.URL()+"/healthz"); status != http.StatusOK {
			t.Errorf("healthz: %d %s", status, body)
		}
		if status, to, _ := get(t, m.URL()+"/"); status != http.StatusSeeOther || to != "/first-start" {
			t.Errorf("a new shop answers %d, %q", status, to)
		}
		var profiles int
		if err := m.pool.QueryRow(t.Context(), `SELECT count(*) FROM profile_version`).Scan(&profiles); err != nil {
			t.Fatal(err)
		}
		if shipped, _ := filepath.Glob("../../profiles/*.yaml"); profiles != len(shipped) {
			t.Errorf("%d board profiles are stored, %d are shipped", profiles, len(shipped))
		}
		second := newMain(data)
		if err := second.Run(t.Context()); !errors.Is(err, pgserver.ErrInUse) {
			t.Errorf("a second program on the same data: %v", err)
		}
		if err := m.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// Somebody else's PostgreSQL is used as it is: no private one is started.
func TestDatabaseURL(t *testing.T) {
	t.Parallel()
	data := dataFor(t)
	m := newMain(data)
	m.Config.DatabaseURL = pgtest.URL(t)
	open(t, m)
	if status, _, body := get(t, m.URL()+"/healthz"); status != http.StatusOK {
		t.Errorf("healthz: %d %s", status, body)
	}
	if _, err := os.Stat(data); err == nil {
		t.Errorf("%s was made although nothing is kept there", data)
	}
}

func TestDatabaseUnreachable(t *testing.T) {
	t.Parallel()
	m := newMain(dataFor(t))
	m.Config.DatabaseURL = "postgres://nobody@127.0.0.1:1/none"
	if err := m.Run(t.Context()); err == nil || !strings.Contains(err.Error(), "DATABASE_URL") {
		t.Errorf("got %v", err)
	}
	l, err := net.Listen("tcp", m.listener.Addr().String())
	if err != nil {
		t.Fatalf("the port is still taken: %v", err)
	}
	l.Close()
}

func TestDatabaseServerDies(t *testing.T) {
	t.Parallel()
	m := newMain(dataFor(t))
	open(t, m)
	b, err := os.ReadFile(filepath.Join(m.Config.Data, "postgres", "data", "postmaster.pid"))
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := strings.Cut(string(b), "\n")
	pid, err := strconv.Atoi(first)
	if err != nil {
		t.Fatal(err)
	}
	server, err := os.FindProcess(pid)
	if err != nil {
		t.Fatal(err)
	}
	if err := server.Kill(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	if err := m.Wait(ctx); err == nil || !strings.Contains(err.Error(), "database server has ended") {
		t.Errorf("Wait: %v", err)
	}
}

// A request that has begun is answered although the shop closes.
func TestCloseLetsRequestsEnd(t *testing.T) {
	t.Parallel()
	m := newMain("")
	var err error
	if m.listener, err = listen(m.Config.Listen, 0); err != nil {
		t.Fatal(err)
	}
	began, finish := make(chan bool), make(chan bool)
	m.serve(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began <- true
		<-finish
		io.WriteString(w, "stored")
	}))
	answer := make(chan string)
	go func() {
		r, err := http.Get(m.URL())
		if err != nil {
			answer <- err.Error()
			return
		}
		defer r.Body.Close()
		b, _ := io.ReadAll(r.Body)
		answer <- string(b)
	}()
	<-began
	closed := make(chan error)
	go func() { closed <- m.Close() }()
	time.Sleep(50 * time.Millisecond) // into the closing
	finish <- true
	if got := <-answer; got != "stored" {
		t.Errorf("the request was answered %q", got)
	}
	if err := <-closed; err != nil {
		t.Error(err)
	}
}

func TestListen(t *testing.T) {
	t.Parallel()
	taken, err := listen("127.0.0.1:0", 0)
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	address := taken.Addr().String()
	if _, err := listen(address, 0); err == nil || !strings.Contains(err.Error(), "OHMSTEAD_LISTEN") {
		t.Errorf("a taken port: %v", err)
	}
	next, err := listen(address, portsToTry)
	if err != nil {
		t.Fatal(err)
	}
	defer next.Close()
	if next.Addr().String() == address {
		t.Error("listening twice on one port")
	}
}

func TestURL(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]string{
		"127.0.0.1:0": "http://127.0.0.1:",
		":0":          "http://127.0.0.1:", // wherever it listens, a browser here finds it so
		"localhost:0": "http://",
	} {
		l, err := listen(address, 0)
		if err != nil {
			t.Fatal(err)
		}
		if got := (&Main{listener: l}).URL(); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %s", address, got)
		}
		l.Close()
	}
}

// An operator stops the program with SIGTERM; it ends in order, and so does its
// PostgreSQL.
func TestSignalled(t *testing.T) {
	t.Parallel()
	data := dataFor(t)
	cmd := exec.Command(os.Args[0], "--listen", "127.0.0.1:0", "--data", data)
	cmd.Env = append(os.Environ(), mainEnv+"=1", "DATABASE_URL=")
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill() })
	lines := bufio.NewScanner(out)
	if !lines.Scan() {
		cmd.Wait()
		if strings.Contains(stderr.String(), pgserver.ErrNoBinaries.Error()) && os.Getenv("CI") != "true" {
			t.Skip(stderr.String())
		}
		t.Fatalf("it ended at once: %s", &stderr)
	}
	_, url, ok := strings.Cut(lines.Text(), "open at ")
	if !ok {
		t.Fatalf("it said %q", lines.Text())
	}
	if status, _, body := get(t, url+"/healthz"); status != http.StatusOK {
		t.Errorf("healthz: %d %s", status, body)
	}
	cmd.Process.Signal(syscall.SIGTERM)
	io.Copy(io.Discard, out)
	if err := cmd.Wait(); err != nil {
		t.Errorf("after SIGTERM: %v\n%s", err, &stderr)
	}
	if _, err := os.Stat(filepath.Join(data, "postgres", "data", "postmaster.pid")); err == nil {
		t.Error("PostgreSQL was not stopped in order")
	}
}
