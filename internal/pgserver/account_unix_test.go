//go:build unix

package pgserver

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func needRoot(t *testing.T) {
	t.Helper()
	needPostgres(t)
	if os.Geteuid() != 0 {
		t.Skip("only root can change to another account")
	}
}

func TestRootNeedsAReachableDirectory(t *testing.T) {
	t.Parallel()
	needRoot(t)
	closed := filepath.Join(t.TempDir(), "closed")
	if err := os.Mkdir(closed, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(closed, "letter"), []byte("private"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Start(t.Context(), Options{Dir: filepath.Join(closed, "pg")})
	if err == nil || !strings.Contains(err.Error(), "cannot reach") || !strings.Contains(err.Error(), "/var/lib/ohmstead") {
		t.Fatalf("got %v", err)
	}
}

// A directory made for the data alone is opened as far as the server's account needs,
// and no further.
func TestRootOpensAnEmptyDirectory(t *testing.T) {
	t.Parallel()
	needRoot(t)
	made := filepath.Join(filepath.Dir(newDir(t)), "made")
	if err := os.Mkdir(made, 0o700); err != nil {
		t.Fatal(err)
	}
	start(t, Options{Dir: filepath.Join(made, "pg"), Throwaway: true})
	info, err := os.Stat(made)
	if err != nil {
		t.Fatal(err)
	}
	if got := info.Mode().Perm(); got != 0o711 {
		t.Errorf("its mode is %o, want 711", got)
	}
}

// Data made by an ordinary user stay theirs when root starts the application, and
// the other way round an ordinary user is told whose they are.
func TestDataStayWithTheirOwner(t *testing.T) {
	t.Parallel()
	needRoot(t)
	dir := newDir(t)
	nobody := account{uid: 65534, gid: 65534, drop: true}
	if err := os.Chmod(filepath.Dir(dir), 0o777); err != nil {
		t.Fatal(err)
	}
	// The test's own binary lies where that account cannot go.
	self := filepath.Join(filepath.Dir(dir), "application")
	copyFile(t, os.Args[0], self)
	asNobody := func() *exec.Cmd {
		cmd := exec.Command(self)
		cmd.Dir = "/"
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: nobody.credential()}
		return cmd
	}
	c := startChild(t, asNobody(), dir)
	c.read(t, 50)
	c.cmd.Process.Kill()
	c.readRest()
	c.cmd.Wait()

	s := start(t, Options{Dir: dir})
	owner, exists := ownerOf(filepath.Join(dir, "data"))
	if !exists || owner.uid != nobody.uid {
		t.Errorf("the data now belong to %s", owner.name)
	}
	stored := query[int](t, s.URL(), `SELECT count(*) FROM reading`)
	if stored < len(c.acknowledged) {
		t.Errorf("%d rows, %d were acknowledged", stored, len(c.acknowledged))
	}
}

func TestOrdinaryUserIsToldWhoseDataTheyAre(t *testing.T) {
	t.Parallel()
	needRoot(t)
	for name, lockOwner := range map[string]int{"nothing is theirs": 0, "all but the data": 65534} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := newDir(t)
			if err := start(t, Options{Dir: dir, Throwaway: true}).Stop(); err != nil {
				t.Fatal(err)
			}
			if err := os.Chown(filepath.Join(dir, "lock"), lockOwner, lockOwner); err != nil {
				t.Fatal(err)
			}
			self := filepath.Join(filepath.Dir(dir), "application")
			copyFile(t, os.Args[0], self)
			cmd := exec.Command(self)
			cmd.Dir = "/"
			cmd.Env = append(os.Environ(), childEnv+"="+dir)
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: account{uid: 65534, gid: 65534, drop: true}.credential()}
			out, _ := cmd.CombinedOutput()
			if !strings.Contains(string(out), "start Ohmstead as that user") {
				t.Errorf("it said: %s", out)
			}
		})
	}
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	in, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, in); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
}
