//go:build unix

package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	"ohmstead/internal/pgserver"
)

const (
	// keeperEnv turns a test binary into the keeper of the place it names.
	keeperEnv = "OHMSTEAD_PGTEST_KEEPER"
	// exitNoBinaries tells the one failure that only skips tests on a desk.
	exitNoBinaries = 3
	// linger bridges the gap between two packages of one `go test` run.
	linger = time.Second
)

// A test process cannot clean up behind itself: it may be killed, and Go has no
// hook at its end. So the first one starts this same binary again in a session of
// its own, and that process, the keeper, does nothing but run the server until no
// test process holds the shared lock, which the kernel releases for the dead.
func init() {
	if p := os.Getenv(keeperEnv); p != "" {
		os.Exit(keep(place(p)))
	}
}

// keep runs the server while it is used, and gives the exit status.
func keep(p place) int {
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer cancel()
	err := p.keep(ctx)
	if err == nil {
		return 0
	}
	fmt.Fprintln(os.Stderr, err)
	if errors.Is(err, pgserver.ErrNoBinaries) {
		return exitNoBinaries
	}
	return 1
}

func (p place) keep(ctx context.Context) error {
	s := &server{prefix: databasePrefix()}
	died := make(<-chan struct{})
	stop := s.dropExternal
	if external := os.Getenv(externalEnv); external != "" {
		if err := parseExternal(external); err != nil {
			return err
		}
		if err := pgserver.Check(ctx, external); err != nil {
			return err
		}
		s.admin, s.app = external, external
	} else {
		pg, err := pgserver.Start(ctx, pgserver.Options{
			Dir: p.file("pg"), BinDir: os.Getenv("OHMSTEAD_PG_BIN"), Throwaway: true, Connections: 400,
		})
		if err != nil {
			return err
		}
		s.admin, s.app, died, stop = pg.AdminURL(), pg.URL(), pg.Died(), pg.Stop
	}
	if err := p.announce(s); err != nil {
		return errors.Join(err, stop())
	}
	users, err := p.waitUnused(ctx, died)
	if err != nil {
		return errors.Join(err, stop())
	}
	defer users.Close()
	return errors.Join(stop(), p.remove())
}

// announce writes the file that the others wait for, at once and as a whole.
func (p place) announce(s *server) error {
	tmp := p.file("urls.new")
	if err := os.WriteFile(tmp, []byte(s.admin+"\n"+s.app), 0o600); err != nil {
		return err
	}
	return os.Rename(tmp, p.file("urls"))
}

// waitUnused returns with the lock that keeps newcomers waiting, once nobody has
// used the place for a moment, or at once when there is nothing left to use.
func (p place) waitUnused(ctx context.Context, died <-chan struct{}) (*os.File, error) {
	f, err := os.OpenFile(p.file("users"), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	unused := time.Time{} // since when
	for ctx.Err() == nil {
		select {
		case <-died:
			return f, nil
		case <-ctx.Done():
			return f, nil
		case <-time.After(50 * time.Millisecond):
		}
		switch err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); {
		case err != nil:
			unused = time.Time{}
			continue
		case unused.IsZero():
			unused = time.Now()
		case time.Since(unused) >= linger:
			return f, nil
		}
		unix.Flock(int(f.Fd()), unix.LOCK_UN)
	}
	return f, nil
}

// dropExternal leaves nothing of ours on a server that goes on.
func (s *server) dropExternal() error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	return s.dropAll(ctx)
}
