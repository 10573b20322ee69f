package pgtest_test

import (
	"context"
	"testing"

	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/migrations"
)

func TestDatabasesAreApart(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	a, b := pgtest.DB(t), pgtest.DB(t)
	if _, err := a.Exec(ctx, `CREATE TABLE only_here (id int)`); err != nil {
		t.Fatal(err)
	}
	var there bool
	if err := b.QueryRow(ctx, `SELECT to_regclass('only_here') IS NOT NULL`).Scan(&there); err != nil {
		t.Fatal(err)
	}
	if there {
		t.Error("a table made in one test's database is seen in another's")
	}
}

func TestTxIsRolledBack(t *testing.T) {
	ctx := context.Background()
	t.Run("writes", func(t *testing.T) {
		if _, err := pgtest.Tx(t).Exec(ctx, `CREATE TABLE passing (id int)`); err != nil {
			t.Fatal(err)
		}
	})
	t.Run("sees nothing of it", func(t *testing.T) {
		var there bool
		if err := pgtest.Tx(t).QueryRow(ctx, `SELECT to_regclass('passing') IS NOT NULL`).Scan(&there); err != nil {
			t.Fatal(err)
		}
		if there {
			t.Error("a table made in a transaction is still there")
		}
	})
}

// A test's database is what the application gets: migrated, and owned by a role
// that is no superuser.
func TestDatabaseIsTheApplications(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	url := pgtest.URL(t)
	s, err := migrations.Status(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	if s.Version != s.Latest || s.Dirty || len(s.Pending) > 0 {
		t.Errorf("the database is not migrated: %+v", s)
	}
	var super bool
	if err := pgtest.DB(t).QueryRow(ctx, `SELECT rolsuper FROM pg_roles WHERE rolname = current_user`).Scan(&super); err != nil {
		t.Fatal(err)
	}
	if super {
		t.Error("tests run as a superuser, which hides what the application may not do")
	}
}

// scope runs its clean-ups when told, so that a benchmark can have many.
type scope struct {
	testing.TB
	cleanups []func()
}

func (s *scope) Cleanup(f func()) { s.cleanups = append(s.cleanups, f) }

func (s *scope) end() {
	for i := len(s.cleanups) - 1; i >= 0; i-- {
		s.cleanups[i]()
	}
}

func BenchmarkDB(b *testing.B) {
	for b.Loop() {
		s := &scope{TB: b}
		pgtest.DB(s)
		s.end()
	}
}

func BenchmarkTx(b *testing.B) {
	for b.Loop() {
		s := &scope{TB: b}
		pgtest.Tx(s)
		s.end()
	}
}
