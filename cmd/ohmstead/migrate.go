package main

import (
	"context"
	"fmt"
	"strconv"

	"ohmstead/migrations"
)

const migrateUsage = `usage: ohmstead migrate [flags]           show the state; change nothing
       ohmstead migrate [flags] up        run every file that is pending
       ohmstead migrate [flags] step [N]  run the next N of them (1)
       ohmstead migrate [flags] force V   say that the database is at version V, after
                                          a file has failed and its cause is repaired
The schema only goes up; the way back is a backup. Serving runs "up" by itself.
`

// migrateSchema shows and changes the state of the database's schema.
func migrateSchema(ctx context.Context, c console) int {
	var cfg Config
	fs := flagsOf(c, "migrate", &cfg, "data", "database", "pg-bin", "log-level", "log-format")
	fs.Usage = func() {
		fmt.Fprint(c.stderr, migrateUsage)
		fs.PrintDefaults()
	}
	if err := fs.Parse(c.args); err != nil {
		return badFlags(err)
	}
	change, err := schemaChange(fs.Args())
	if err != nil {
		fmt.Fprintf(c.stderr, "ohmstead migrate: %v\n", err)
		fs.Usage()
		return exitUsage
	}
	if err := c.changeSchema(ctx, cfg, change); err != nil {
		return c.fail(err)
	}
	return exitOK
}

// schemaChange reads what is asked for; nil only shows.
func schemaChange(args []string) (func(context.Context, string) error, error) {
	what, n := "show", 1
	if len(args) > 0 {
		what = args[0]
	}
	if len(args) == 2 && (what == "step" || what == "force") {
		number, err := strconv.ParseUint(args[1], 10, 31)
		if err != nil || (what == "step" && number == 0) {
			return nil, fmt.Errorf("%s %q: that is not such a number", what, args[1])
		}
		n = int(number)
	} else if len(args) > 1 {
		return nil, fmt.Errorf("too many words after %s", what)
	}
	switch {
	case what == "show":
		return nil, nil
	case what == "up":
		return migrations.Up, nil
	case what == "step":
		return func(ctx context.Context, url string) error { return migrations.Step(ctx, url, n) }, nil
	case what == "force" && len(args) == 2:
		return func(ctx context.Context, url string) error { return migrations.Force(ctx, url, uint(n)) }, nil
	case what == "force":
		return nil, fmt.Errorf("force needs the version that the database is at")
	}
	return nil, fmt.Errorf("%q is none of up, step, force", what)
}

// changeSchema makes the change and shows the state.
func (c console) changeSchema(ctx context.Context, cfg Config, change func(context.Context, string) error) error {
	log, err := cfg.logger(c.stderr)
	if err != nil {
		return err
	}
	db, err := openDatabase(ctx, cfg, log, false)
	if err != nil {
		return err
	}
	defer db.close()
	if change != nil {
		if err := change(ctx, db.url); err != nil {
			return err
		}
	}
	s, err := migrations.Status(ctx, db.url)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.stdout, "version  %d\nnewest   %d\npending  %d\n", s.Version, s.Latest, len(s.Pending))
	return s.Check()
}
