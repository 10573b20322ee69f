package postgres

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

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

// Two transactions that wait for each other: the server ends one of them, and
// whoever it was is told to try again.
func TestADeadlockIsBusy(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a, b := w.takeIn(), w.takeIn()
	both := make(chan struct{}, 2)
	cross := func(first, second shop.Ticket) error {
		return w.within(t.Context(), "cross", func(tx *tx) error {
			if _, err := lockTicket(t.Context(), tx, w.owner, first.ID); err != nil {
				return err
			}
			both <- struct{}{}
			for len(both) < 2 {
				time.Sleep(time.Millisecond)
			}
			_, err := lockTicket(t.Context(), tx, w.owner, second.ID)
			return err
		})
	}
	errs := make(chan error, 2)
	go func() { errs <- cross(a, b) }()
	go func() { errs <- cross(b, a) }()
	one, two := <-errs, <-errs
	if (one == nil) == (two == nil) || fault.KindOf(errors.Join(one, two)) != fault.Busy {
		t.Errorf("%v, %v", one, two)
	}
}

// A comeback can be taken in while somebody works on the earlier ticket.
func TestALockedTicketDoesNotHoldUpTheCounter(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	w.end(k)
	w.clock.pass(time.Hour)
	ok(w.within(t.Context(), "hold", func(tx *tx) error {
		if _, err := lockTicket(t.Context(), tx, w.owner, k.ID); err != nil {
			return err
		}
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
		defer cancel()
		again, err := w.TakeIn(ctx, w.desk, shop.Intake{Name: "Orla", Phone: "912345678", Complaint: "dead", Serial: "417"})
		if err == nil && *again.ComebackOf != k.ID {
			t.Errorf("comeback of %v", again.ComebackNumber)
		}
		return err
	}))
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
			case "finding_withdrawal", "overrule_withdrawal":
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
		"meter_version", "overrule", "overrule_withdrawal", "person", "power_event", "profile_version", "reading", "seen", "setting", "strike", "ticket", "ticket_event"}
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
