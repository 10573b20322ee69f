package postgres

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

const personColumns = `id, site_id, name, role, password_hash, must_change_password, created_at, deactivated_at`

// NeedsOwner tells whether nobody has ever been entered: the first start.
func (s *Store) NeedsOwner(ctx context.Context) (none bool, err error) {
	err = s.reading(ctx, "look for the first owner", func(t *tx) error {
		return t.QueryRow(ctx, `SELECT NOT EXISTS (SELECT 1 FROM person)`).Scan(&none)
	})
	return none, err
}

// FirstOwner creates the shop, its first settings and its owner, once: when
// somebody exists already it is fault.Conflict, also for two who race.
func (s *Store) FirstOwner(ctx context.Context, site shop.Site, set shop.Settings, name, passwordHash string) (staff.Person, error) {
	var p staff.Person
	name, err := staff.CheckName(name)
	if err := errors.Join(err, site.Check(), set.Check()); err != nil {
		return p, firstFault(err)
	}
	err = s.within(ctx, "first owner", func(t *tx) error {
		// Whoever comes second waits here and then finds the first one's person.
		if _, err := t.Exec(ctx, `LOCK TABLE person IN SHARE ROW EXCLUSIVE MODE`); err != nil {
			return err
		}
		var taken bool
		if err := t.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM person)`).Scan(&taken); err != nil {
			return err
		}
		if taken {
			return fault.New(fault.Conflict, "This shop has been set up already. Sign in instead.")
		}
		if site.ID, err = newID(); err != nil {
			return err
		}
		_, err := t.Exec(ctx, `INSERT INTO site (id, name, address, tz, locale, currency, created_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			site.ID, site.Name, site.Address, site.TZ, site.Locale, site.Currency, t.now)
		if err != nil {
			return err
		}
		if err := insertSettings(ctx, t, site.ID, set); err != nil {
			return err
		}
		p, err = insertPerson(ctx, t, staff.Person{SiteID: site.ID, Name: name, Role: staff.Owner, PasswordHash: passwordHash})
		return err
	})
	return p, err
}

// firstFault gives the first error of a joined one, so that fields reach the form.
func firstFault(err error) error {
	var f *fault.Error
	if errors.As(err, &f) {
		return f
	}
	return err
}

// People lists everybody of the actor's site, active first, by name; at most 500.
func (s *Store) People(ctx context.Context, by staff.Actor) (list []staff.Person, err error) {
	err = s.reading(ctx, "list people", func(t *tx) error {
		list, err = many[staff.Person](ctx, t, `SELECT `+personColumns+` FROM person
			WHERE site_id = $1 ORDER BY deactivated_at IS NOT NULL, name_key LIMIT 500`, by.Site)
		return err
	})
	return list, err
}

// Person gives one person of the actor's site.
func (s *Store) Person(ctx context.Context, by staff.Actor, id uuid.UUID) (p staff.Person, err error) {
	err = s.reading(ctx, opf("person %s", id), func(t *tx) error {
		p, err = one[staff.Person](ctx, t, `SELECT `+personColumns+` FROM person WHERE id = $1 AND site_id = $2`, id, by.Site)
		return missing(err, "There is no such person.")
	})
	return p, err
}

// AddPerson enters somebody with a first password, to be changed at sign-in.
// A name that is taken is a fault.Invalid on field "name".
func (s *Store) AddPerson(ctx context.Context, by staff.Actor, name string, role staff.Role, passwordHash string) (p staff.Person, err error) {
	if err := allowed(by, staff.ManagePeople); err != nil {
		return p, err
	}
	if name, err = staff.CheckName(name); err != nil {
		return p, err
	}
	if !role.Valid() {
		return p, fault.Field("role", "Choose what this person does.")
	}
	err = s.within(ctx, opf("add person %q", name), func(t *tx) error {
		p, err = insertPerson(ctx, t, staff.Person{SiteID: by.Site, Name: name, Role: role,
			PasswordHash: passwordHash, MustChangePassword: true})
		return err
	})
	return p, err
}

