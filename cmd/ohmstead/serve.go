package main

import (
	"context"
	"fmt"
)

// serve opens the shop and keeps it open until it is told to close.
func serve(ctx context.Context, c console) int {
	var cfg Config
	fs := flagsOf(c, "serve", &cfg)
	if err := fs.Parse(c.args); err != nil {
		return badFlags(err)
	}
	if fs.NArg() > 0 {
		fmt.Fprintf(c.stderr, "ohmstead serve: %q is no flag\n", fs.Arg(0))
		return exitUsage
	}
	log, err := cfg.logger(c.stderr)
	if err != nil {
		return c.fail(err)
	}
	m := &Main{Config: cfg, Log: log}
	if err := m.Run(ctx); err != nil {
		return c.fail(err)
	}
	fmt.Fprintf(c.stdout, "The shop is open at %s\nCtrl-C closes it.\n", m.URL())
	return c.untilClosed(ctx, m)
}

// untilClosed waits for the end of ctx or of the shop, and closes it.
func (c console) untilClosed(ctx context.Context, m *Main) int {
	code := exitOK
	if err := m.Wait(ctx); err != nil {
		code = c.fail(err)
	}
	if err := m.Close(); err != nil {
		code = c.fail(err)
	}
	return code
}
