//go:build unix

package pgserver

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
)

// maxSocketDir leaves room for "/.s.PGSQL.5432" in the 104 bytes that the
// strictest system (macOS; Linux has 108) grants a socket's path and its zero.
const maxSocketDir = 103 - len("/.s.PGSQL."+socketPort)

// cluster is the directory of one server: its data, its socket, its lock, and who
// works on them with which programs.
//
//	lock      held while the application runs
//	data/     the cluster, made as data.new and then renamed
//	run/      the socket; a link to a plain, short path when this one will not do
type cluster struct {
	Options
	inst      installation
	acct      account
	lock      *os.File
	socketDir string
}

func (c *cluster) data() string { return filepath.Join(c.Dir, "data") }

// openCluster takes the directory for this process and makes what is missing in
// it. After an error nothing is held.
func openCluster(ctx context.Context, o Options) (*cluster, error) {
	c := &cluster{Options: o}
	if err := c.takeDir(); err != nil {
		return nil, err
	}
	if err := c.prepare(ctx); err != nil {
		c.close()
		return nil, err
	}
	return c, nil
}

// takeDir makes and locks the directory.
func (c *cluster) takeDir() error {
	dir, err := filepath.Abs(c.Dir)
	if err != nil {
		return err
	}
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		mode := fs.FileMode(0o700)
		if os.Geteuid() == 0 {
			mode = 0o711 // the account must pass through to what it owns
		}
		if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
			return err
		}
		if err := openEmpty(filepath.Dir(dir)); err != nil {
			return err
		}
		if err := os.Mkdir(dir, mode); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
		if err := os.Chmod(dir, mode); err != nil {
			return err
		}
	}
	// A leftover server is recognised by this path in its command line.
	if c.Dir, err = filepath.EvalSymlinks(dir); err != nil {
		return err
	}
	c.lock, err = lockDir(filepath.Join(c.Dir, "lock"), c.Dir)
	return err
}

// openEmpty lets the server's account pass through a directory that root has made
// for the data and nothing else, as "mktemp -d" does: closed and empty. One that
// holds anything stays as it is.
func openEmpty(dir string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	info, err := os.Stat(dir)
	if err != nil || info.Mode().Perm() != 0o700 {
		return err
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) > 0 {
		return err
	}
	return os.Chmod(dir, 0o711)
}

// prepare finds programs and account, makes the cluster unless it exists, stops a
// leftover server, and makes the directory of the socket.
func (c *cluster) prepare(ctx context.Context) error {
	found, err := findInstallations(ctx, c.BinDir)
	if err != nil {
		return err
	}
	if c.acct, err = accountFor(c.data()); err != nil {
		return err
	}
	major, err := c.majorOfData()
	if err != nil {
		return err
	}
	if c.inst, err = choose(found, major, c.data()); err != nil {
		return err
	}
	if err := c.acct.canEnter(ctx, c.inst, c.Dir); err != nil {
		return err
	}
	if major == 0 {
		err = c.initialise(ctx)
	} else {
		err = c.stopLeftover(ctx)
	}
	if err != nil {
		return err
	}
	return c.makeSocketDir()
}

// majorOfData reads which major version wrote the data; 0 means there are none.
func (c *cluster) majorOfData() (int, error) {
	b, err := os.ReadFile(filepath.Join(c.data(), "PG_VERSION"))
	if err == nil {
		major, err := strconv.Atoi(strings.TrimSpace(string(b)))
		if err != nil {
			return 0, fmt.Errorf("%s: PG_VERSION says %q, which is no version this Ohmstead knows; nothing was changed", c.data(), b)
		}
		return major, nil
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return 0, err
	}
	if entries, err := os.ReadDir(c.data()); err == nil && len(entries) > 0 {
		return 0, fmt.Errorf("%s is not empty and holds no PostgreSQL cluster; nothing was changed. Move it away or choose another --data directory", c.data())
	}
	return 0, nil
}

// initialise makes a cluster under a temporary name and renames it when it is
// complete, so that a crash half-way leaves nothing that looks like one.
func (c *cluster) initialise(ctx context.Context) error {
	fresh := c.data() + ".new"
	if err := os.RemoveAll(fresh); err != nil {
		return err
	}
	if err := c.acct.own(fresh); err != nil {
		return err
	}
	if err := c.initdb(ctx, fresh); err != nil {
		os.RemoveAll(fresh)
		return err
	}
	if err := os.Rename(fresh, c.data()); err != nil {
		return err
	}
	return syncDir(c.Dir)
}

// initdb fills dir. Text sorts by code point, which no update of the operating
// system can change under an index; upper and lower case follow Unicode where the
// system has a locale for it. Nobody but the owner of the socket's directory gets
// as far as the password that is not asked for.
func (c *cluster) initdb(ctx context.Context, dir string) error {
	ctype := "C.UTF-8"
	if runtime.GOOS == "darwin" {
		ctype = "UTF-8"
	}
	args := []string{
		"--pgdata=" + dir, "--username=" + superuser, "--encoding=UTF8",
		"--auth-local=trust", "--auth-host=reject", "--data-checksums",
		"--locale=C", "--lc-ctype=" + ctype,
	}
	if c.Throwaway {
		args = append(args, "--no-sync")
	}
	cmd := exec.CommandContext(ctx, c.inst.initdb(), args...)
	cmd.Dir = "/"
	cmd.Env = serverEnv()
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Credential: c.acct.credential()}
	out, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s: %w\n%s", c.inst.initdb(), err, bytes.TrimSpace(out))
	}
	return nil
}

// makeSocketDir makes the socket's directory, elsewhere when its path would be too
// long for a socket or has a comma, which separates hosts for a client. The link lets the next start remove what a killed process
// left there.
func (c *cluster) makeSocketDir() error {
	run := filepath.Join(c.Dir, "run")
	c.removeSocketDir()
	c.socketDir = run
	if len(run) > maxSocketDir || strings.Contains(run, ",") {
		short, err := os.MkdirTemp("/tmp", "ohmstead-")
		if err != nil {
			return err
		}
		c.socketDir = short
		if err := os.Symlink(short, run); err != nil {
			return err
		}
	}
	return c.acct.own(c.socketDir)
}

// removeSocketDir removes the socket's directory and, behind a link, its target if
// that is one of ours.
func (c *cluster) removeSocketDir() {
	run := filepath.Join(c.Dir, "run")
	if target, err := os.Readlink(run); err == nil && strings.HasPrefix(target, "/tmp/ohmstead-") {
		owner, exists := ownerOf(target)
		if exists && owner.uid == c.acct.uid {
			os.RemoveAll(target)
		}
	}
	os.RemoveAll(run)
}

// close lets go of the directory.
func (c *cluster) close() {
	if c.socketDir != "" {
		c.removeSocketDir()
	}
	c.lock.Close()
}

// Remove deletes what Start made in dir, data and all. It refuses (ErrInUse) while
// a process holds the directory, and stops a server that was left over.
func Remove(ctx context.Context, dir string) error {
	c := &cluster{Options: Options{Dir: dir, Log: discard}}
	if err := c.takeDir(); err != nil {
		return err
	}
	defer c.lock.Close()
	if err := c.stopLeftover(ctx); err != nil {
		return err
	}
	if owner, exists := ownerOf(c.data()); exists {
		c.acct = owner
	}
	c.removeSocketDir()
	return os.RemoveAll(c.Dir)
}

// syncDir makes a rename in dir durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
