package postgres

import (
	"context"
	"encoding/json"
	"errors"

	"github.com/google/uuid"

	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

const documentColumns = `id, site_id, ticket_id, kind, number, content::text AS content, person_id, created_at`

// insertDocument gives a document its number and freezes the content that make
// draws up for it.
func insertDocument(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, kind string, make func(number int64) (any, error)) (shop.Document, error) {
	d := shop.Document{SiteID: k.SiteID, TicketID: k.ID, Kind: kind, PersonID: by.Person, CreatedAt: t.now}
	var err error
	if d.Number, err = number(ctx, t, k.SiteID, kind); err != nil {
		return d, err
	}
	content, err := make(d.Number)
	if err != nil {
		return d, err
	}
	if d.Content, err = json.Marshal(content); err != nil {
		return d, err
	}
	if d.ID, err = newID(); err != nil {
		return d, err
	}
	_, err = t.Exec(ctx, `INSERT INTO document (id, site_id, ticket_id, kind, number, content, person_id, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		d.ID, d.SiteID, d.TicketID, d.Kind, d.Number, string(d.Content), d.PersonID, d.CreatedAt)
	return d, err
}

// HandOver freezes the slip, numbers it and ends the ticket. A repaired board
// needs a text and the proof of every safety block that h names; naming them all
// is the caller's part, who knows the profile. A move of the ticket since seen is
// fault.Conflict.
func (s *Store) HandOver(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, h shop.HandOver) (d shop.Document, err error) {
	if err := h.Check(); err != nil {
		return d, err
	}
	err = s.within(ctx, opf("hand over %s", ticket), func(t *tx) error {
		k, err := lockTicket(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		if err := unchanged(ctx, t, k, seen, "state", "state"); err != nil {
			return err
		}
		if err := shop.Step(by, k.State, h.As, shop.Facts{Reason: h.Text, Slip: true}); err != nil {
			return err
		}
		if d, err = freezeSlip(ctx, t, by, k, h); err != nil {
			return err
		}
		change := journal.Change{New: "slip", Note: opf("slip %d, given to %s", d.Number, h.To), Subject: &d.ID}
		if err := note(ctx, t, by, k, journal.Documented, change); err != nil {
			return err
		}
		return moveTo(ctx, t, by, k, h.As, journal.Moved, "")
	})
	return d, err
}

// freezeSlip draws up the slip from all that is stored and freezes it.
func freezeSlip(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, h shop.HandOver) (shop.Document, error) {
	site, errSite := siteOf(ctx, t, k.SiteID)
	set, errSet := settingsOf(ctx, t, k.SiteID)
	st, errStory := storyWhere(ctx, t, `WHERE t.id = $1`, k.ID)
	if err := errors.Join(errSite, errSet, errStory); err != nil {
		return shop.Document{}, err
	}
	return insertDocument(ctx, t, by, k, "slip", func(number int64) (any, error) {
		return shop.NewSlip(site, set, &st, h, number, t.now)
	})
}

// Document gives one frozen document of the actor's site by kind ("slip",
// "quote") and number.
func (s *Store) Document(ctx context.Context, by staff.Actor, kind string, number int64) (d shop.Document, err error) {
	err = s.reading(ctx, opf("document %s %d", kind, number), func(t *tx) error {
		d, err = one[shop.Document](ctx, t, `SELECT `+documentColumns+` FROM document
			WHERE site_id = $1 AND kind = $2 AND number = $3`, by.Site, kind, number)
		return missing(err, "There is no such document.")
	})
	return d, err
}
