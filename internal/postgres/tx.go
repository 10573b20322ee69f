package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// tx is a transaction with the moment at which it began: time is fixed within it.
type tx struct {
	pgx.Tx
	now time.Time
}

// rollbackPatience bounds the rollback of a transaction whose request is gone.
const rollbackPatience = 5 * time.Second

// within runs fn in a transaction and commits it when fn succeeds. It rolls back
// when fn fails or panics, also when ctx has been cancelled meanwhile, so that
// the connection goes back to the pool in a known state.
func (s *Store) within(ctx context.Context, op string, fn func(t *tx) error) error {
	return s.run(ctx, op, pgx.TxOptions{}, fn)
}

// reading is within, for reading only, on one unchanging view of the data.
func (s *Store) reading(ctx context.Context, op string, fn func(t *tx) error) error {
	return s.run(ctx, op, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, fn)
}

func (s *Store) run(ctx context.Context, op string, opts pgx.TxOptions, fn func(t *tx) error) error {
	begun, err := s.begin(ctx, opts)
	if err != nil {
		return wrapped(op, err)
	}
	defer func() { // after a commit this does nothing
		rctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackPatience)
		defer cancel()
		_ = begun.Rollback(rctx)
	}()
	// Postgres keeps microseconds; what is returned shall equal what is stored.
	if err := fn(&tx{Tx: begun, now: s.now().UTC().Truncate(time.Microsecond)}); err != nil {
		return wrapped(op, err)
	}
	return wrapped(op, begun.Commit(ctx))
}

// begin opens a transaction. When the server was started anew the pool still holds
// connections to the one before; nothing has been done on them yet, so the next is
// tried, as often as there may be such.
func (s *Store) begin(ctx context.Context, opts pgx.TxOptions) (pgx.Tx, error) {
	begun, err := s.pool.BeginTx(ctx, opts)
	for left := s.pool.Stat().MaxConns(); err != nil && !givenUp(err) && !unreachable(err) && left > 0; left-- {
		begun, err = s.pool.BeginTx(ctx, opts)
	}
	if err == nil || givenUp(err) {
		return begun, err
	}
	return nil, fault.Wrap(err, fault.Busy, "The database does not answer just now. Nothing was stored; try again in a moment.")
}

// givenUp tells whether nobody waits for the answer any more.
func givenUp(err error) bool {
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}

// unreachable tells whether no connection could be made at all.
func unreachable(err error) bool {
	var refused *pgconn.ConnectError
	return errors.As(err, &refused)
}

// wrapped adds the operation to what is for the log; what is for the person
// stays as it is.
func wrapped(op string, err error) error {
	var f *fault.Error
	if err == nil || errors.As(err, &f) {
		return err
	}
	err = fmt.Errorf("postgres: %s: %w", op, err)
	var pg *pgconn.PgError
	if errors.As(err, &pg) && slices.Contains(busyCodes, pg.Code) {
		return fault.Wrap(err, fault.Busy, "Too much happened at once. Nothing was stored; try again in a moment.")
	}
	return err
}

// busyCodes are the SQLSTATEs after which the same call may well succeed:
// serialization failure, deadlock, lock not available, too many connections,
// server shutting down or starting up.
var busyCodes = []string{"40001", "40P01", "55P03", "53300", "57P01", "57P03"}

// opf names an operation with its keys.
func opf(format string, args ...any) string { return fmt.Sprintf(format, args...) }

// one collects exactly one row by column names; pgx.ErrNoRows when there is none.
func one[T any](ctx context.Context, q pgx.Tx, sql string, args ...any) (T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		var zero T
		return zero, err
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[T])
}

// many collects rows by column names.
func many[T any](ctx context.Context, q pgx.Tx, sql string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByName[T])
}

// column collects rows of a single column.
func column[T any](ctx context.Context, q pgx.Tx, sql string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[T])
}

// missing turns "no row" into fault.NotFound with a text for the person.
func missing(err error, format string, args ...any) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return fault.Wrap(err, fault.NotFound, format, args...)
	}
	return err
}

// SQLSTATE codes that mean something to a use case.
const (
	codeUnique  = "23505"
	codeForeign = "23503"
)

// violates tells whether err is the breach of a constraint, by code and name; an
// empty name stands for any.
func violates(err error, code, constraint string) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == code && (constraint == "" || pg.ConstraintName == constraint)
}

// newID makes a key: UUIDv7, so that keys come in the order of time.
func newID() (uuid.UUID, error) { return uuid.NewV7() }

// allowed refuses an actor whose role does not cover what, or who is nobody.
func allowed(by staff.Actor, what staff.Action) error {
	if by.Site == uuid.Nil {
		return errors.New("postgres: actor without a site")
	}
	return by.May(what)
}