func insertPerson(ctx context.Context, t *tx, p staff.Person) (staff.Person, error) {
	if p.PasswordHash == "" {
		return p, errors.New("person without a password hash")
	}
	var err error
	if p.ID, err = newID(); err != nil {
		return p, err
	}
	p.CreatedAt = t.now
	_, err = t.Exec(ctx, `INSERT INTO person
		(id, site_id, name, name_key, role, password_hash, must_change_password, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		p.ID, p.SiteID, p.Name, staff.NameKey(p.Name), p.Role, p.PasswordHash, p.MustChangePassword, p.CreatedAt)
	if violates(err, codeUnique, "person_name_key_key") {
		return p, fault.Field("name", "Somebody with this name is entered already. Choose another name, such as with an initial.")
	}
	return p, err
}

// SetPassword stores a new hash and ends the person's other sessions. One's own
// password clears must_change; an owner may set somebody else's, which sets it.
// keep is the token hash of the session that stays (nil: none).
func (s *Store) SetPassword(ctx context.Context, by staff.Actor, person uuid.UUID, passwordHash string, keep []byte) error {
	own := by.Person == person
	if !own {
		if err := allowed(by, staff.ManagePeople); err != nil {
			return err
		}
	}
	if passwordHash == "" {
		return errors.New("postgres: empty password hash")
	}
	return s.within(ctx, opf("set password of %s", person), func(t *tx) error {
		done, err := t.Exec(ctx, `UPDATE person SET password_hash = $3, must_change_password = $4
			WHERE id = $1 AND site_id = $2`, person, by.Site, passwordHash, !own)
		if err != nil {
			return err
		}
		if done.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "There is no such person.")
		}
		_, err = t.Exec(ctx, `DELETE FROM session WHERE person_id = $1 AND token_hash IS DISTINCT FROM $2`, person, keep)
		return err
	})
}

// SetRole changes a person's role; the last active owner keeps theirs.
func (s *Store) SetRole(ctx context.Context, by staff.Actor, person uuid.UUID, role staff.Role) error {
	if err := allowed(by, staff.ManagePeople); err != nil {
		return err
	}
	if !role.Valid() {
		return fault.Field("role", "Choose what this person does.")
	}
	return s.within(ctx, opf("set role of %s", person), func(t *tx) error {
		if role != staff.Owner {
			if err := anotherOwner(ctx, t, by.Site, person); err != nil {
				return err
			}
		}
		return touchPerson(ctx, t, `UPDATE person SET role = $3 WHERE id = $1 AND site_id = $2`, person, by.Site, role)
	})
}

// Deactivate ends a person's work here and all their sessions; the last active
// owner cannot go.
func (s *Store) Deactivate(ctx context.Context, by staff.Actor, person uuid.UUID) error {
	if err := allowed(by, staff.ManagePeople); err != nil {
		return err
	}
	return s.within(ctx, opf("deactivate %s", person), func(t *tx) error {
		if err := anotherOwner(ctx, t, by.Site, person); err != nil {
			return err
		}
		err := touchPerson(ctx, t, `UPDATE person SET deactivated_at = COALESCE(deactivated_at, $3)
			WHERE id = $1 AND site_id = $2`, person, by.Site, t.now)
		if err != nil {
			return err
		}
		_, err = t.Exec(ctx, `DELETE FROM session WHERE person_id = $1`, person)
		return err
	})
}

// Reactivate lets a person sign in again.
func (s *Store) Reactivate(ctx context.Context, by staff.Actor, person uuid.UUID) error {
	if err := allowed(by, staff.ManagePeople); err != nil {
		return err
	}
	return s.within(ctx, opf("reactivate %s", person), func(t *tx) error {
		return touchPerson(ctx, t, `UPDATE person SET deactivated_at = NULL WHERE id = $1 AND site_id = $2`, person, by.Site)
	})
}

// touchPerson runs an update of one person; no row is fault.NotFound.
func touchPerson(ctx context.Context, t *tx, sql string, args ...any) error {
	done, err := t.Exec(ctx, sql, args...)
	if err == nil && done.RowsAffected() == 0 {
		return fault.New(fault.NotFound, "There is no such person.")
	}
	return err
}

// anotherOwner refuses to lose the last active owner. It locks the owners, so
// that two who leave at once do not both find the other.
func anotherOwner(ctx context.Context, t *tx, site, leaving uuid.UUID) error {
	owners, err := column[uuid.UUID](ctx, t, `SELECT id FROM person
		WHERE site_id = $1 AND role = 'owner' AND deactivated_at IS NULL ORDER BY id FOR NO KEY UPDATE`, site)
	if err != nil {
		return err
	}
	if len(owners) == 1 && owners[0] == leaving {
		return fault.New(fault.Conflict, "This is the only owner. Make somebody else an owner first.")
	}
	return nil
}

// PersonByName finds an active person for signing in, whatever the case of the
// name; fault.NotFound otherwise, also for what can be nobody's name.
func (s *Store) PersonByName(ctx context.Context, name string) (p staff.Person, err error) {
	if _, err := staff.CheckName(name); err != nil {
		return p, fault.Wrap(err, fault.NotFound, "There is nobody of this name.")
	}
	err = s.reading(ctx, "person by name", func(t *tx) error {
		p, err = one[staff.Person](ctx, t, `SELECT `+personColumns+` FROM person
			WHERE name_key = $1 AND deactivated_at IS NULL`, staff.NameKey(name))
		return missing(err, "There is nobody of this name.")
	})
	return p, err
}
