// Package pgtest gives a test its own Postgres database, cheaply.
//
// All test processes of one user on one machine share a cluster that is started
// by the first and removed, with all its files, about a second after the last has
// ended, in whatever way it ended. It lives in /dev/shm where that has room,
// without fsync. The schema is migrated once into a template named by the hash of
// the migrations, so checkouts with different schemas can share the cluster too.
//
// What the grades of isolation cost, measured on two busy cores:
//
//	DB, URL   a database of the test's own     16 ms   commits, LISTEN, now() moves
//	Tx        a transaction, rolled back       0.3 ms  now() stands still
//	first     start the shared cluster         0.6 s   once a run
//
// OHMSTEAD_TEST_DIR puts the cluster elsewhere, OHMSTEAD_PG_BIN names the programs.
// OHMSTEAD_TEST_DATABASE_URL replaces the cluster by any server on which that
// role may create databases; everything made there is dropped again. The shop's
// own DATABASE_URL is never touched. Without a server a test is skipped with the
// reason, unless CI=true: then it fails.
package pgtest

import (
	"context"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/migrations"
)

// Pools are small, to keep parallel tests on a machine with many cores within the
// server's limit. Each open Tx of a process takes one connection of the second.
const (
	poolSize         = 4
	rollbackPoolSize = 32
)

// URL gives the connection string of a migrated, empty database that belongs to
// the test, for code that opens its own connections. About 16 ms. The database is
// dropped when the test ends, with whatever is still connected to it.
func URL(t testing.TB) string {
	t.Helper()
	s := shared(t)
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	name, err := s.clone(ctx)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		if err := s.drop(ctx, name); err != nil {
			t.Errorf("pgtest: %v", err)
		}
	})
	return s.databaseURL(name)
}

// DB gives a pool on a migrated, empty database that belongs to the test; it is
// closed and dropped when the test ends. About 16 ms.
func DB(t testing.TB) *pgxpool.Pool {
	t.Helper()
	return open(t, URL(t))
}

// Tx gives a transaction on a migrated, empty database, rolled back when the test
// ends. About 0.3 ms. Other tests use the same database at the same time and see
// nothing of it, but two that insert the same unique key wait for each other; and
// inside a transaction now() stands still.
func Tx(t testing.TB) pgx.Tx {
	t.Helper()
	pool, err := rollbackPool(shared(t))
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	ctx := context.Background()
	tx, err := pool.Begin(ctx)
	if err != nil {
		t.Fatalf("pgtest: begin: %v", err)
	}
	t.Cleanup(func() {
		if err := tx.Rollback(ctx); err != nil && err != pgx.ErrTxClosed {
			t.Errorf("pgtest: roll back: %v", err)
		}
	})
	return tx
}

// AdminURL connects to the cluster's maintenance database, for tests of servers
// rather than of the schema.
func AdminURL(t testing.TB) string {
	t.Helper()
	return shared(t).admin
}

func open(t testing.TB, url string) *pgxpool.Pool {
	t.Helper()
	pool, err := newPool(url, poolSize)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	t.Cleanup(pool.Close)
	return pool
}

func newPool(url string, size int32) (*pgxpool.Pool, error) {
	cfg, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, err
	}
	cfg.MaxConns = size
	return pgxpool.NewWithConfig(context.Background(), cfg)
}

// joinOnce finds or starts the server once in this process.
var joinOnce = sync.OnceValues(func() (*server, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	return join(ctx, migrations.Hash())
})

// shared gives the server, or ends the test: skipped on a desk, failed in CI.
func shared(t testing.TB) *server {
	t.Helper()
	s, err := joinOnce()
	switch {
	case err == nil:
		return s
	case os.Getenv("CI") == "true":
		t.Fatalf("pgtest: no Postgres to test on, and CI=true: %v", err)
	case isMissing(err):
		t.Skipf("pgtest: skipped, no Postgres to test on: %v", err)
	default:
		t.Fatalf("pgtest: %v", err)
	}
	return nil
}

// rollbackPool is the pool of Tx: one database for this schema, never written to.
var rollbackPool = func() func(*server) (*pgxpool.Pool, error) {
	var once sync.Once
	var pool *pgxpool.Pool
	var err error
	return func(s *server) (*pgxpool.Pool, error) {
		once.Do(func() {
			ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
			defer cancel()
			var name string
			if name, err = s.rollback(ctx); err == nil {
				pool, err = newPool(s.databaseURL(name), rollbackPoolSize)
			}
		})
		return pool, err
	}
}()
