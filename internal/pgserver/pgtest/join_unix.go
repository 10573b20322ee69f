//go:build unix

package pgtest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
	"golang.org/x/sys/unix"

	"ohmstead/internal/pgserver"
)

const (
	// externalEnv names a server to use instead of a cluster of our own.
	externalEnv = "OHMSTEAD_TEST_DATABASE_URL"
	// dirEnv names a directory to use instead of /dev/shm or the temporary one.
	dirEnv = "OHMSTEAD_TEST_DIR"
)

// roomInShm is what /dev/shm must have free; containers often give it 64 MB.
const roomInShm = 1 << 30

// place is the directory where the processes of a run meet.
//
//	users       locked, shared, by every test process while it runs
//	start       locked by the process that is starting the keeper
//	urls        two lines, admin and app, once the server can be used
//	keeper.log  why the keeper failed
//	pg/         the cluster
type place string

func (p place) file(name string) string { return filepath.Join(string(p), name) }

// join finds the server that the processes of this run share, or starts it, and
// makes the template. It holds a shared lock from then on: while any process holds
// one, the keeper keeps the server.
func join(ctx context.Context, schema string) (*server, error) {
	p := meetingPlace(os.Getenv(externalEnv))
	users, err := p.enter(ctx)
	if err != nil {
		return nil, err
	}
	s, err := p.findOrStart(ctx)
	if err != nil {
		p.removeIfLast(users)
		return nil, err
	}
	s.schema, s.users = schema, users
	return s, s.makeTemplate(ctx)
}

// meetingPlace is the same for all processes of one user that test on one server.
func meetingPlace(external string) place {
	name := fmt.Sprintf("ohmstead-pgtest-%d", os.Geteuid())
	if external != "" {
		name += fmt.Sprintf("-%x", sha256.Sum256([]byte(external)))[:9]
	}
	if dir := os.Getenv(dirEnv); dir != "" {
		return place(filepath.Join(dir, name))
	}
	shm := filepath.Join("/dev/shm", name)
	if _, err := os.Stat(shm); err == nil {
		return place(shm)
	}
	var st unix.Statfs_t
	if unix.Access("/dev/shm", unix.W_OK) == nil && unix.Statfs("/dev/shm", &st) == nil &&
		uint64(st.Bavail)*uint64(st.Bsize) >= roomInShm {
		return place(shm)
	}
	return place(filepath.Join(os.TempDir(), name))
}

