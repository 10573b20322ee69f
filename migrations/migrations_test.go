package migrations_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/migrations"
)

// files makes a set of migrations from their texts, numbered from 1.
func files(texts ...string) fstest.MapFS {
	fs := fstest.MapFS{}
	for i, text := range texts {
		fs["000"+string(rune('1'+i))+"_step.up.sql"] = &fstest.MapFile{Data: []byte(text)}
	}
	return fs
}

// emptyDatabase gives a database in which no file has run.
func emptyDatabase(t *testing.T) string {
	t.Helper()
	url := pgtest.URL(t)
	exec(t, url, `DROP SCHEMA public CASCADE; CREATE SCHEMA public`)
	return url
}

func exec(t *testing.T, url, sql string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(t.Context())
	if _, err := conn.Exec(t.Context(), sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

func exists(t *testing.T, url, table string) bool {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(t.Context())
	var there bool
	if err := conn.QueryRow(t.Context(), `SELECT to_regclass($1) IS NOT NULL`, table).Scan(&there); err != nil {
		t.Fatal(err)
	}
	return there
}

func checkState(t *testing.T, src fstest.MapFS, url string, want migrations.State) {
	t.Helper()
	got, err := migrations.StatusIn(t.Context(), src, url)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("state (-want +got):\n%s", diff)
	}
}

// The shipped files run on an empty database, and a second time change nothing.
func TestShippedFiles(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	before, err := migrations.Status(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	if before.Version != 0 || len(before.Pending) != int(before.Latest) {
		t.Errorf("an empty database is said to be at %+v", before)
	}
	for range 2 {
		if err := migrations.Up(t.Context(), url); err != nil {
			t.Fatal(err)
		}
		after, err := migrations.Status(t.Context(), url)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(migrations.State{Version: before.Latest, Latest: before.Latest}, after); diff != "" {
			t.Errorf("after Up (-want +got):\n%s", diff)
		}
	}
}

func TestStatusChangesNothing(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	checkState(t, files(`SELECT 1`), url, migrations.State{Latest: 1, Pending: []uint{1}})
	if exists(t, url, "schema_migrations") {
		t.Error("asking for the state made a table")
	}
}

func TestStep(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	three := files(`CREATE TABLE a ()`, `CREATE TABLE b ()`, `CREATE TABLE c ()`)
	for _, step := range []struct {
		n    int
		want migrations.State
	}{
		{1, migrations.State{Version: 1, Latest: 3, Pending: []uint{2, 3}}},
		{1, migrations.State{Version: 2, Latest: 3, Pending: []uint{3}}},
		{5, migrations.State{Version: 3, Latest: 3}}, // more than there are
		{1, migrations.State{Version: 3, Latest: 3}},
	} {
		if err := migrations.UpIn(t.Context(), three, url, step.n); err != nil {
			t.Fatalf("step %d: %v", step.n, err)
		}
		checkState(t, three, url, step.want)
	}
	for _, n := range []int{0, -1} {
		if err := migrations.Step(t.Context(), url, n); err == nil {
			t.Errorf("%d steps were accepted", n)
		}
	}
}

// A file that fails leaves nothing of itself behind, and nothing more runs until a
// person has forced the version.
func TestFailedFile(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	bad := files(`CREATE TABLE a ()`, `CREATE TABLE half (); SELECT 1/0`, `CREATE TABLE c ()`)
	err := migrations.UpIn(t.Context(), bad, url, 0)
	for _, want := range []string{"division by zero", "ohmstead migrate force 1"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("the error does not say %q: %v", want, err)
		}
	}
	if exists(t, url, "half") {
		t.Error("the first half of a failed file is still there")
	}
	checkState(t, bad, url, migrations.State{Version: 2, Latest: 3, Pending: []uint{3}, Dirty: true})

	good := files(`CREATE TABLE a ()`, `CREATE TABLE half ()`, `CREATE TABLE c ()`)
	if err := migrations.UpIn(t.Context(), good, url, 0); err == nil || !strings.Contains(err.Error(), "ohmstead migrate force 1") {
		t.Errorf("a dirty database was migrated further: %v", err)
	}
	if exists(t, url, "c") {
		t.Error("a dirty database was changed")
	}
	if err := migrations.ForceIn(t.Context(), good, url, 1); err != nil {
		t.Fatal(err)
	}
	if err := migrations.UpIn(t.Context(), good, url, 0); err != nil {
		t.Fatal(err)
	}
	checkState(t, good, url, migrations.State{Version: 3, Latest: 3})
}

func TestFirstFileFails(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	if err := migrations.UpIn(t.Context(), files(`SELECT 1/0`), url, 0); err == nil || !strings.Contains(err.Error(), "force 0") {
		t.Fatalf("got %v", err)
	}
	if err := migrations.ForceIn(t.Context(), files(`SELECT 1`), url, 0); err != nil {
		t.Fatal(err)
	}
	if err := migrations.UpIn(t.Context(), files(`SELECT 1`), url, 0); err != nil {
		t.Fatal(err)
	}
	if err := migrations.ForceIn(t.Context(), files(`SELECT 1`), url, 2); err == nil {
		t.Error("forced to a version that does not exist")
	}
}

func TestDatabaseOfANewerProgram(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	if err := migrations.UpIn(t.Context(), files(`SELECT 1`, `SELECT 2`), url, 0); err != nil {
		t.Fatal(err)
	}
	err := migrations.UpIn(t.Context(), files(`SELECT 1`), url, 0)
	if err == nil || !strings.Contains(err.Error(), "newer Ohmstead") {
		t.Errorf("got %v", err)
	}
}

// Several processes of one shop start at the same time after an update.
func TestSeveralAtOnce(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	src := files(`CREATE TABLE a (); SELECT pg_sleep(0.2)`, `CREATE TABLE b ()`)
	var wg sync.WaitGroup
	for i := range 4 {
		wg.Go(func() {
			time.Sleep(time.Duration(i) * 60 * time.Millisecond) // into the others' work
			if err := migrations.UpIn(context.Background(), src, url, 0); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	checkState(t, src, url, migrations.State{Version: 2, Latest: 2})
}

func TestFileNames(t *testing.T) {
	t.Parallel()
	for name, src := range map[string]fstest.MapFS{
		"none":         {},
		"a gap":        {"0001_a.up.sql": {}, "0003_b.up.sql": {}},
		"no number":    {"first.up.sql": {}},
		"number twice": {"0001_a.up.sql": {}, "0001_b.up.sql": {}},
	} {
		if _, err := migrations.StatusIn(t.Context(), src, "postgres://127.0.0.1:1/none"); err == nil || !strings.HasPrefix(err.Error(), "migrations: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestHash(t *testing.T) {
	t.Parallel()
	seen := map[string]string{}
	for name, src := range map[string]fstest.MapFS{
		"one":         files("SELECT 1"),
		"other text":  files("SELECT 2"),
		"two":         files("SELECT 1", "SELECT 2"),
		"other split": files("SELECT 1SELECT 2", ""),
	} {
		h := migrations.HashIn(src)
		if other, clash := seen[h]; clash || len(h) != 12 {
			t.Errorf("%s and %s: %q", name, other, h)
		}
		seen[h] = name
	}
	if migrations.HashIn(files("SELECT 1")) != migrations.HashIn(files("SELECT 1")) {
		t.Error("the hash of the same files differs")
	}
}

// Terms from before the owner could price danger and lifting count with the
// minutes that were assumed until then.
func TestEarlierTermsKeepWhatWasAssumed(t *testing.T) {
	t.Parallel()
	url := emptyDatabase(t)
	if err := migrations.Step(t.Context(), url, 4); err != nil {
		t.Fatal(err)
	}
	exec(t, url, `INSERT INTO site (id, name, address, tz, locale, currency, created_at)
			VALUES ('01a20fe5-73fe-7512-86e3-5c6bfd49dc93', 'Quay', '', 'UTC', 'en', 'EUR', now());
		INSERT INTO setting (site_id, valid_from, taxes, labour_rate, examination_fee, credit_fee, guarantee_days, ask_percent, handling_volts, resistance_volts)
			SELECT id, now(), '[]', 50, 25, true, 180, 55, 5, 0.1 FROM site`)
	if err := migrations.Up(t.Context(), url); err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(t.Context())
	var danger, lifted string
	if err := conn.QueryRow(t.Context(), `SELECT danger_minutes::float8::text, lifted_minutes::float8::text FROM setting`).Scan(&danger, &lifted); err != nil {
		t.Fatal(err)
	}
	if danger != "5" || lifted != "2" {
		t.Errorf("%s and %s minutes", danger, lifted)
	}
}
