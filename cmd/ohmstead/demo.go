package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/internal/demo"
	"ohmstead/internal/password"
	"ohmstead/internal/pgserver"
)

// portsToTry is how many further ports the demo tries when its own is taken.
const portsToTry = 20

// demoDirs is what the names of the demo's temporary directories begin with.
const demoDirs = "ohmstead-demo-"

// demonstrate opens an invented shop in a temporary directory, says who can sign
// in, and throws everything away at the end.
func demonstrate(ctx context.Context, c console) int {
	var cfg Config
	var secret string
	fs := flagsOf(c.quietly(), "demo", &cfg, "listen", "profiles", "pg-bin", "log-level", "log-format")
	fs.StringVar(&secret, "password", "", "`password` for everybody (made up when empty)")
	if err := fs.Parse(c.args); err != nil {
		return badFlags(err)
	}
	if fs.NArg() > 0 {
		fmt.Fprintf(c.stderr, "ohmstead demo: %q is no flag\n", fs.Arg(0))
		return exitUsage
	}
	log, err := cfg.logger(c.stderr)
	if err != nil {
		return c.fail(err)
	}
	if secret == "" {
		secret = strings.ToLower(rand.Text()[:10])
	}
	removeStaleDemos(ctx)
	if cfg.Data, err = newDemoDir(); err != nil {
		return c.fail(err)
	}
	defer os.RemoveAll(cfg.Data)
	cfg.DatabaseURL = "" // never the shop's own
	return c.openDemo(ctx, cfg, log, secret)
}

// quietly makes warnings the usual level: the demo's words are for a person.
func (c console) quietly() console {
	outer := c.getenv
	c.getenv = func(name string) string {
		if v := outer(name); v != "" || name != "OHMSTEAD_LOG_LEVEL" {
			return v
		}
		return "warn"
	}
	return c
}

func (c console) openDemo(ctx context.Context, cfg Config, log *slog.Logger, secret string) int {
	var filled demo.Shop
	m := &Main{Config: cfg, Log: log, Throwaway: true, Tries: portsToTry}
	m.Fill = func(ctx context.Context, pool *pgxpool.Pool) error {
		hash, err := password.Hash(ctx, secret)
		if err != nil {
			return err
		}
		filled, err = fillDemo(ctx, pool, cfg, log, hash)
		return err
	}
	if err := m.Run(ctx); err != nil {
		return c.fail(err)
	}
	welcome(c.stdout, m.URL(), secret, filled)
	return c.untilClosed(ctx, m)
}

// welcome says where the shop is, who can sign in, and what is worth trying.
func welcome(w io.Writer, url, secret string, s demo.Shop) {
	fmt.Fprintf(w, "An invented shop is open at\n\n  %s\n\nSign in with the password  %s  as\n\n", url, secret)
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, p := range s.People {
		fmt.Fprintf(table, "  %s\t%s\n", p.Name, p.Role.Title())
	}
	table.Flush()
	if len(s.Tickets) > 0 {
		fmt.Fprint(w, "\nWorth trying:\n\n")
	}
	for _, t := range s.Tickets {
		fmt.Fprintf(table, "  ticket %d\t%s\n", t.Number, t.Try)
	}
	table.Flush()
	fmt.Fprint(w, "\nCtrl-C closes it and throws everything away.\n")
}

// newDemoDir makes a directory that PostgreSQL's account can pass through when
// root starts the demo.
func newDemoDir() (string, error) {
	dir, err := os.MkdirTemp("", demoDirs)
	if err != nil {
		return "", err
	}
	if os.Geteuid() == 0 {
		err = os.Chmod(dir, 0o711)
	}
	return dir, err
}

// removeStaleDemos removes what a killed demo left behind. Directories of running
// ones, of other users, and those less than a minute old are left alone.
func removeStaleDemos(ctx context.Context) {
	dirs, _ := filepath.Glob(filepath.Join(os.TempDir(), demoDirs+"*"))
	for _, dir := range dirs {
		info, err := os.Lstat(dir)
		if err != nil || !info.IsDir() || time.Since(info.ModTime()) < time.Minute {
			continue
		}
		if err := pgserver.Remove(ctx, filepath.Join(dir, "postgres")); !errors.Is(err, pgserver.ErrInUse) {
			os.RemoveAll(dir)
		}
	}
}
