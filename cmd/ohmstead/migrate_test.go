package main

import (
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"ohmstead/internal/pgserver/pgtest"
)

func TestMigrate(t *testing.T) {
	t.Parallel()
	url := pgtest.URL(t)
	sql := func(text string) {
		t.Helper()
		conn, err := pgx.Connect(t.Context(), url)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close(t.Context())
		if _, err := conn.Exec(t.Context(), text); err != nil {
			t.Fatal(err)
		}
	}
	try := func(wantCode int, wantWords string, args ...string) {
		t.Helper()
		code, said := call(t.Context(), map[string]string{"DATABASE_URL": url}, append([]string{"migrate"}, args...)...)
		all := said.stdout.String() + said.stderr.String()
		if code != wantCode || !strings.Contains(strings.Join(strings.Fields(all), " "), wantWords) {
			t.Errorf("migrate %v: exit code %d (want %d), wanted %q in:\n%s", args, code, wantCode, wantWords, all)
		}
	}
	try(exitOK, "pending 0")
	sql(`DROP SCHEMA public CASCADE; CREATE SCHEMA public`)
	try(exitOK, "version 0")
	try(exitOK, "version 1", "step")
	try(exitOK, "version 3", "step", "2")
	try(exitOK, "pending 0", "up")
	try(exitOK, "pending 0", "up")
	sql(`UPDATE schema_migrations SET dirty = true, version = 2`)
	try(exitFailed, "ohmstead migrate force 1")
	try(exitFailed, "ohmstead migrate force 1", "up")
	try(exitFailed, "no version 9999", "force", "9999")
	try(exitOK, "version 1", "force", "1")
}
