//go:build unix

package pgserver

import (
	"fmt"
	"io"
	"log/slog"
	"strings"
	"testing"
)

func TestServerLog(t *testing.T) {
	t.Parallel()
	var out strings.Builder
	l := &serverLog{
		log: slog.New(slog.NewTextHandler(&out, &slog.HandlerOptions{Level: slog.LevelInfo})),
		eof: make(chan struct{}),
	}
	var in strings.Builder
	for i := range 2 * tailLines {
		fmt.Fprintf(&in, "LOG:  checkpoint %d\n", i)
	}
	in.WriteString("FATAL:  the database system is starting up\n") // to our own first try
	in.WriteString("PANIC:  could not write\n\tno newline at the end")
	l.copy(io.NopCloser(strings.NewReader(in.String())))
	l.settled.Store(true)
	l.add("FATAL:  sorry, too many clients already")

	got := out.String()
	for _, absent := range []string{"checkpoint", "starting up"} {
		if strings.Contains(got, absent) {
			t.Errorf("daily talk in the log: %s", got)
		}
	}
	for _, want := range []string{"level=ERROR", "could not write", "level=WARN", "too many clients"} {
		if !strings.Contains(got, want) {
			t.Errorf("the log lacks %q: %s", want, got)
		}
	}
	tail := l.tail()
	if n := strings.Count(tail, "\n") + 1; n != tailLines || !strings.Contains(tail, "no newline at the end") {
		t.Errorf("tail of %d lines:\n%s", n, tail)
	}
}
