package postgres

import (
	"context"
	"errors"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// TakeIn stores customer (known or new), board (known again by serial or tag)
// and ticket with the site's next number. A board that was here before makes the
// ticket a comeback, unless told otherwise; one that is here now is fault.Conflict.
// An intake whose TicketID is stored already gives that ticket and changes
// nothing when it says the same: it is a form sent twice. When it says something
// else it is fault.Conflict: a form that somebody went back to.
func (s *Store) TakeIn(ctx context.Context, by staff.Actor, in shop.Intake) (shop.Ticket, error) {
	if err := allowed(by, staff.TakeIn); err != nil {
		return shop.Ticket{}, err
	}
	if err := in.Check(); err != nil {
		return shop.Ticket{}, err
	}
	var k shop.Ticket
	err := s.within(ctx, "take in", func(t *tx) error {
		if stored, err := takenInBefore(ctx, t, by, in); err != nil || stored != nil {
			if stored != nil {
				k = *stored
			}
			return err
		}
		site, err := siteOf(ctx, t, by.Site)
		if err != nil {
			return err
		}
		c, err := takeCustomer(ctx, t, in)
		if err != nil {
			return err
		}
		b, otherwise, err := takeBoard(ctx, t, in)
		if err != nil {
			return err
		}
		k = newTicket(t, site, in, c, b)
		k.ID = in.TicketID
		if err := placeTicket(ctx, t, &k, b, in.NotAComeback); err != nil {
			return err
		}
		if err := insertTicket(ctx, t, k, site.Currency); err != nil {
			return err
		}
		change := journal.Change{Note: "taken in from " + c.Name}
		if otherwise != "" {
			change = journal.Change{Field: "revision", Old: strings.TrimSpace(b.FamilyName + " " + b.RevisionName),
				New: otherwise, Note: "read at the counter; the board is known as something else"}
		}
		return note(ctx, t, by, &k, journal.TakenIn, change)
	})
	return k, err
}

// takenInBefore gives the ticket that an intake's key names already; nil when
// there is none. It makes a second intake with the same key wait for the first.
func takenInBefore(ctx context.Context, t *tx, by staff.Actor, in shop.Intake) (*shop.Ticket, error) {
	if in.TicketID == uuid.Nil {
		return nil, nil
	}
	if _, err := t.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended($1, 0))`, "intake "+in.TicketID.String()); err != nil {
		return nil, err
	}
	k, err := one[shop.Ticket](ctx, t, ticketSelect+`WHERE t.id = $1`, in.TicketID)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return nil, nil
	case err != nil:
		return nil, err
	case k.SiteID != by.Site:
		return nil, fault.New(fault.Conflict, "This form was used before. Nothing was stored; send it once more.")
	}
	c, errCustomer := customerOf(ctx, t, k.CustomerID, "")
	b, errBoard := boardOf(ctx, t, k.BoardID)
	if err := errors.Join(errCustomer, errBoard); err != nil {
		return nil, err
	}
	if !in.Says(k, c, b) {
		return nil, fault.New(fault.Conflict, "This form has stored ticket %d already; what it says now was not stored. "+
			"If this is another board, take it in once more. If it is the same one, correct ticket %d.", k.Number, k.Number)
	}
	return &k, nil
}

// takeCustomer finds the known customer or enters the new one.
func takeCustomer(ctx context.Context, t *tx, in shop.Intake) (shop.Customer, error) {
	if in.CustomerID == nil {
		return insertCustomer(ctx, t, shop.Customer{Name: in.Name, Phone: in.Phone, Email: in.Email})
	}
	c, err := customerOf(ctx, t, *in.CustomerID, "FOR SHARE")
	if err == nil && c.ErasedAt != nil {
		return c, fault.Field("customer", "This customer’s data were erased. Enter the customer anew.")
	}
	return c, onField(err, "customer")
}

// newTicket fills a ticket from the intake; the customer's standing limit counts
// where none was given.
func newTicket(t *tx, site shop.Site, in shop.Intake, c shop.Customer, b shop.Board) shop.Ticket {
	k := shop.Ticket{
		SiteID: site.ID, BoardID: b.ID, CustomerID: c.ID, State: shop.TakenIn, StateSince: t.now,
		PromisedOn: in.PromisedOn, Bay: strings.TrimSpace(in.Bay), Limit: in.Limit,
		Complaint: strings.TrimSpace(in.Complaint), WhenHappens: in.WhenHappens, Indication: in.Indication,
		Condition: in.Condition, Accessories: in.Accessories, TouchedBefore: in.TouchedBefore,
		IfNotRepaired: in.IfNotRepaired, TakenInAt: t.now,
	}
	if k.Limit == nil && !in.AskFirst {
		k.Limit = c.StandingLimit
	}
	return k
}

// placeTicket gives the ticket key, number, profile, and its earlier ticket.
func placeTicket(ctx context.Context, t *tx, k *shop.Ticket, b shop.Board, notAComeback bool) (err error) {
	if err := linkComeback(ctx, t, k, notAComeback); err != nil {
		return err
	}
	if b.RevisionID != nil {
		r, err := revisionOf(ctx, t, *b.RevisionID)
		if err != nil {
			return err
		}
		k.ProfileVersionID = r.ProfileVersionID
	}
	if k.ID == uuid.Nil {
		if k.ID, err = newID(); err != nil {
			return err
		}
	}
	k.Number, err = number(ctx, t, k.SiteID, "ticket")
	return err
}

// linkComeback finds the board's last ticket: an open one means that the board
// is here already, an ended one that it comes back.
func linkComeback(ctx context.Context, t *tx, k *shop.Ticket, not bool) error {
	type earlier struct {
		ID     uuid.UUID
		SiteID uuid.UUID
		Shop   string
		Number int64
		State  shop.State
	}
	list, err := many[earlier](ctx, t, `SELECT t.id, t.site_id, s.name AS shop, t.number, t.state
		FROM ticket t JOIN site s ON s.id = t.site_id
		WHERE t.board_id = $1 AND t.voided_at IS NULL ORDER BY t.taken_in_at DESC, t.id DESC LIMIT 1`, k.BoardID)
	if err != nil || len(list) == 0 {
		return err
	}
	last := list[0]
	switch {
	case !last.State.Ended() && last.SiteID != k.SiteID:
		return fault.New(fault.Conflict, "This board is at %s, as ticket %d there (%s).", last.Shop, last.Number, last.State.Title())
	case !last.State.Ended():
		return fault.New(fault.Conflict, "This board is here already, as ticket %d (%s).", last.Number, last.State.Title())
	case not:
		return nil
	}
	k.ComebackOf = &last.ID
	if last.SiteID == k.SiteID {
		k.ComebackNumber = &last.Number
	}
	return nil
}

func insertTicket(ctx context.Context, t *tx, k shop.Ticket, siteCurrency string) error {
	minor, code := amount(k.Limit)
	if code == nil {
		code = &siteCurrency
	}
	_, err := t.Exec(ctx, `INSERT INTO ticket (id, site_id, number, board_id, customer_id, state, state_since, comeback_of,
			profile_version_id, promised_on, bay, limit_minor, currency, complaint, when_happens, indication, condition,
			accessories, touched_before, if_not_repaired, version, taken_in_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22)`,
		k.ID, k.SiteID, k.Number, k.BoardID, k.CustomerID, k.State, k.StateSince, k.ComebackOf,
		k.ProfileVersionID, k.PromisedOn, k.Bay, minor, code, k.Complaint, k.WhenHappens, k.Indication, k.Condition,
		k.Accessories, k.TouchedBefore, k.IfNotRepaired, k.Version, k.TakenInAt)
	if violates(err, codeUnique, "ticket_open_board") {
		return fault.New(fault.Conflict, "This board is here already. Search for its serial number.")
	}
	return err
}
