package pgtest

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync/atomic"

	"github.com/jackc/pgx/v5"

	"ohmstead/migrations"
)

// server is a Postgres on which this process makes and drops databases.
type server struct {
	admin  string // maintenance database, as a role that may create databases
	app    string // any database, as the role that shall own the tests' databases
	prefix string // begins the name of every database made for tests
	schema string // names the schema, as part of a database's name

	users *os.File // the shared lock, held for as long as this process lives
}

// createLock is the advisory lock under which templates are made, "ohms" in ASCII.
const createLock = 0x6f686d73

var cloneCount atomic.Int64

// clone makes a database from the template and gives its name. Copying the files
// is faster than logging their blocks, as long as nothing is synced.
func (s *server) clone(ctx context.Context) (string, error) {
	name := fmt.Sprintf("%sdb_%d_%d", s.prefix, os.Getpid(), cloneCount.Add(1))
	return name, s.exec(ctx, s.create(name, s.template()))
}

func (s *server) drop(ctx context.Context, name string) error {
	return s.exec(ctx, "DROP DATABASE IF EXISTS "+quote(name)+" WITH (FORCE)")
}

func (s *server) template() string { return s.prefix + "template_" + s.schema }

// create is the statement that makes a database from a template.
func (s *server) create(name, template string) string {
	return "CREATE DATABASE " + quote(name) + " TEMPLATE " + quote(template) +
		" STRATEGY file_copy OWNER " + quote(s.role())
}

// makeTemplate migrates a database once for all processes. It gets its final name
// when it is complete, so one that is cut short is never taken for a template.
func (s *server) makeTemplate(ctx context.Context) error {
	return s.once(ctx, s.template(), func(conn *pgx.Conn) error {
		making := s.template() + "_making"
		for _, sql := range []string{
			"DROP DATABASE IF EXISTS " + quote(making) + " WITH (FORCE)",
			s.create(making, "template1"),
		} {
			if _, err := conn.Exec(ctx, sql); err != nil {
				return err
			}
		}
		if err := migrations.Up(ctx, s.databaseURL(making)); err != nil {
			return err
		}
		_, err := conn.Exec(ctx, "ALTER DATABASE "+quote(making)+" RENAME TO "+quote(s.template()))
		return err
	})
}

// rollback makes the database in which nothing is ever committed.
func (s *server) rollback(ctx context.Context) (string, error) {
	name := s.prefix + "rollback_" + s.schema
	return name, s.once(ctx, name, func(conn *pgx.Conn) error {
		_, err := conn.Exec(ctx, s.create(name, s.template()))
		return err
	})
}

// once calls work, alone among all processes, unless the database exists.
func (s *server) once(ctx context.Context, name string, work func(*pgx.Conn) error) error {
	conn, err := pgx.Connect(ctx, s.admin)
	if err != nil {
		return err
	}
	defer conn.Close(ctx) // and with it the lock
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", createLock); err != nil {
		return err
	}
	var exists bool
	err = conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)", name).Scan(&exists)
	if err != nil || exists {
		return err
	}
	return work(conn)
}

// dropAll drops every database made for tests.
func (s *server) dropAll(ctx context.Context) error {
	conn, err := pgx.Connect(ctx, s.admin)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	rows, err := conn.Query(ctx, "SELECT datname FROM pg_database WHERE starts_with(datname, $1)", s.prefix)
	if err != nil {
		return err
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, name := range names {
		if _, err := conn.Exec(ctx, "DROP DATABASE IF EXISTS "+quote(name)+" WITH (FORCE)"); err != nil {
			return err
		}
	}
	return nil
}

// exec runs one statement outside of any transaction, on a connection of its own.
func (s *server) exec(ctx context.Context, sql string) error {
	conn, err := pgx.Connect(ctx, s.admin)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, sql); err != nil {
		return fmt.Errorf("%s: %w", sql, err)
	}
	return nil
}

// databaseURL is the connection string of a database, as the tests' role.
func (s *server) databaseURL(name string) string {
	u, err := url.Parse(s.app)
	if err != nil {
		panic(err) // join has parsed it
	}
	u.Path = "/" + name
	return u.String()
}

// role is the tests' role, which owns their databases.
func (s *server) role() string {
	cfg, err := pgx.ParseConfig(s.app)
	if err != nil {
		panic(err) // join has parsed it
	}
	return cfg.User
}

func quote(name string) string { return pgx.Identifier{strings.ToValidUTF8(name, "")}.Sanitize() }
