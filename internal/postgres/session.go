package postgres

import (
	"context"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// touchEvery is how exactly a session's last use is known; noting every single
// request would write on every read.
const touchEvery = time.Minute

// StartSession stores a session by its token's hash, with the limits of package
// staff, and clears away sessions that have ended by themselves.
func (s *Store) StartSession(ctx context.Context, person uuid.UUID, tokenHash []byte, device *uuid.UUID) (ses staff.Session, err error) {
	err = s.within(ctx, opf("start session of %s", person), func(t *tx) error {
		if ses.Person, err = one[staff.Person](ctx, t, `SELECT `+personColumns+` FROM person
			WHERE id = $1 AND deactivated_at IS NULL`, person); err != nil {
			return missing(err, "There is no such person.")
		}
		if ses.ID, err = newID(); err != nil {
			return err
		}
		ses.DeviceID, ses.CreatedAt, ses.LastSeenAt = device, t.now, t.now
		ses.ExpiresAt = t.now.Add(staff.AbsoluteLimit)
		_, err = t.Exec(ctx, `INSERT INTO session (id, token_hash, person_id, device_id, created_at, last_seen_at, expires_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			ses.ID, tokenHash, person, device, ses.CreatedAt, ses.LastSeenAt, ses.ExpiresAt)
		if err != nil {
			return err
		}
		_, err = t.Exec(ctx, `DELETE FROM session WHERE expires_at <= $1`, t.now)
		return err
	})
	return ses, err
}

// SessionPerson gives the living session of a token hash and its person, and
// notes that it was used; fault.NotFound when ended, idle too long, too old, or
// the person is gone.
func (s *Store) SessionPerson(ctx context.Context, tokenHash []byte) (ses staff.Session, err error) {
	err = s.within(ctx, "session", func(t *tx) error {
		type row struct {
			staff.Person
			SessionID  uuid.UUID
			DeviceID   *uuid.UUID
			Begun      time.Time
			LastSeenAt time.Time
			ExpiresAt  time.Time
		}
		r, err := one[row](ctx, t, `SELECT p.id, p.site_id, p.name, p.role, p.password_hash, p.must_change_password,
				p.created_at, p.deactivated_at,
				s.id AS session_id, s.device_id, s.created_at AS begun, s.last_seen_at, s.expires_at
			FROM session s JOIN person p ON p.id = s.person_id
			WHERE s.token_hash = $1 AND s.expires_at > $2 AND s.last_seen_at > $3 AND p.deactivated_at IS NULL`,
			tokenHash, t.now, t.now.Add(-staff.IdleLimit))
		if err != nil {
			return missing(err, "You are not signed in.")
		}
		ses = staff.Session{ID: r.SessionID, Person: r.Person, DeviceID: r.DeviceID,
			CreatedAt: r.Begun, LastSeenAt: r.LastSeenAt, ExpiresAt: r.ExpiresAt}
		if t.now.Sub(r.LastSeenAt) < touchEvery {
			return nil
		}
		ses.LastSeenAt = t.now
		_, err = t.Exec(ctx, `UPDATE session SET last_seen_at = $2 WHERE id = $1`, r.SessionID, t.now)
		return err
	})
	return ses, err
}

// EndSession signs a browser out. Ending what has ended is no error.
func (s *Store) EndSession(ctx context.Context, tokenHash []byte) error {
	return s.within(ctx, "end session", func(t *tx) error {
		_, err := t.Exec(ctx, `DELETE FROM session WHERE token_hash = $1`, tokenHash)
		return err
	})
}

// EndSessionsOf signs a person out everywhere: oneself, or anybody by an owner.
func (s *Store) EndSessionsOf(ctx context.Context, by staff.Actor, person uuid.UUID) error {
	if by.Person != person {
		if err := allowed(by, staff.ManagePeople); err != nil {
			return err
		}
	}
	return s.within(ctx, opf("end sessions of %s", person), func(t *tx) error {
		_, err := t.Exec(ctx, `DELETE FROM session WHERE person_id =
			(SELECT id FROM person WHERE id = $1 AND site_id = $2)`, person, by.Site)
		return err
	})
}

// AddDevice gives a tablet its own token, so that readings get in after a
// session has expired.
func (s *Store) AddDevice(ctx context.Context, by staff.Actor, name string, tokenHash []byte) (id uuid.UUID, err error) {
	if err := allowed(by, staff.WorkOnBoards); err != nil {
		return id, err
	}
	if name, err = staff.CheckName(name); err != nil {
		return id, err
	}
	err = s.within(ctx, opf("add device %q", name), func(t *tx) error {
		if id, err = newID(); err != nil {
			return err
		}
		_, err = t.Exec(ctx, `INSERT INTO device (id, site_id, name, token_hash, created_at) VALUES ($1, $2, $3, $4, $5)`,
			id, by.Site, name, tokenHash, t.now)
		return err
	})
	return id, err
}

// DeviceByToken gives the device of a token hash and its site; fault.NotFound
// when unknown or revoked.
func (s *Store) DeviceByToken(ctx context.Context, tokenHash []byte) (id, site uuid.UUID, err error) {
	err = s.reading(ctx, "device", func(t *tx) error {
		err := t.QueryRow(ctx, `SELECT id, site_id FROM device WHERE token_hash = $1 AND revoked_at IS NULL`,
			tokenHash).Scan(&id, &site)
		return missing(err, "This device is not known.")
	})
	return id, site, err
}

// RevokeDevice makes a device's token worthless.
func (s *Store) RevokeDevice(ctx context.Context, by staff.Actor, device uuid.UUID) error {
	if err := allowed(by, staff.ManagePeople); err != nil {
		return err
	}
	return s.within(ctx, opf("revoke device %s", device), func(t *tx) error {
		done, err := t.Exec(ctx, `UPDATE device SET revoked_at = COALESCE(revoked_at, $3)
			WHERE id = $1 AND site_id = $2`, device, by.Site, t.now)
		if err == nil && done.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "There is no such device.")
		}
		return err
	})
}

// Audit appends to the record of sign-ins and refusals; key and time are set here.
func (s *Store) Audit(ctx context.Context, a staff.Audit) error {
	return s.within(ctx, opf("audit %s", a.Kind), func(t *tx) error {
		id, err := newID()
		if err != nil {
			return err
		}
		_, err = t.Exec(ctx, `INSERT INTO audit (id, at, site_id, person_id, name, kind, address, note)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			id, t.now, a.SiteID, a.PersonID, clean(a.Name, staff.MaxName), a.Kind, clean(a.Address, 100), clean(a.Note, 400))
		return err
	})
}

// AuditTrail lists the newest entries, newest first, at most 200. Entries that
// name no site are shown to every owner.
func (s *Store) AuditTrail(ctx context.Context, by staff.Actor) (list []staff.Audit, err error) {
	if err := allowed(by, staff.ManagePeople); err != nil {
		return nil, err
	}
	err = s.reading(ctx, "audit trail", func(t *tx) error {
		list, err = many[staff.Audit](ctx, t, `SELECT id, at, site_id, person_id, name, kind, address, note
			FROM audit WHERE site_id = $1 OR site_id IS NULL ORDER BY at DESC, id DESC LIMIT 200`, by.Site)
		return err
	})
	return list, err
}
