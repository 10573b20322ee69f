package postgres

import (
	"context"
	"errors"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
)

const boardSelect = `SELECT b.id, b.serial, b.own_tag, b.family_id, b.revision_id,
		COALESCE(f.name, '') AS family_name, COALESCE(r.name, '') AS revision_name, b.created_at
	FROM board b LEFT JOIN family f ON f.id = b.family_id LEFT JOIN revision r ON r.id = b.revision_id `

func boardOf(ctx context.Context, t *tx, id uuid.UUID) (shop.Board, error) {
	b, err := one[shop.Board](ctx, t, boardSelect+`WHERE b.id = $1`, id)
	return b, missing(err, "There is no such board.")
}

// revisionOf gives a revision with its family and newest profile.
func revisionOf(ctx context.Context, t *tx, id uuid.UUID) (shop.Revision, error) {
	r, err := one[shop.Revision](ctx, t, `SELECT r.id, r.family_id, f.name AS family_name, r.name,
			n.id AS profile_version_id, COALESCE(n.key, '') AS profile_key
		FROM revision r JOIN family f ON f.id = r.family_id `+newestProfile+` WHERE r.id = $1`, id)
	return r, missing(err, "There is no such revision.")
}

// knownBoard finds the board that an intake means: by our own tag, else by its
// serial number, unless both name a family and these differ (makers use the same
// numbers). It gives nil when the board was never here. It makes a second intake
// of the same number wait until the first is stored.
func knownBoard(ctx context.Context, t *tx, in shop.Intake, family *uuid.UUID) (*shop.Board, error) {
	for _, k := range []struct{ key, column, value string }{
		{"tag", "tag_key", shop.SerialKey(in.OwnTag)},
		{"serial", "serial_key", shop.SerialKey(in.Serial)},
	} {
		if k.value == "" {
			continue
		}
		if _, err := t.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended($1, 0))`, k.key+" "+k.value); err != nil {
			return nil, err
		}
		b, err := one[shop.Board](ctx, t, boardSelect+`WHERE b.`+k.column+` = $1 AND b.`+k.column+` <> ''
			AND ($3 OR $2::uuid IS NULL OR b.family_id IS NULL OR b.family_id = $2)
			ORDER BY b.family_id IS NULL, b.created_at DESC LIMIT 1`, k.value, family, k.key == "tag")
		if err == nil {
			return &b, nil
		}
		if !errors.Is(err, pgx.ErrNoRows) {
			return nil, err
		}
	}
	return nil, nil
}

// takeBoard finds or enters the intake's board. The second result is what the
// counter read where the board is known as something else, "" otherwise: the
// board keeps what is known of it until the bench says so.
func takeBoard(ctx context.Context, t *tx, in shop.Intake) (shop.Board, string, error) {
	typed, err := typedKind(ctx, t, in)
	if err != nil {
		return shop.Board{}, "", err
	}
	known, err := knownBoard(ctx, t, in, typed.FamilyID)
	if err != nil {
		return shop.Board{}, "", err
	}
	if known == nil {
		typed.Serial, typed.OwnTag = strings.TrimSpace(in.Serial), strings.TrimSpace(in.OwnTag)
		b, err := insertBoard(ctx, t, typed)
		return b, "", err
	}
	return learnBoard(ctx, t, *known, typed, in)
}

// typedKind gives family and revision as the counter chose them.
func typedKind(ctx context.Context, t *tx, in shop.Intake) (shop.Board, error) {
	b := shop.Board{FamilyID: in.FamilyID}
	if in.RevisionID != nil {
		r, err := revisionOf(ctx, t, *in.RevisionID)
		if err != nil {
			return b, onField(err, "revision")
		}
		if in.FamilyID != nil && *in.FamilyID != r.FamilyID {
			return b, fault.Field("revision", "This revision belongs to another family.")
		}
		b.FamilyID, b.RevisionID, b.FamilyName, b.RevisionName = &r.FamilyID, &r.ID, r.FamilyName, r.Name
		return b, nil
	}
	if in.FamilyID != nil {
		err := t.QueryRow(ctx, `SELECT name FROM family WHERE id = $1`, *in.FamilyID).Scan(&b.FamilyName)
		return b, onField(missing(err, "There is no such family."), "family")
	}
	return b, nil
}

// onField puts a "no such thing" beside the form field that named it.
func onField(err error, field string) error {
	if fault.KindOf(err) == fault.NotFound {
		return fault.Field(field, "%s", fault.Text(err))
	}
	return err
}

func insertBoard(ctx context.Context, t *tx, b shop.Board) (shop.Board, error) {
	var err error
	if b.ID, err = newID(); err != nil {
		return b, err
	}
	b.CreatedAt = t.now
	_, err = t.Exec(ctx, `INSERT INTO board (id, serial, serial_key, own_tag, tag_key, family_id, revision_id, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		b.ID, b.Serial, shop.SerialKey(b.Serial), b.OwnTag, shop.SerialKey(b.OwnTag), b.FamilyID, b.RevisionID, b.CreatedAt)
	return b, err
}

// learnBoard adds what the counter read to a known board where nothing was known.
func learnBoard(ctx context.Context, t *tx, b, typed shop.Board, in shop.Intake) (shop.Board, string, error) {
	otherwise := ""
	switch {
	case typed.RevisionID != nil && b.RevisionID != nil && *b.RevisionID != *typed.RevisionID,
		typed.FamilyID != nil && b.FamilyID != nil && *b.FamilyID != *typed.FamilyID:
		otherwise = strings.TrimSpace(typed.FamilyName + " " + typed.RevisionName)
	case typed.RevisionID != nil && b.RevisionID == nil, typed.FamilyID != nil && b.FamilyID == nil:
		b.FamilyID, b.RevisionID, b.FamilyName, b.RevisionName = typed.FamilyID, typed.RevisionID, typed.FamilyName, typed.RevisionName
	}
	if b.Serial == "" {
		b.Serial = strings.TrimSpace(in.Serial)
	}
	if b.OwnTag == "" {
		b.OwnTag = strings.TrimSpace(in.OwnTag)
	}
	_, err := t.Exec(ctx, `UPDATE board SET serial = $2, serial_key = $3, own_tag = $4, tag_key = $5, family_id = $6, revision_id = $7
		WHERE id = $1`, b.ID, b.Serial, shop.SerialKey(b.Serial), b.OwnTag, shop.SerialKey(b.OwnTag), b.FamilyID, b.RevisionID)
	return b, otherwise, err
}
