package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

const quoteColumns = `id, ticket_id, number, currency, note, created_at, sent_at, sent_by`

// versionRow is a version of a quote without its lines.
type versionRow struct {
	ID        uuid.UUID
	TicketID  uuid.UUID
	Number    int
	Currency  string
	Note      string
	CreatedAt time.Time
	SentAt    *time.Time
	SentBy    *uuid.UUID
}

func (r versionRow) version() quote.Version {
	return quote.Version{ID: r.ID, TicketID: r.TicketID, Number: r.Number, Currency: r.Currency,
		Note: r.Note, CreatedAt: r.CreatedAt, SentAt: r.SentAt, SentBy: r.SentBy}
}

// lineRow is a line as its table has it.
type lineRow struct {
	ID          uuid.UUID
	QuoteID     uuid.UUID
	Kind        quote.Kind
	Text        string
	Quantity    quote.Decimal
	UnitPrice   quote.Decimal
	TaxCategory string
	TaxRate     quote.Decimal
}

func (r lineRow) line() quote.Line {
	return quote.Line{ID: r.ID, Kind: r.Kind, Text: r.Text, Quantity: r.Quantity, UnitPrice: r.UnitPrice,
		Tax: quote.Tax{Category: r.TaxCategory, Rate: r.TaxRate}}
}

// quotesOf gives a ticket's quotes with their lines, newest first.
func quotesOf(ctx context.Context, t *tx, ticket uuid.UUID) ([]quote.Version, error) {
	rows, err := many[versionRow](ctx, t, `SELECT `+quoteColumns+` FROM quote_version
		WHERE ticket_id = $1 ORDER BY number DESC LIMIT $2`, ticket, maxStory)
	if err != nil {
		return nil, err
	}
	lines, err := many[lineRow](ctx, t, `SELECT l.id, l.quote_id, l.kind, l.text, l.quantity, l.unit_price, l.tax_category, l.tax_rate
		FROM quote_version v JOIN quote_line l ON l.quote_id = v.id
		WHERE v.ticket_id = $1 ORDER BY v.number DESC, l.position LIMIT $2`, ticket, maxStory)
	if err != nil {
		return nil, err
	}
	var list []quote.Version
	place := map[uuid.UUID]int{}
	for i, r := range rows {
		list = append(list, r.version())
		place[r.ID] = i
	}
	for _, l := range lines {
		if i, ok := place[l.QuoteID]; ok {
			list[i].Lines = append(list[i].Lines, l.line())
		}
	}
	return list, nil
}

// SaveQuote replaces the lines and note of the ticket's draft, beginning a new
// version when there is none or the last was sent. A change of the quote since
// seen is fault.Conflict; a bad line is fault.Invalid with fields "lines.N.FIELD".
func (s *Store) SaveQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, words string, lines []quote.Line) (v quote.Version, err error) {
	if err := allowed(by, staff.WriteQuotes); err != nil {
		return v, err
	}
	err = s.within(ctx, opf("save quote of %s", ticket), func(t *tx) error {
		k, err := lockOpen(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		if err := unchanged(ctx, t, k, seen, "quote", "quote"); err != nil {
			return err
		}
		if v, err = draftOf(ctx, t, by, k); err != nil {
			return err
		}
		v.Note, v.Lines = words, lines
		if err := storeDraft(ctx, t, &v); err != nil {
			return err
		}
		return note(ctx, t, by, k, journal.QuoteEdited, journal.Change{Field: "quote", Note: fmt.Sprintf("version %d", v.Number), Subject: &v.ID})
	})
	return v, err
}

// draftOf gives the ticket's draft, a new one when the last version was sent.
func draftOf(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket) (quote.Version, error) {
	list, err := quotesOf(ctx, t, k.ID)
	if err != nil {
		return quote.Version{}, err
	}
	v := quote.Version{TicketID: k.ID}
	if len(list) > 0 {
		if v = list[0]; v.SentAt == nil {
			return v, nil
		}
	}
	site, err := siteOf(ctx, t, k.SiteID)
	if err != nil {
		return v, err
	}
	v.Number, v.Currency, v.CreatedAt, v.SentAt, v.SentBy = v.Number+1, site.Currency, t.now, nil, nil
	if v.ID, err = newID(); err != nil {
		return v, err
	}
	_, err = t.Exec(ctx, `INSERT INTO quote_version (id, ticket_id, number, currency, note, created_at, created_by)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`, v.ID, v.TicketID, v.Number, v.Currency, v.Note, v.CreatedAt, by.Person)
	return v, err
}

// storeDraft checks and stores a draft's note and lines. A line keeps its key
// unless it was copied from a version that is frozen.
func storeDraft(ctx context.Context, t *tx, v *quote.Version) error {
	if err := v.Check(); err != nil {
		return err
	}
	if _, err := t.Exec(ctx, `UPDATE quote_version SET note = $2 WHERE id = $1`, v.ID, v.Note); err != nil {
		return err
	}
	mine, err := column[uuid.UUID](ctx, t, `DELETE FROM quote_line WHERE quote_id = $1 RETURNING id`, v.ID)
	if err != nil {
		return err
	}
	keep := map[uuid.UUID]bool{}
	for _, id := range mine {
		keep[id] = true
	}
	for i := range v.Lines {
		l := &v.Lines[i]
		if !keep[l.ID] {
			if l.ID, err = newID(); err != nil {
				return err
			}
		}
		delete(keep, l.ID)
		_, err := t.Exec(ctx, `INSERT INTO quote_line (id, quote_id, position, kind, text, quantity, unit_price, tax_category, tax_rate)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			l.ID, v.ID, i, l.Kind, l.Text, l.Quantity, l.UnitPrice, l.Tax.Category, l.Tax.Rate)
		if err != nil {
			return err
		}
	}
	return nil
}

// SendQuote freezes the draft and stores it as a numbered document, with its
// totals. A change of the quote since seen is fault.Conflict.
func (s *Store) SendQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64) (quote.Version, error) {
	var v quote.Version
	if err := allowed(by, staff.WriteQuotes); err != nil {
		return v, err
	}
	err := s.within(ctx, opf("send quote of %s", ticket), func(t *tx) error {
		k, err := lockOpen(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		if err := unchanged(ctx, t, k, seen, "quote", "quote"); err != nil {
			return err
		}
		list, err := quotesOf(ctx, t, ticket)
		if err != nil {
			return err
		}
		if len(list) == 0 || list[0].SentAt != nil || len(list[0].Lines) == 0 {
			return fault.New(fault.Conflict, "There is no draft with lines to send. Add a line first.")
		}
		v = list[0]
		v.SentAt, v.SentBy = &t.now, &by.Person
		return freeze(ctx, t, by, k, v)
	})
	return v, err
}

// freeze marks a version as sent and stores the paper.
func freeze(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, v quote.Version) error {
	if _, err := t.Exec(ctx, `UPDATE quote_version SET sent_at = $2, sent_by = $3 WHERE id = $1`, v.ID, v.SentAt, v.SentBy); err != nil {
		return err
	}
	totals, err := quote.Sum(v.Lines, v.Currency)
	if err != nil {
		return err
	}
	doc, err := insertDocument(ctx, t, by, k, "quote", func(int64) (any, error) {
		return quote.Offer{Version: v, Totals: totals}, nil
	})
	if err != nil {
		return err
	}
	return note(ctx, t, by, k, journal.QuoteSent, journal.Change{Field: "quote", New: totals.Gross.String(),
		Note: fmt.Sprintf("version %d, document %d", v.Number, doc.Number), Subject: &v.ID})
}
