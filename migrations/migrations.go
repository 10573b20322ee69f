// Package migrations holds the database's schema as numbered SQL files and brings
// a database up to the newest of them.
//
// Files are named 0001_what.up.sql. There is no way down: a schema that has been
// in use is changed by the next file, and a backup is the way back. Each file runs
// in one implicit transaction, under a lock that makes a second process wait.
package migrations

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"time"

	"github.com/golang-migrate/migrate/v4"
	pgxmigrate "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

//go:embed *.sql
var files embed.FS

// lockPatience is how long a process waits for another that is migrating.
const lockPatience = 10 * time.Minute

// State is how far a database has come.
type State struct {
	Version uint   // the last file begun; 0: none yet
	Latest  uint   // the newest file of this program
	Pending []uint // the files still to run, in order
	Dirty   bool   // the file Version did not finish
}

// Check says why a database cannot be used as it is, or nil. Pending files are no
// reason: Up runs them.
func (s State) Check() error {
	switch {
	case s.Dirty:
		return fmt.Errorf(`migration %d did not finish, and the database is marked as dirty. Nothing more is changed until a person has looked.
What such a file does is undone as a whole when it fails, so as a rule: repair the cause, then
  ohmstead migrate force %d
  ohmstead migrate up`, s.Version, s.before())
	case s.Version > s.Latest:
		return fmt.Errorf("the database is at version %d and this Ohmstead knows only %d: it was last used by a newer Ohmstead. Use that one; nothing was changed", s.Version, s.Latest)
	}
	return nil
}

// before is the version under the one that failed. Numbers have no gaps.
func (s State) before() uint {
	if s.Version == 0 {
		return 0
	}
	return s.Version - 1
}

// Up runs all pending files. It is safe to call from several processes at once,
// and does nothing when none is pending.
func Up(ctx context.Context, databaseURL string) error { return up(ctx, files, databaseURL, 0) }

// Step runs at most n pending files.
func Step(ctx context.Context, databaseURL string, n int) error {
	if n < 1 {
		return fmt.Errorf("migrate: %d steps: the schema only goes up, so at least 1", n)
	}
	return up(ctx, files, databaseURL, n)
}

// Status tells how far a database has come. It changes nothing.
func Status(ctx context.Context, databaseURL string) (State, error) {
	return status(ctx, files, databaseURL)
}

// Force sets the version and takes the mark of a failed file away, without running
// anything; 0 means that no file has run.
func Force(ctx context.Context, databaseURL string, version uint) error {
	return force(ctx, files, databaseURL, version)
}

// Hash names the schema: it changes when any file does.
func Hash() string { return hash(files) }

func up(ctx context.Context, src fs.FS, databaseURL string, steps int) error {
	before, err := status(ctx, src, databaseURL)
	if err != nil {
		return err
	}
	// A mark of dirt may only mean that another process is at work: the library
	// looks again under the lock.
	before.Dirty = false
	if err := before.Check(); err != nil {
		return err
	}
	m, err := open(src, databaseURL)
	if err != nil {
		return err
	}
	defer m.Close()
	defer context.AfterFunc(ctx, func() { m.GracefulStop <- true })()
	if steps == 0 {
		err = m.Up()
	} else {
		err = m.Steps(steps)
	}
	if err == nil || errors.Is(err, migrate.ErrNoChange) {
		return ctx.Err() // it may have been stopped between two files
	}
	return explain(ctx, src, databaseURL, err)
}

// explain turns the library's error into one that says what to do. Running out of
// files is none.
func explain(ctx context.Context, src fs.FS, databaseURL string, err error) error {
	after, errStatus := status(ctx, src, databaseURL)
	var short migrate.ErrShortLimit
	switch {
	case errStatus != nil:
		return fmt.Errorf("migrate: %w", err)
	case after.Dirty:
		return fmt.Errorf("migrate: %w\n%w", err, after.Check())
	case len(after.Pending) == 0 && (errors.As(err, &short) || errors.Is(err, fs.ErrNotExist)):
		return nil
	}
	return fmt.Errorf("migrate: %w", err)
}

func status(ctx context.Context, src fs.FS, databaseURL string) (State, error) {
	versions, err := versionsIn(src)
	if err != nil {
		return State{}, err
	}
	conn, err := pgx.Connect(ctx, databaseURL)
	if err != nil {
		return State{}, fmt.Errorf("migrate: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	s := State{Latest: versions[len(versions)-1]}
	var exists bool
	if err := conn.QueryRow(ctx, `SELECT to_regclass('schema_migrations') IS NOT NULL`).Scan(&exists); err != nil {
		return s, fmt.Errorf("migrate: look for the version: %w", err)
	}
	if exists {
		err = conn.QueryRow(ctx, `SELECT version, dirty FROM schema_migrations LIMIT 1`).Scan(&s.Version, &s.Dirty)
		if err != nil && !errors.Is(err, pgx.ErrNoRows) {
			return s, fmt.Errorf("migrate: read the version: %w", err)
		}
	}
	for _, v := range versions {
		if v > s.Version {
			s.Pending = append(s.Pending, v)
		}
	}
	return s, nil
}

func force(ctx context.Context, src fs.FS, databaseURL string, version uint) error {
	s, err := status(ctx, src, databaseURL)
	if err != nil {
		return err
	}
	if version > s.Latest {
		return fmt.Errorf("migrate: there is no version %d; the newest is %d", version, s.Latest)
	}
	m, err := open(src, databaseURL)
	if err != nil {
		return err
	}
	defer m.Close()
	target := int(version)
	if version == 0 {
		target = -1 // the library's word for an empty database
	}
	if err := m.Force(target); err != nil {
		return fmt.Errorf("migrate: force %d: %w", version, err)
	}
	return nil
}

// open prepares a run; the caller closes it, and with it the connection.
func open(src fs.FS, databaseURL string) (*migrate.Migrate, error) {
	cfg, err := pgx.ParseConfig(databaseURL)
	if err != nil {
		return nil, fmt.Errorf("migrate: %w", err)
	}
	source, err := iofs.New(src, ".")
	if err != nil {
		return nil, fmt.Errorf("migrate: read the files: %w", err)
	}
	db := stdlib.OpenDB(*cfg)
	driver, err := pgxmigrate.WithInstance(db, &pgxmigrate.Config{})
	if err != nil {
		db.Close()
		return nil, fmt.Errorf("migrate: %w", err)
	}
	m, err := migrate.NewWithInstance("embedded", source, "pgx5", driver)
	if err != nil {
		driver.Close()
		return nil, fmt.Errorf("migrate: %w", err)
	}
	m.LockTimeout = lockPatience
	return m, nil
}

// versionsIn lists the numbers of the files, which are 1, 2, 3 without a gap.
func versionsIn(src fs.FS) ([]uint, error) {
	names, err := fs.Glob(src, "*.up.sql")
	if err != nil {
		return nil, err
	}
	var versions []uint
	for i, name := range names {
		number, _, _ := strings.Cut(name, "_")
		v, err := strconv.ParseUint(number, 10, 32)
		if err != nil || v != uint64(i+1) {
			return nil, fmt.Errorf("migrations: %s should be number %d", name, i+1)
		}
		versions = append(versions, uint(v))
	}
	if len(versions) == 0 {
		return nil, errors.New("migrations: no files")
	}
	return versions, nil
}

func hash(src fs.FS) string {
	h := sha256.New()
	names, _ := fs.Glob(src, "*.sql")
	for _, name := range names {
		b, _ := fs.ReadFile(src, name)
		fmt.Fprintf(h, "%s %d\n", name, len(b))
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
}
