//go:build unix

package pgserver

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// How long a leftover server, and our own at the end, may take to stop by itself
// before it is made to: after that the next start recovers from its log.
const stopPatience = 20 * time.Second

// stopLeftover stops a server that an earlier, killed application left running on
// our data. The lock is ours, so no living application needs it.
//
// A process id in postmaster.pid alone proves nothing, since ids are used again:
// only a process whose command line names our data is touched. When the id now
// belongs to somebody else, the server would refuse to start; writing the id of
// its own parent there tells it that the file is stale, and leaves it to check,
// by the shared memory that the file names too, that no old session lives on.
func (c *cluster) stopLeftover(ctx context.Context) error {
	path := filepath.Join(c.data(), "postmaster.pid")
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	first, rest, _ := bytes.Cut(content, []byte("\n"))
	pid, err := strconv.Atoi(strings.TrimSpace(string(first)))
	if err != nil || pid <= 1 {
		return os.Remove(path) // cut short when the machine went down
	}
	if c.serves(pid) {
		return c.stopProcess(ctx, pid)
	}
	if syscall.Kill(pid, 0) != nil {
		return nil // nobody has the id: the server sees that by itself
	}
	ours := fmt.Appendf(nil, "%d\n%s", os.Getpid(), rest)
	return os.WriteFile(path, ours, 0o600)
}

// serves says whether a process is a server on our data.
func (c *cluster) serves(pid int) bool {
	line := commandLine(pid)
	return strings.Contains(line, "postgres") && strings.Contains(line, c.data())
}

// stopProcess asks for a fast shutdown, then for an immediate one.
func (c *cluster) stopProcess(ctx context.Context, pid int) error {
	c.Log.Warn("stopping a database server left over from an earlier run", "pid", pid)
	for _, sig := range []syscall.Signal{syscall.SIGINT, syscall.SIGQUIT} {
		if err := syscall.Kill(pid, sig); err != nil && !errors.Is(err, syscall.ESRCH) {
			return fmt.Errorf("stop the leftover server, process %d: %w", pid, err)
		}
		for deadline := time.Now().Add(stopPatience); time.Now().Before(deadline); {
			if !c.serves(pid) {
				return nil
			}
			if err := pause(ctx, 10*time.Millisecond); err != nil {
				return err
			}
		}
	}
	return fmt.Errorf("the leftover server, process %d, does not stop", pid)
}

// pause waits, or gives the context's error when that ends first.
func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
