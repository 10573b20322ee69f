package pgtest_test

import (
	"context"
	"testing"

	"ohmstead/internal/pgserver/pgtest"
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
