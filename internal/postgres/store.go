package postgres

import (
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
)

// Store runs the use cases on one pool.
type Store struct {
	pool *pgxpool.Pool
	now  func() time.Time
}

// New makes a Store on a migrated database.
func New(pool *pgxpool.Pool) *Store { return &Store{pool: pool, now: time.Now} }

// WithClock gives a Store on the same pool that reads the time from now.
func (s *Store) WithClock(now func() time.Time) *Store { return &Store{pool: s.pool, now: now} }
