package postgres

import (
	"context"
	"crypto/sha256"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// AddMeter stores a meter's description, once by content, and gives its version's key.
func (s *Store) AddMeter(ctx context.Context, by staff.Actor, name string, yaml []byte) (id uuid.UUID, err error) {
	if err := allowed(by, staff.WorkOnBoards); err != nil {
		return id, err
	}
	if name, err = staff.CheckName(name); err != nil {
		return id, err
	}
	err = s.within(ctx, opf("add meter %q", name), func(t *tx) error {
		if id, err = newID(); err != nil {
			return err
		}
		sum := sha256.Sum256(yaml)
		_, err := t.Exec(ctx, `INSERT INTO meter_version (id, name, sha256, yaml, created_at) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (sha256) DO NOTHING`, id, name, sum[:], string(yaml), t.now)
		if err != nil {
			return err
		}
		return t.QueryRow(ctx, `SELECT id FROM meter_version WHERE sha256 = $1`, sum[:]).Scan(&id)
	})
	return id, err
}

const instrumentSelect = `SELECT i.id, i.name, i.meter_version_id, m.name AS meter_name, m.yaml AS meter_yaml, i.calibrated_until
	FROM instrument i JOIN meter_version m ON m.id = i.meter_version_id `

// SaveInstrument enters one of the shop's meters by its name, or changes what is
// known of it: its description and until when it is calibrated.
func (s *Store) SaveInstrument(ctx context.Context, by staff.Actor, name string, meter uuid.UUID, calibratedUntil *time.Time) (in evidence.Instrument, err error) {
	if err := allowed(by, staff.WorkOnBoards); err != nil {
		return in, err
	}
	if name, err = staff.CheckName(name); err != nil {
		return in, err
	}
	err = s.within(ctx, opf("save instrument %q", name), func(t *tx) error {
		id, err := newID()
		if err != nil {
			return err
		}
		_, err = t.Exec(ctx, `INSERT INTO instrument (id, site_id, meter_version_id, name, calibrated_until, created_at)
			VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (site_id, name)
			DO UPDATE SET meter_version_id = EXCLUDED.meter_version_id, calibrated_until = EXCLUDED.calibrated_until`,
			id, by.Site, meter, name, calibratedUntil, t.now)
		if violates(err, codeForeign, "") {
			return fault.Field("meter", "There is no such meter.")
		}
		if err != nil {
			return err
		}
		in, err = one[evidence.Instrument](ctx, t, instrumentSelect+`WHERE i.site_id = $1 AND i.name = $2`, by.Site, name)
		return err
	})
	return in, err
}

// Instruments lists the shop's meters, by name, at most 200.
func (s *Store) Instruments(ctx context.Context, by staff.Actor) (list []evidence.Instrument, err error) {
	err = s.reading(ctx, "list instruments", func(t *tx) error {
		list, err = many[evidence.Instrument](ctx, t, instrumentSelect+`WHERE i.site_id = $1 ORDER BY i.name LIMIT 200`, by.Site)
		return err
	})
	return list, err
}
