package main

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/internal/demo"
	"ohmstead/internal/postgres"
	"ohmstead/internal/profile"
	"ohmstead/web"
)

// newHandler puts the pages and the storage together: the one place where they meet.
func newHandler(ctx context.Context, pool *pgxpool.Pool, cfg Config, log *slog.Logger) (http.Handler, error) {
	if err := cfg.checkOrigin(); err != nil {
		return nil, err
	}
	store := postgres.New(pool)
	if err := syncProfiles(ctx, store, cfg, log); err != nil {
		return nil, err
	}
	return web.New(store, web.Options{Log: log, Origin: cfg.Origin}), nil
}

// fillDemo lives through the story of the invented shop, each step at its time.
func fillDemo(ctx context.Context, pool *pgxpool.Pool, cfg Config, log *slog.Logger, hash string) (demo.Shop, error) {
	store := postgres.New(pool)
	if err := syncProfiles(ctx, store, cfg, log); err != nil {
		return demo.Shop{}, err
	}
	known := map[string]*profile.Profile{}
	for _, s := range cfg.shelves() {
		loaded, _, err := s.read(log)
		if err != nil {
			return demo.Shop{}, err
		}
		for _, p := range loaded {
			known[p.ID] = p
		}
	}
	return demo.Fill(ctx, demo.Filling{
		At: func(t time.Time) demo.Storage {
			return store.WithClock(func() time.Time { return t })
		},
		Now:      time.Now(),
		Hash:     hash,
		Profiles: func(key string) *profile.Profile { return known[key] },
	})
}
