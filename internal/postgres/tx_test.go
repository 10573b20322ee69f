package postgres

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
)

// people counts the rows of table person, in a transaction of its own.
func people(t *testing.T, w *world) (n int) {
	t.Helper()
	if err := w.pool.QueryRow(t.Context(), `SELECT count(*) FROM person`).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// insertRival adds a person in a transaction that will not be committed.
func insertRival(ctx context.Context, tx *tx) error {
	_, err := tx.Exec(ctx, `INSERT INTO person (id, site_id, name, name_key, role, password_hash, must_change_password, created_at)
		SELECT gen_random_uuid(), id, 'Rival', 'rival', 'bench', 'x', false, now() FROM site`)
	return err
}

func TestATransactionLeavesNothingBehind(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	before := people(t, w)
	failed := errors.New("no")
	err := w.within(t.Context(), "try", func(tx *tx) error {
		if err := insertRival(t.Context(), tx); err != nil {
			t.Fatal(err)
		}
		return failed
	})
	if !errors.Is(err, failed) || !strings.HasPrefix(err.Error(), "postgres: try: ") {
		t.Errorf("error %v is not wrapped once with its operation", err)
	}

	func() {
		defer func() {
			if recover() != "boom" {
				t.Error("the panic did not come through")
			}
		}()
		_ = w.within(t.Context(), "panic", func(tx *tx) error {
			if err := insertRival(t.Context(), tx); err != nil {
				t.Error(err)
			}
			panic("boom")
		})
	}()

	ctx, cancel := context.WithCancel(t.Context())
	err = w.within(ctx, "cancelled", func(tx *tx) error {
		if err := insertRival(ctx, tx); err != nil {
			t.Error(err)
		}
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("a commit after the request had gone: %v", err)
	}
	if after := people(t, w); after != before {
		t.Errorf("%d people after transactions that failed, %d before", after, before)
	}
	if busy := w.pool.Stat().AcquiredConns(); busy != 0 {
		t.Errorf("%d connections were not given back", busy)
	}
}

func TestWrappedKeepsWhatIsForThePerson(t *testing.T) {
	t.Parallel()
	f := fault.New(fault.Conflict, "Somebody was faster.")
	if got := wrapped("op", f); got != error(f) {
		t.Errorf("%v", got)
	}
	if wrapped("op", nil) != nil || !errors.Is(wrapped("op", pgx.ErrNoRows), pgx.ErrNoRows) {
		t.Error("nil or the cause was lost")
	}
}

// Tables that are only ever added to refuse everything else themselves,
// whoever asks; an empty table could not show it, so each gets a row first.
func TestAppendOnlyTables(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	everything(w)
	rows := must(w.pool.Query(t.Context(), `SELECT DISTINCT event_object_table || ' ' || event_manipulation
		FROM information_schema.triggers WHERE trigger_name IN ('append_only', 'never_deleted') ORDER BY 1`))
	guarded := must(pgx.CollectRows(rows, pgx.RowTo[string]))
	var tables []string
	for _, g := range guarded {
		table, what, _ := strings.Cut(g, " ")
		sql := `DELETE FROM ` + table
		if what == "UPDATE" {
			column := "id"
			switch table {
			case "strike":
				column = "reason"
			case "finding_withdrawal":
				column = "reason"
			case "setting":
				column = "guarantee_days"
			}
			sql = `UPDATE ` + table + ` SET ` + column + ` = ` + column
		}
		_, err := w.pool.Exec(t.Context(), sql)
		if !violates(err, "23001", "") {
			t.Errorf("%s: %v", sql, err)
		}
		if what == "DELETE" {
			tables = append(tables, table)
		}
	}
	want := []string{"audit", "consent", "dead_proof", "document", "finding", "finding_withdrawal", "fitted", "inbound",
		"meter_version", "person", "power_event", "profile_version", "reading", "seen", "setting", "strike", "ticket", "ticket_event"}
	if diff := cmp.Diff(want, tables); diff != "" {
		t.Errorf("guarded tables (-want +got):\n%s", diff)
	}
	_, err := w.pool.Exec(t.Context(), `UPDATE quote_version SET note = 'cheaper' WHERE sent_at IS NOT NULL`)
	if !violates(err, "23001", "") {
		t.Errorf("a sent quote was changed: %v", err)
	}
	_, err = w.pool.Exec(t.Context(), `UPDATE quote_line SET unit_price = 0 WHERE quote_id IN (SELECT id FROM quote_version WHERE sent_at IS NOT NULL)`)
	if !violates(err, "23001", "") {
		t.Errorf("a line of a sent quote was changed: %v", err)
	}
	_, err = w.pool.Exec(t.Context(), `DELETE FROM quote_line WHERE quote_id IN (SELECT id FROM quote_version WHERE sent_at IS NOT NULL)`)
	if !violates(err, "23001", "") {
		t.Errorf("a line of a sent quote was removed: %v", err)
	}
}

// The list of states in the schema is that of the program.
func TestTheSchemaKnowsTheStates(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	for _, s := range shop.States() {
		if _, err := w.pool.Exec(t.Context(), `UPDATE ticket SET state = $2 WHERE id = $1`, k.ID, s); err != nil {
			t.Errorf("%s: %v", s, err)
		}
	}
	if _, err := w.pool.Exec(t.Context(), `UPDATE ticket SET state = 'lost' WHERE id = $1`, k.ID); err == nil {
		t.Error("a state that does not exist was stored")
	}
	var open int
	for _, s := range shop.States() {
		var is bool
		err := w.pool.QueryRow(t.Context(), `SELECT `+openOnly+` FROM (SELECT NULL::timestamptz AS voided_at, $1::text AS state) t`, s).Scan(&is)
		if err != nil || is == s.Ended() {
			t.Errorf("%s: open %v, %v", s, is, err)
		}
		if is {
			open++
		}
	}
	if open != 7 {
		t.Errorf("%d open states", open)
	}
}
