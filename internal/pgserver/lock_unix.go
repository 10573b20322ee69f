//go:build unix

package pgserver

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// lockDir takes the lock of a directory for this process, or says who has it. The
// kernel lets go of it when the process ends in whatever way, so a lock is never
// stale; the file stays, because removing it could give two processes one each.
func lockDir(path, dir string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if owner, exists := ownerOf(path); errors.Is(err, fs.ErrPermission) && exists {
		return nil, fmt.Errorf("%s belongs to %s: start Ohmstead as that user", dir, owner.name)
	}
	if err != nil {
		return nil, err
	}
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if err == nil {
		if err = f.Truncate(0); err == nil {
			_, err = fmt.Fprintf(f, "%d\n", os.Getpid())
		}
		if err != nil {
			f.Close()
			return nil, err
		}
		return f, nil
	}
	holder, _ := io.ReadAll(f)
	f.Close()
	if errors.Is(err, unix.EWOULDBLOCK) {
		return nil, fmt.Errorf("%w: another Ohmstead (process %s) already runs on\n  %s\nStop that one first, or give this one a --data directory of its own",
			ErrInUse, strings.TrimSpace(string(holder)), dir)
	}
	return nil, fmt.Errorf("lock %s: %w", path, err)
}
