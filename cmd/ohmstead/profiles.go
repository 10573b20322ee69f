package main

import (
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path"

	"ohmstead/internal/postgres"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/profiles"
)

// shelf is a place where board profiles lie as files.
type shelf struct {
	files  fs.FS
	author string // written into each version stored from here
	reason string
}

// shelves are the shipped profiles and those of the shop's own directory.
func (cfg Config) shelves() []shelf {
	all := []shelf{{profiles.Files, "Ohmstead", "shipped with Ohmstead"}}
	if cfg.Profiles != "" {
		all = append(all, shelf{os.DirFS(cfg.Profiles), "this shop", "from the directory " + cfg.Profiles})
	}
	return all
}

// read loads every profile of a shelf. One that cannot be read is left out with a
// message: the shop opens all the same.
func (s shelf) read(log *slog.Logger) ([]*profile.Profile, []shop.Profile, error) {
	names, err := fs.Glob(s.files, "*.yaml")
	if err != nil {
		return nil, nil, err
	}
	if _, err := fs.Stat(s.files, "."); err != nil {
		return nil, nil, err
	}
	var loaded []*profile.Profile
	var stored []shop.Profile
	for _, name := range names {
		p, st, err := s.load(name)
		if err != nil {
			log.Error("a board profile cannot be used", "file", name, "error", err)
			continue
		}
		loaded, stored = append(loaded, p), append(stored, st)
	}
	return loaded, stored, nil
}

func (s shelf) load(name string) (*profile.Profile, shop.Profile, error) {
	src, err := fs.ReadFile(s.files, name)
	if err != nil {
		return nil, shop.Profile{}, err
	}
	p, err := profile.Load(name, src, s.parent)
	if err != nil {
		return nil, shop.Profile{}, err
	}
	flat, err := p.Flatten()
	if err != nil {
		return nil, shop.Profile{}, err
	}
	return p, shop.Profile{
		Key: p.ID, Family: p.Family, FamilyTitle: p.Title, Revision: p.Revision,
		YAML: src, Flattened: flat, Author: s.author, Reason: s.reason,
	}, nil
}

// parent looks beside the profile, then among the shipped ones.
func (s shelf) parent(id string) ([]byte, error) {
	name := path.Base(id) + ".yaml"
	if src, err := fs.ReadFile(s.files, name); err == nil {
		return src, nil
	}
	return fs.ReadFile(profiles.Files, name)
}

// syncProfiles stores every version of a profile that is not stored yet.
func syncProfiles(ctx context.Context, store *postgres.Store, cfg Config, log *slog.Logger) error {
	for _, s := range cfg.shelves() {
		_, found, err := s.read(log)
		if err != nil {
			return fmt.Errorf("board profiles %s: %w", s.reason, err)
		}
		added, err := store.SyncProfiles(ctx, found)
		if err != nil {
			return err
		}
		if added > 0 {
			log.Info("board profiles stored", "new", added, "of", len(found), "reason", s.reason)
		}
	}
	return nil
}
