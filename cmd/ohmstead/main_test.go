package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// spoken is what a command has said.
type spoken struct {
	stdout, stderr bytes.Buffer
}

// call runs the program as a shell would, with only the given environment.
func call(ctx context.Context, env map[string]string, args ...string) (int, *spoken) {
	var s spoken
	code := run(ctx, console{
		args:   args,
		getenv: func(name string) string { return env[name] },
		stdin:  strings.NewReader(""),
		stdout: &s.stdout,
		stderr: &s.stderr,
	})
	return code, &s
}

// dataFor gives a data directory that PostgreSQL's account can reach; the one of
// t.TempDir is closed to it when the tests run as root.
func dataFor(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "ohmstead-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o711); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "shop's data")
}

func TestWords(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		args   []string
		env    map[string]string
		code   int
		stdout string // contained; empty: nothing is said there
		stderr string
	}{
		"help":               {args: []string{"help"}, stdout: "ohmstead diagnose"},
		"help by flag":       {args: []string{"--help"}, stdout: "ohmstead serve"},
		"help on serve":      {args: []string{"help", "serve"}, stdout: "OHMSTEAD_LISTEN"},
		"help on demo":       {args: []string{"help", "demo"}, stdout: "-password"},
		"help on migrate":    {args: []string{"help", "migrate"}, stdout: "force V"},
		"help on nothing":    {args: []string{"help", "sing"}, code: exitUsage, stdout: `no command "sing"`},
		"version":            {args: []string{"version"}, stdout: "PostgreSQL 15 or newer"},
		"version by flag":    {args: []string{"--version"}, stdout: "Ohmstead "},
		"unknown word":       {args: []string{"sing"}, code: exitUsage, stderr: `no command "sing"`},
		"flag of serve":      {args: []string{"--nonsense"}, code: exitUsage, stderr: "nonsense"},
		"word after serve":   {args: []string{"serve", "quickly"}, code: exitUsage, stderr: `"quickly" is no flag`},
		"word after demo":    {args: []string{"demo", "quickly"}, code: exitUsage, stderr: `"quickly" is no flag`},
		"log level":          {args: []string{"--log-level", "loud"}, code: exitFailed, stderr: "debug, info, warn, error"},
		"log format":         {args: []string{"--log-format=xml"}, code: exitFailed, stderr: "text or json"},
		"log by environment": {env: map[string]string{"OHMSTEAD_LOG_LEVEL": "loud"}, code: exitFailed, stderr: "loud"},
		"listen":             {args: []string{"--listen", "here"}, code: exitFailed, stderr: "127.0.0.1:8080"},
		"port":               {args: []string{"--listen", "127.0.0.1:99999"}, code: exitFailed, stderr: "0 to 65535"},
		"migrate sideways":   {args: []string{"migrate", "sideways"}, code: exitUsage, stderr: "up, step, force"},
		"migrate down":       {args: []string{"migrate", "down"}, code: exitUsage, stderr: "only goes up"},
		"force what":         {args: []string{"migrate", "force"}, code: exitUsage, stderr: "needs the version"},
		"force whom":         {args: []string{"migrate", "force", "-1"}, code: exitUsage, stderr: "-1"},
		"step nothing":       {args: []string{"migrate", "step", "0"}, code: exitUsage, stderr: "0"},
		"up and away":        {args: []string{"migrate", "up", "away"}, code: exitUsage, stderr: "too many words"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			code, said := call(t.Context(), c.env, c.args...)
			if code != c.code {
				t.Errorf("exit code %d, want %d", code, c.code)
			}
			for _, out := range []struct{ name, got, want string }{
				{"stdout", said.stdout.String(), c.stdout},
				{"stderr", said.stderr.String(), c.stderr},
			} {
				if out.want == "" && out.got != "" || !strings.Contains(out.got, out.want) {
					t.Errorf("%s: want %q, got:\n%s", out.name, out.want, out.got)
				}
			}
		})
	}
}
