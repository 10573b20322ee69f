package postgres

import (
	"context"
	"crypto/sha256"
	"strings"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// newestProfile joins the newest profile version of revision r as n.
const newestProfile = ` LEFT JOIN LATERAL (SELECT v.id, v.key FROM profile_version v
	WHERE v.revision_id = r.id ORDER BY v.created_at DESC, v.id DESC LIMIT 1) n ON true `

// Families lists the kinds of board, by name, at most 500.
func (s *Store) Families(ctx context.Context) (list []shop.Family, err error) {
	err = s.reading(ctx, "list families", func(t *tx) error {
		list, err = many[shop.Family](ctx, t, `SELECT id, name, title,
				new_board_minor::text || ' ' || new_board_currency AS new_board
			FROM family ORDER BY name_key LIMIT 500`)
		return err
	})
	return list, err
}

// SaveFamily enters a family (zero ID) or changes its title and price; a name
// that is taken is a fault.Invalid on field "name".
func (s *Store) SaveFamily(ctx context.Context, by staff.Actor, f shop.Family) (shop.Family, error) {
	if err := allowed(by, staff.ManageProfiles); err != nil {
		return f, err
	}
	if err := f.Check(); err != nil {
		return f, err
	}
	err := s.within(ctx, opf("save family %q", f.Name), func(t *tx) (err error) {
		minor, code := amount(f.NewBoard)
		if f.ID == uuid.Nil {
			if f.ID, err = newID(); err != nil {
				return err
			}
			_, err = t.Exec(ctx, `INSERT INTO family (id, name, name_key, title, new_board_minor, new_board_currency, created_at)
				VALUES ($1, $2, $3, $4, $5, $6, $7)`, f.ID, f.Name, staff.NameKey(f.Name), f.Title, minor, code, t.now)
			if violates(err, codeUnique, "family_name_key_key") {
				return fault.Field("name", "There is a family of this name already.")
			}
			return err
		}
		done, err := t.Exec(ctx, `UPDATE family SET title = $2, new_board_minor = $3, new_board_currency = $4 WHERE id = $1`,
			f.ID, f.Title, minor, code)
		if err == nil && done.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "There is no such family.")
		}
		return err
	})
	return f, err
}

// Revisions lists the revisions of a family, or of all (uuid.Nil), by family and
// name, at most 1000.
func (s *Store) Revisions(ctx context.Context, family uuid.UUID) (list []shop.Revision, err error) {
	err = s.reading(ctx, opf("list revisions of %s", family), func(t *tx) error {
		list, err = many[shop.Revision](ctx, t, `SELECT r.id, r.family_id, f.name AS family_name, r.name,
				n.id AS profile_version_id, COALESCE(n.key, '') AS profile_key
			FROM family f JOIN revision r ON r.family_id = f.id `+newestProfile+`
			WHERE $1 = '00000000-0000-0000-0000-000000000000'::uuid OR f.id = $1
			ORDER BY f.name_key, r.name LIMIT 1000`, family)
		return err
	})
	return list, err
}

// profileColumns are those of profile version v of revision r of family f.
const profileColumns = ` v.id, v.key, f.name AS family, f.title AS family_title, r.id AS revision_id, r.name AS revision,
	v.yaml, v.flattened, v.sha256, v.parent_id, v.author, v.reason, v.created_at `

// Profile gives one profile version, with its text.
func (s *Store) Profile(ctx context.Context, id uuid.UUID) (p shop.Profile, err error) {
	err = s.reading(ctx, opf("profile version %s", id), func(t *tx) error {
		p, err = one[shop.Profile](ctx, t, `SELECT `+profileColumns+`
			FROM profile_version v JOIN revision r ON r.id = v.revision_id JOIN family f ON f.id = r.family_id
			WHERE v.id = $1`, id)
		return missing(err, "There is no such version of a profile.")
	})
	return p, err
}

// OtherProfiles gives the newest profile of each other revision of the family that a
// profile version is of, with their texts, newest first, at most 100.
func (s *Store) OtherProfiles(ctx context.Context, version uuid.UUID) (list []shop.Profile, err error) {
	err = s.reading(ctx, opf("profiles beside %s", version), func(t *tx) error {
		list, err = many[shop.Profile](ctx, t, `SELECT `+profileColumns+`
			FROM profile_version own JOIN revision its ON its.id = own.revision_id
				JOIN revision r ON r.family_id = its.family_id AND r.id <> its.id JOIN family f ON f.id = r.family_id `+newestProfile+`
				JOIN profile_version v ON v.id = n.id
			WHERE own.id = $1 ORDER BY v.created_at DESC, v.id DESC LIMIT 100`, version)
		return err
	})
	return list, err
}

// SyncProfiles stores the shipped profiles that are not stored yet, with their
// families and revisions, and says how many were new. A version is never changed;
// its SHA-256 is taken over the flattened text, or the text as written without one.
func (s *Store) SyncProfiles(ctx context.Context, shipped []shop.Profile) (added int, err error) {
	err = s.within(ctx, "sync profiles", func(t *tx) error {
		// Two processes that start at once shall not both add.
		if _, err := t.Exec(ctx, `LOCK TABLE profile_version IN SHARE ROW EXCLUSIVE MODE`); err != nil {
			return err
		}
		for _, p := range shipped {
			isNew, err := syncProfile(ctx, t, p)
			if err != nil {
				return wrapped("sync profile "+p.Key, err)
			}
			if isNew {
				added++
			}
		}
		return nil
	})
	return added, err
}

func syncProfile(ctx context.Context, t *tx, p shop.Profile) (bool, error) {
	text := p.Flattened
	if len(text) == 0 {
		text = p.YAML
	}
	sum := sha256.Sum256(text)
	var known bool
	err := t.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM profile_version WHERE key = $1 AND sha256 = $2)`,
		p.Key, sum[:]).Scan(&known)
	if err != nil || known {
		return false, err
	}
	revision, err := ensureRevision(ctx, t, p)
	if err != nil {
		return false, err
	}
	id, err := newID()
	if err != nil {
		return false, err
	}
	_, err = t.Exec(ctx, `INSERT INTO profile_version
		(id, revision_id, key, sha256, yaml, flattened, parent_id, author, reason, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
		id, revision, p.Key, sum[:], string(p.YAML), string(text), p.ParentID, p.Author, p.Reason, t.now)
	return true, err
}

// ensureRevision finds or enters a profile's family and revision.
func ensureRevision(ctx context.Context, t *tx, p shop.Profile) (uuid.UUID, error) {
	family, err := newID()
	if err != nil {
		return family, err
	}
	err = t.QueryRow(ctx, `INSERT INTO family (id, name, name_key, title, created_at) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (name_key) DO UPDATE SET name_key = EXCLUDED.name_key RETURNING id`,
		family, strings.TrimSpace(p.Family), staff.NameKey(p.Family), p.FamilyTitle, t.now).Scan(&family)
	if err != nil {
		return family, err
	}
	revision, err := newID()
	if err != nil {
		return revision, err
	}
	err = t.QueryRow(ctx, `INSERT INTO revision (id, family_id, name, created_at) VALUES ($1, $2, $3, $4)
		ON CONFLICT (family_id, name) DO UPDATE SET name = EXCLUDED.name RETURNING id`,
		revision, family, p.Revision, t.now).Scan(&revision)
	return revision, err
}
