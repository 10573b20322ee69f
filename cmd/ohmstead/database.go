package main

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"

	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/internal/pgserver"
)

// database is where everything is kept: a PostgreSQL that somebody else runs, or a
// private one that runs as long as this value is open.
type database struct {
	url     string
	private *pgserver.Server // nil for somebody else's
}

// openDatabase checks the database that the settings name, or starts the private
// one. What a throwaway one holds is lost when the machine goes down.
func openDatabase(ctx context.Context, cfg Config, log *slog.Logger, throwaway bool) (*database, error) {
	if cfg.DatabaseURL != "" {
		if err := pgserver.Check(ctx, cfg.DatabaseURL); err != nil {
			return nil, err
		}
		return &database{url: cfg.DatabaseURL}, nil
	}
	s, err := pgserver.Start(ctx, pgserver.Options{
		Dir: filepath.Join(cfg.Data, "postgres"), BinDir: cfg.PGBin, Log: log, Throwaway: throwaway,
	})
	if err != nil {
		return nil, err
	}
	return &database{url: s.URL(), private: s}, nil
}

// pool opens the application's connections. Times cross them as UTC.
func (d *database) pool(ctx context.Context) (*pgxpool.Pool, error) {
	cfg, err := pgxpool.ParseConfig(d.url)
	if err != nil {
		return nil, fmt.Errorf("DATABASE_URL: %w", err)
	}
	cfg.ConnConfig.RuntimeParams["timezone"] = "UTC"
	if cfg.ConnConfig.RuntimeParams["application_name"] == "" {
		cfg.ConnConfig.RuntimeParams["application_name"] = "ohmstead"
	}
	return pgxpool.NewWithConfig(ctx, cfg)
}

// died is closed when the private server has ended by itself; nil, which never
// is, for somebody else's.
func (d *database) died() <-chan struct{} {
	if d.private == nil {
		return nil
	}
	return d.private.Died()
}

func (d *database) close() error {
	if d.private == nil {
		return nil
	}
	return d.private.Stop()
}
