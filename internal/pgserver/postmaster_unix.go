//go:build unix

package pgserver

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// postmaster is the server's first process, a child of ours.
type postmaster struct {
	cmd    *exec.Cmd
	log    *serverLog
	done   chan struct{} // closed when it has ended
	status string        // how it ended; read after done
}

// startPostmaster starts the server without waiting for it to answer.
func startPostmaster(c *cluster) (*postmaster, error) {
	read, write, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(c.inst.postgres(), c.args()...)
	cmd.Dir = "/"
	cmd.Env = serverEnv()
	cmd.SysProcAttr = processAttributes(c.acct)
	cmd.Stdout, cmd.Stderr = write, write
	pm := &postmaster{cmd: cmd, log: &serverLog{log: c.Log, eof: make(chan struct{})}, done: make(chan struct{})}
	go pm.log.copy(read)
	started := make(chan error)
	go pm.run(started, write)
	if err := <-started; err != nil {
		return nil, fmt.Errorf("start %s: %w", c.inst.postgres(), err)
	}
	return pm, nil
}

// run starts the process and waits for its end on one thread: on Linux the kernel
// ties the child to the thread that forked it, and Go would end an idle one.
func (pm *postmaster) run(started chan<- error, write *os.File) {
	runtime.LockOSThread()
	err := pm.cmd.Start()
	write.Close()
	started <- err
	if err != nil {
		return
	}
	pm.cmd.Wait()
	pm.status = pm.cmd.ProcessState.String()
	close(pm.done)
}

// waitReady returns when the server answers, or why it never will. Recovery after
// a crash takes as long as it takes; the caller's context is the only limit.
func (pm *postmaster) waitReady(ctx context.Context, url string) error {
	for {
		conn, err := pgx.Connect(ctx, url)
		if err == nil {
			pm.log.settled.Store(true)
			return conn.Close(ctx)
		}
		select {
		case <-pm.done:
			return fmt.Errorf("the database server did not start (%s):\n%s", pm.status, pm.log.tail())
		case <-ctx.Done():
			return fmt.Errorf("the database server does not answer: %w", errors.Join(ctx.Err(), err))
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// stop ends the server and waits for it; one that has ended already is fine.
func (pm *postmaster) stop(immediate bool) error {
	pm.log.settled.Store(false)
	for _, sig := range []syscall.Signal{stopSignal(immediate), syscall.SIGQUIT, syscall.SIGKILL} {
		if err := pm.cmd.Process.Signal(sig); err != nil && !errors.Is(err, os.ErrProcessDone) {
			return fmt.Errorf("stop the database server: %w", err)
		}
		select {
		case <-pm.done:
			return nil
		case <-time.After(stopPatience):
		}
	}
	return errors.New("the database server does not stop")
}

// serverLog hands the server's messages to a structured log and remembers the
// last ones, which say why a start failed.
type serverLog struct {
	log     *slog.Logger
	settled atomic.Bool // neither starting nor stopping: a FATAL then is news
	eof     chan struct{}
	mu      sync.Mutex
	last    []string
}

const tailLines = 12

func (l *serverLog) copy(r io.ReadCloser) {
	defer r.Close()
	defer close(l.eof)
	for lines := bufio.NewReader(r); ; {
		line, err := lines.ReadString('\n')
		if line = strings.TrimRight(line, "\n"); line != "" {
			l.add(line)
		}
		if err != nil {
			return
		}
	}
}

func (l *serverLog) add(line string) {
	l.mu.Lock()
	l.last = append(l.last, line)
	if len(l.last) > tailLines {
		l.last = l.last[1:]
	}
	l.mu.Unlock()
	l.log.Log(context.Background(), l.level(line), "postgres", "line", strings.TrimSpace(line))
}

// level keeps the daily talk of the server out of a log at the usual level.
func (l *serverLog) level(line string) slog.Level {
	kind, _, _ := strings.Cut(line, ":")
	switch {
	case kind == "PANIC":
		return slog.LevelError
	case kind == "FATAL" && l.settled.Load(), kind == "WARNING":
		return slog.LevelWarn
	}
	return slog.LevelDebug
}

// tail gives the last lines, after a moment's wait for those still in the pipe.
func (l *serverLog) tail() string {
	select {
	case <-l.eof:
	case <-time.After(time.Second):
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Join(l.last, "\n")
}
