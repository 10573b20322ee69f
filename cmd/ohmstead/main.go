// Command ohmstead serves a shop that repairs electronic control boards.
//
// Without arguments it opens the shop on a private PostgreSQL in the user's data
// directory. `ohmstead help` lists the other commands; each has a file of its own
// here. This is the only package that knows both the pages and the storage.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	_ "time/tzdata" // a shop's time zone counts also where the system has no list of them
)

// Exit codes, the same for every command.
const (
	exitOK     = 0
	exitFailed = 1
	exitUsage  = 2
)

// console is what a command has of the world: a test can replace all of it.
type console struct {
	args   []string // after the command's name
	getenv func(string) string
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
}

// command is one word after `ohmstead`.
type command struct {
	name    string
	summary string
	run     func(context.Context, console) int
}

// commands in the order of the help. The first is what happens without a word.
func commands() []command {
	return []command{
		{"serve", "open the shop (the default)", serve},
		{"demo", "open an invented shop and throw it away at the end", demonstrate},
		{"migrate", "show the state of the database's schema; up, step [N], force V", migrateSchema},
		{"diagnose", "judge a file of readings against a board profile, without a database", diagnose},
		{"version", "say which Ohmstead this is", version},
		{"help", "say this, or the flags of a command: help serve", help},
	}
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// The first signal asks for an orderly end; a second one ends at once.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, console{os.Args[1:], os.Getenv, os.Stdin, os.Stdout, os.Stderr}))
}

// run picks the command. Flags without a word belong to the first.
func run(ctx context.Context, c console) int {
	name := commands()[0].name
	switch {
	case len(c.args) == 0:
	case c.args[0] == "-h" || c.args[0] == "-help" || c.args[0] == "--help":
		name, c.args = "help", nil
	case c.args[0] == "--version":
		name, c.args = "version", nil
	case !strings.HasPrefix(c.args[0], "-"):
		name, c.args = c.args[0], c.args[1:]
	}
	for _, cmd := range commands() {
		if cmd.name == name {
			return cmd.run(ctx, c)
		}
	}
	fmt.Fprintf(c.stderr, "ohmstead: there is no command %q. The commands:\n\n", name)
	writeCommands(c.stderr)
	return exitUsage
}

func diagnose(_ context.Context, c console) int {
	return runDiagnose(c.args, c.stdin, c.stdout, c.stderr)
}

// help prints the commands, or what a command says of itself.
func help(ctx context.Context, c console) int {
	if len(c.args) > 0 && c.args[0] != "help" && c.args[0] != "version" {
		c.stderr = c.stdout
		return run(ctx, console{[]string{c.args[0], "--help"}, c.getenv, c.stdin, c.stdout, c.stdout})
	}
	fmt.Fprintf(c.stdout, "Ohmstead serves a shop that repairs electronic control boards at component level.\n\n")
	writeCommands(c.stdout)
	return exitOK
}

func writeCommands(w io.Writer) {
	for _, cmd := range commands() {
		fmt.Fprintf(w, "  ohmstead %-9s %s\n", cmd.name, cmd.summary)
	}
	fmt.Fprintln(w, "\n`ohmstead help COMMAND` lists its flags and environment variables.")
}

// fail reports why a command failed.
func (c console) fail(err error) int {
	fmt.Fprintf(c.stderr, "ohmstead: %v\n", err)
	return exitFailed
}

// badFlags gives the exit code for flags that could not be read; the flag package
// has said why already.
func badFlags(err error) int {
	if errors.Is(err, flag.ErrHelp) {
		return exitOK
	}
	return exitUsage
}