// enter takes the shared lock. The keeper renames the place away before it removes
// it, so a lock counts only if its file is still the one found under the name.
func (p place) enter(ctx context.Context) (*os.File, error) {
	for {
		if err := p.make(); err != nil {
			return nil, err
		}
		f, err := lock(ctx, p.file("users"), unix.LOCK_SH)
		if err == nil {
			mine, _ := f.Stat()
			named, errNamed := os.Stat(p.file("users"))
			if errNamed == nil && os.SameFile(mine, named) {
				return f, nil
			}
			f.Close()
		} else if !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
}

// make creates the place, or refuses one that somebody else has put there.
func (p place) make() error {
	mode := fs.FileMode(0o700)
	if os.Geteuid() == 0 {
		mode = 0o711 // the server's account passes through
	}
	if err := os.Mkdir(string(p), mode); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	info, err := os.Lstat(string(p))
	if errors.Is(err, fs.ErrNotExist) {
		return nil // just removed; the caller tries again
	}
	if err != nil {
		return err
	}
	if st, ok := info.Sys().(*syscall.Stat_t); !ok || !info.IsDir() || int(st.Uid) != os.Geteuid() {
		return fmt.Errorf("%s is not a directory of ours", p)
	}
	return nil
}

// findOrStart gives a server that answers.
func (p place) findOrStart(ctx context.Context) (*server, error) {
	starting, err := lock(ctx, p.file("start"), unix.LOCK_EX)
	if err != nil {
		return nil, err
	}
	defer starting.Close()
	if s, err := p.read(); err == nil && s.answers(ctx) {
		return s, nil
	}
	if err := p.startKeeper(ctx); err != nil {
		return nil, err
	}
	return p.read()
}

// read gives the server that the keeper has announced.
func (p place) read() (*server, error) {
	b, err := os.ReadFile(p.file("urls"))
	if err != nil {
		return nil, err
	}
	admin, app, ok := strings.Cut(string(b), "\n")
	if !ok {
		return nil, fmt.Errorf("%s: %q", p.file("urls"), b)
	}
	return &server{admin: admin, app: app, prefix: databasePrefix()}, nil
}

// databasePrefix is told apart by machine and user, for servers used by several.
func databasePrefix() string {
	host, _ := os.Hostname()
	sum := sha256.Sum256(fmt.Appendf(nil, "%s %d", host, os.Geteuid()))
	return fmt.Sprintf("ohmstead_test_%x_", sum[:4])
}

func (s *server) answers(ctx context.Context) bool {
	conn, err := pgx.Connect(ctx, s.admin)
	if err != nil {
		return false
	}
	return conn.Close(ctx) == nil
}

// startKeeper runs this test binary once more, as the keeper: see keep. Nothing of
// ours is handed down, since `go test` waits for whoever holds its output.
func (p place) startKeeper(ctx context.Context) error {
	os.Remove(p.file("urls"))
	self, err := os.Executable()
	if err != nil {
		return err
	}
	log, err := os.Create(p.file("keeper.log"))
	if err != nil {
		return err
	}
	defer log.Close()
	cmd := exec.Command(self)
	cmd.Dir = "/"
	cmd.Env = append(os.Environ(), keeperEnv+"="+string(p))
	cmd.Stderr = log
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
	if err := cmd.Start(); err != nil {
		return err
	}
	ended := make(chan struct{})
	go func() { cmd.Wait(); close(ended) }()
	for {
		if _, err := os.Stat(p.file("urls")); err == nil {
			return nil
		}
		select {
		case <-ended:
			return p.keeperFailed(cmd.ProcessState.ExitCode())
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
}

func (p place) keeperFailed(code int) error {
	reason, _ := os.ReadFile(p.file("keeper.log"))
	if code == exitNoBinaries {
		return fmt.Errorf("%w: %s", pgserver.ErrNoBinaries, bytes.TrimSpace(reason))
	}
	return fmt.Errorf("the test server did not start: %s", bytes.TrimSpace(reason))
}

func isMissing(err error) bool { return errors.Is(err, pgserver.ErrNoBinaries) }

// removeIfLast leaves the place, and removes it when nobody else is there.
func (p place) removeIfLast(users *os.File) {
	if unix.Flock(int(users.Fd()), unix.LOCK_EX|unix.LOCK_NB) == nil {
		p.remove()
	}
	users.Close()
}

// remove takes the place away under its name first, so that nobody enters what is
// being removed. Only for who holds users exclusively.
func (p place) remove() error {
	gone := fmt.Sprintf("%s-gone-%d", p, os.Getpid())
	if err := os.Rename(string(p), gone); err != nil {
		return err
	}
	return os.RemoveAll(gone)
}

// lock opens a file and waits for its lock.
func lock(ctx context.Context, path string, how int) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	for {
		err := unix.Flock(int(f.Fd()), how|unix.LOCK_NB)
		if err == nil {
			return f, nil
		}
		if !errors.Is(err, unix.EWOULDBLOCK) && !errors.Is(err, unix.EINTR) {
			f.Close()
			return nil, err
		}
		select {
		case <-ctx.Done():
			f.Close()
			return nil, fmt.Errorf("lock %s: %w", path, ctx.Err())
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// parseExternal checks the URL of a server that replaces the cluster.
func parseExternal(raw string) error {
	u, err := url.Parse(raw)
	if err != nil || (u.Scheme != "postgres" && u.Scheme != "postgresql") {
		return fmt.Errorf("%s must be a URL that begins with postgres://", externalEnv)
	}
	_, err = pgx.ParseConfig(raw)
	return err
}
