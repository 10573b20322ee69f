package postgres

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// consentsOf gives a ticket's consents, oldest first.
func consentsOf(ctx context.Context, t *tx, ticket uuid.UUID) ([]quote.Consent, error) {
	return many[quote.Consent](ctx, t, `SELECT id, ticket_id, quote_id, about, text_shown, who, answer,
			limit_minor::text || ' ' || currency AS "limit", way, answered_at, person_id, recorded_at
		FROM consent WHERE ticket_id = $1 ORDER BY answered_at, id LIMIT $2`, ticket, maxStory)
}

// answerReach is how long before a board came in an answer about it may have been
// given.
const answerReach = 365 * 24 * time.Hour

// RecordConsent writes down a customer's answer. A new limit becomes the ticket's;
// a yes to a sent quote raises the limit to that quote's total where it was lower.
// The very same answer again, its time given, is given back as it is stored.
func (s *Store) RecordConsent(ctx context.Context, by staff.Actor, c quote.Consent) (quote.Consent, error) {
	if err := allowed(by, staff.RecordAnswers); err != nil {
		return c, err
	}
	if err := c.Check(); err != nil {
		return c, err
	}
	err := s.within(ctx, opf("consent on %s", c.TicketID), func(t *tx) error {
		k, err := lockOpen(ctx, t, by, c.TicketID)
		if err != nil {
			return err
		}
		limit, err := authorised(ctx, t, k, c)
		if err != nil {
			return err
		}
		given := !c.AnsweredAt.IsZero()
		if err := dated(&c, k, t.now); err != nil {
			return err
		}
		list, err := consentsOf(ctx, t, k.ID)
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(list, c.Same); given && i >= 0 {
			c = list[i]
			return nil
		}
		if c.ID, err = newID(); err != nil {
			return err
		}
		c.PersonID, c.RecordedAt = by.Person, t.now
		if err := insertConsent(ctx, t, c); err != nil {
			return err
		}
		return noteConsent(ctx, t, by, k, c, limit)
	})
	return c, err
}

// dated gives an answer its time, now where none was given, and refuses a time
// that cannot be.
func dated(c *quote.Consent, k *shop.Ticket, now time.Time) error {
	c.AnsweredAt = c.AnsweredAt.UTC().Truncate(time.Microsecond)
	switch {
	case c.AnsweredAt.IsZero():
		c.AnsweredAt = now
	case c.AnsweredAt.After(now.Add(time.Minute)):
		return fault.Field("answered_at", "Enter a time that has passed.")
	case c.AnsweredAt.Before(k.TakenInAt.Add(-answerReach)):
		return fault.Field("answered_at", "This is more than a year before the board came in. Check the year.")
	}
	return nil
}

// authorised gives the limit that an answer sets, nil when it sets none. A quote
// that is answered has to be the one sent last on this ticket.
func authorised(ctx context.Context, t *tx, k *shop.Ticket, c quote.Consent) (*quote.Money, error) {
	if c.QuoteID == nil {
		return c.Limit, nil
	}
	list, err := quotesOf(ctx, t, k.ID)
	if err != nil {
		return nil, err
	}
	for i, v := range list {
		if v.ID != *c.QuoteID {
			continue
		}
		for _, newer := range list[:i] {
			if newer.SentAt != nil {
				return nil, fault.New(fault.Conflict, "Version %d of the quote was sent since. Make sure which one the customer answered.", newer.Number)
			}
		}
		if v.SentAt == nil {
			return nil, fault.New(fault.Conflict, "This quote is still a draft. Send it before you record an answer to it.")
		}
		totals, err := quote.Sum(v.Lines, v.Currency)
		if err != nil || c.Answer != quote.Yes || c.About != quote.AboutRepair {
			return c.Limit, err
		}
		if k.Limit != nil && k.Limit.Currency == v.Currency && k.Limit.Minor >= totals.Gross.Minor {
			return nil, nil
		}
		return &totals.Gross, nil
	}
	return nil, missing(pgx.ErrNoRows, "There is no such quote on this ticket.")
}

func insertConsent(ctx context.Context, t *tx, c quote.Consent) error {
	minor, code := amount(c.Limit)
	_, err := t.Exec(ctx, `INSERT INTO consent (id, ticket_id, quote_id, about, text_shown, who, answer, limit_minor, currency,
			way, answered_at, person_id, recorded_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		c.ID, c.TicketID, c.QuoteID, c.About, c.TextShown, c.Who, c.Answer, minor, code,
		c.Way, c.AnsweredAt, c.PersonID, c.RecordedAt)
	return err
}

// noteConsent sets the limit that follows from an answer and writes both down.
func noteConsent(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, c quote.Consent, limit *quote.Money) error {
	change := journal.Change{New: string(c.Answer), Note: c.Who + ", " + c.Way + ": " + c.About, Subject: &c.ID}
	if err := note(ctx, t, by, k, journal.Answered, change); err != nil || limit == nil {
		return err
	}
	old := limitWords(k.Limit)
	k.Limit = limit
	if err := storeLimit(ctx, t, k); err != nil {
		return err
	}
	return note(ctx, t, by, k, journal.Limit, journal.Change{Field: "limit", Old: old, New: limitWords(limit), Subject: &c.ID})
}
