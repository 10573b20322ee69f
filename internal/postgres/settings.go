package postgres

import (
	"context"
	"errors"
	"strings"
	"unicode"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// clean cuts a text that came from outside to max characters and takes out what
// no log or page should hold: control characters and broken UTF-8.
func clean(s string, max int) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if r := []rune(s); len(r) > max {
		return string(r[:max])
	}
	return s
}

// Site gives a shop's own record.
func (s *Store) Site(ctx context.Context, site uuid.UUID) (st shop.Site, err error) {
	err = s.reading(ctx, opf("site %s", site), func(t *tx) error {
		st, err = siteOf(ctx, t, site)
		return err
	})
	return st, err
}

func siteOf(ctx context.Context, t *tx, id uuid.UUID) (shop.Site, error) {
	st, err := one[shop.Site](ctx, t, `SELECT id, name, address, tz, locale, currency, created_at FROM site WHERE id = $1`, id)
	return st, missing(err, "There is no such shop.")
}

// SaveShop changes name, address, time zone, locale and currency of the actor's
// shop and makes new terms count from now on; the old ones stay on record. Where
// set.ValidFrom is given, it is that of the terms that the person saw: others since
// are fault.Conflict.
func (s *Store) SaveShop(ctx context.Context, by staff.Actor, site shop.Site, set shop.Settings) error {
	if err := allowed(by, staff.ManageShop); err != nil {
		return err
	}
	if err := errors.Join(site.Check(), set.Check()); err != nil {
		return firstFault(err)
	}
	return s.within(ctx, opf("save shop %s", by.Site), func(t *tx) error {
		done, err := t.Exec(ctx, `UPDATE site SET name = $2, address = $3, tz = $4, locale = $5, currency = $6 WHERE id = $1`,
			by.Site, site.Name, site.Address, site.TZ, site.Locale, site.Currency)
		if err == nil && done.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "There is no such shop.")
		}
		if err != nil {
			return err
		}
		now, err := settingsOf(ctx, t, by.Site)
		if err != nil {
			return err
		}
		if !set.ValidFrom.IsZero() && !set.ValidFrom.Equal(now.ValidFrom) {
			return fault.New(fault.Conflict, "Somebody stored other terms since you opened this page. Open it anew to see theirs; stored once more, yours replace them.")
		}
		return insertSettings(ctx, t, by.Site, set)
	})
}

// Settings gives the terms that count now; before the first ones begin (a clock
// was put back, a history is written) these count already.
func (s *Store) Settings(ctx context.Context, site uuid.UUID) (set shop.Settings, err error) {
	err = s.reading(ctx, opf("settings of %s", site), func(t *tx) error {
		set, err = settingsOf(ctx, t, site)
		return err
	})
	return set, err
}

func settingsOf(ctx context.Context, t *tx, site uuid.UUID) (shop.Settings, error) {
	set, err := one[shop.Settings](ctx, t, `SELECT valid_from, taxes, labour_rate, examination_fee, credit_fee,
			guarantee_days, ask_percent, handling_volts, resistance_volts, danger_minutes, lifted_minutes
		FROM setting WHERE site_id = $1
		ORDER BY valid_from > $2, CASE WHEN valid_from <= $2 THEN valid_from END DESC, valid_from LIMIT 1`, site, t.now)
	return set, missing(err, "This shop has no settings yet.")
}

func insertSettings(ctx context.Context, t *tx, site uuid.UUID, set shop.Settings) error {
	_, err := t.Exec(ctx, `INSERT INTO setting (site_id, valid_from, taxes, labour_rate, examination_fee, credit_fee,
			guarantee_days, ask_percent, handling_volts, resistance_volts, danger_minutes, lifted_minutes)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		site, t.now, set.Taxes, set.LabourRate, set.ExaminationFee, set.CreditFee,
		set.GuaranteeDays, set.AskPercent, set.HandlingVolts, set.ResistanceVolts, set.DangerMinutes, set.LiftedMinutes)
	if violates(err, codeUnique, "setting_pkey") {
		return fault.New(fault.Busy, "The settings were saved at this very moment. Look again.")
	}
	return err
}
