package postgres

import (
	"context"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// Move takes a ticket to another state. seen is the version of the ticket that
// the person saw: a move made since by somebody else is fault.Conflict (other
// changes, readings say, do not disturb). A step that does not exist or lacks
// what it needs is fault.Conflict too, a missing reason fault.Invalid on "reason".
func (s *Store) Move(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, to shop.State, reason string) (k shop.Ticket, err error) {
	err = s.within(ctx, opf("move %s to %s", ticket, to), func(t *tx) error {
		locked, err := lockTicket(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		if err := unchanged(ctx, t, locked, seen, "state", "state"); err != nil {
			return err
		}
		facts, err := factsOf(ctx, t, locked)
		if err != nil {
			return err
		}
		facts.Reason = reason
		if err := shop.Step(by, locked.State, to, facts); err != nil {
			return err
		}
		err = moveTo(ctx, t, by, locked, to, journal.Moved, strings.TrimSpace(reason))
		k = *locked
		return err
	})
	return k, err
}

// factsOf gathers what a step's needs are held against: answers written down
// since the ticket entered its state, a yes to scrapping at any time.
func factsOf(ctx context.Context, t *tx, k *shop.Ticket) (shop.Facts, error) {
	var f shop.Facts
	err := t.QueryRow(ctx, `SELECT
			COALESCE(bool_or(about = 'repair' AND answer IN ('yes', 'new_limit') AND recorded_at >= $2), false),
			COALESCE(bool_or(about = 'repair' AND answer = 'no' AND recorded_at >= $2), false),
			COALESCE((array_agg(answer ORDER BY answered_at DESC, id DESC) FILTER (WHERE about = 'scrap'))[1] = 'yes', false)
		FROM consent WHERE ticket_id = $1`, k.ID, k.StateSince).Scan(&f.Yes, &f.No, &f.ScrapYes)
	return f, err
}

// moveTo changes a locked ticket's state and writes it down.
func moveTo(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, to shop.State, kind journal.Kind, reason string) error {
	change := journal.Change{Field: "state", Old: string(k.State), New: string(to), Reason: reason}
	k.State, k.StateSince = to, t.now
	_, err := t.Exec(ctx, `UPDATE ticket SET state = $2, state_since = $3 WHERE id = $1`, k.ID, k.State, k.StateSince)
	if violates(err, codeUnique, "ticket_open_board") {
		return fault.New(fault.Conflict, "This board is here again under a newer ticket. Work on that one.")
	}
	if err != nil {
		return err
	}
	return note(ctx, t, by, k, kind, change)
}

// Correct changes fields of a ticket, each with old, new and reason in the
// journal. A correction of the same field since seen is fault.Conflict.
func (s *Store) Correct(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, fixes ...shop.Correction) (k shop.Ticket, err error) {
	for _, c := range fixes {
		if err := c.Check(); err != nil {
			return k, err
		}
	}
	err = s.within(ctx, opf("correct %s", ticket), func(t *tx) error {
		locked, err := lockTicket(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		for _, c := range fixes {
			if err := c.Allowed(by, locked.State); err != nil {
				return err
			}
			if err := unchanged(ctx, t, locked, seen, c.Field, shop.FieldWords(c.Field)); err != nil {
				return err
			}
			if err := correct(ctx, t, by, locked, c); err != nil {
				return err
			}
			seen = max(seen, locked.Version) // our own change is no surprise
		}
		k, err = one[shop.Ticket](ctx, t, ticketSelect+`WHERE t.id = $1`, ticket)
		return err
	})
	return k, err
}

// textField points at a ticket's text by the name of its column.
func textField(k *shop.Ticket, field string) *string {
	return map[string]*string{
		"complaint": &k.Complaint, "when_happens": &k.WhenHappens, "indication": &k.Indication,
		"condition": &k.Condition, "accessories": &k.Accessories, "touched_before": &k.TouchedBefore,
		"if_not_repaired": &k.IfNotRepaired, "bay": &k.Bay,
	}[field]
}

// correct makes one correction, already checked.
func correct(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, c shop.Correction) (err error) {
	change := journal.Change{Field: c.Field, New: c.New, Reason: strings.TrimSpace(c.Reason)}
	if text := textField(k, c.Field); text != nil {
		change.Old, *text = *text, c.New
		// the name comes from the map above, never from outside
		_, err = t.Exec(ctx, `UPDATE ticket SET `+c.Field+` = $2 WHERE id = $1`, k.ID, c.New)
	} else {
		switch c.Field {
		case "state":
			return moveTo(ctx, t, by, k, shop.State(c.New), journal.Corrected, change.Reason)
		case "promised_on":
			change.Old, err = setPromised(ctx, t, k, c.New)
		case "limit":
			change.Old, change.New, err = setLimit(ctx, t, k, c.New)
		case "serial":
			change.Old, err = setSerial(ctx, t, k, c.New)
		case "customer":
			change.Old, change.New, err = setCustomer(ctx, t, k, c.New)
		}
	}
	if err != nil {
		return err
	}
	return note(ctx, t, by, k, journal.Corrected, change)
}

func setPromised(ctx context.Context, t *tx, k *shop.Ticket, day string) (old string, err error) {
	if k.PromisedOn != nil {
		old = k.PromisedOn.Format(time.DateOnly)
	}
	k.PromisedOn = nil
	if day != "" {
		d, err := time.Parse(time.DateOnly, day)
		if err != nil {
			return old, err
		}
		k.PromisedOn = &d
	}
	_, err = t.Exec(ctx, `UPDATE ticket SET promised_on = $2 WHERE id = $1`, k.ID, k.PromisedOn)
	return old, err
}

// setLimit corrects the authorised limit, in minor units of the shop's currency;
// "" means that the customer is asked first.
func setLimit(ctx context.Context, t *tx, k *shop.Ticket, minor string) (old, now string, err error) {
	old, now = limitWords(k.Limit), ""
	k.Limit = nil
	if minor != "" {
		n, err := strconv.ParseInt(minor, 10, 64)
		if err != nil {
			return old, now, err
		}
		site, err := siteOf(ctx, t, k.SiteID)
		if err != nil {
			return old, now, err
		}
		k.Limit = &quote.Money{Minor: n, Currency: site.Currency}
	}
	return old, limitWords(k.Limit), storeLimit(ctx, t, k)
}

func storeLimit(ctx context.Context, t *tx, k *shop.Ticket) error {
	n, code := amount(k.Limit)
	_, err := t.Exec(ctx, `UPDATE ticket SET limit_minor = $2, currency = COALESCE($3, currency) WHERE id = $1`, k.ID, n, code)
	return err
}

func limitWords(m *quote.Money) string {
	if m == nil {
		return "ask first"
	}
	return m.String()
}

// setSerial corrects the serial number of the ticket's board.
func setSerial(ctx context.Context, t *tx, k *shop.Ticket, serial string) (old string, err error) {
	if err := t.QueryRow(ctx, `SELECT serial FROM board WHERE id = $1 FOR NO KEY UPDATE`, k.BoardID).Scan(&old); err != nil {
		return old, err
	}
	_, err = t.Exec(ctx, `UPDATE board SET serial = $2, serial_key = $3 WHERE id = $1`,
		k.BoardID, strings.TrimSpace(serial), shop.SerialKey(serial))
	return old, err
}

// setCustomer gives the ticket to another customer; the journal keeps names and
// not keys.
func setCustomer(ctx context.Context, t *tx, k *shop.Ticket, id string) (old, now string, err error) {
	key, err := uuid.Parse(id)
	if err != nil {
		return old, now, err
	}
	before, err := customerOf(ctx, t, k.CustomerID, "")
	if err != nil {
		return old, now, err
	}
	after, err := customerOf(ctx, t, key, "FOR SHARE")
	if err != nil {
		return old, now, onField(err, "customer")
	}
	k.CustomerID = key
	_, err = t.Exec(ctx, `UPDATE ticket SET customer_id = $2 WHERE id = $1`, k.ID, key)
	return before.Name, after.Name, err
}

// Void takes a ticket out of every list, with a reason; its number stays used.
// Any change since seen is fault.Conflict: there may be work on it.
func (s *Store) Void(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, reason string) error {
	if err := allowed(by, staff.VoidTickets); err != nil {
		return err
	}
	if err := shop.CheckReason(reason); err != nil {
		return err
	}
	return s.within(ctx, opf("void %s", ticket), func(t *tx) error {
		k, err := lockTicket(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		if k.Version > seen {
			return fault.New(fault.Conflict, "Ticket %d was changed in the meantime. Look at it again before you void it.", k.Number)
		}
		reason = strings.TrimSpace(reason)
		if _, err := t.Exec(ctx, `UPDATE ticket SET voided_at = $2, void_reason = $3 WHERE id = $1`, k.ID, t.now, reason); err != nil {
			return err
		}
		return note(ctx, t, by, k, journal.Voided, journal.Change{Reason: reason})
	})
}

// AssignRevision says which revision the ticket's board is, with a reason, and
// pins the revision's newest profile to the ticket. uuid.Nil: not known after all.
func (s *Store) AssignRevision(ctx context.Context, by staff.Actor, ticket, revision uuid.UUID, reason string) (k shop.Ticket, err error) {
	if err := allowed(by, staff.TakeIn); err != nil {
		return k, err
	}
	if err := shop.CheckReason(reason); err != nil {
		return k, err
	}
	err = s.within(ctx, opf("assign revision to %s", ticket), func(t *tx) error {
		locked, err := lockTicket(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		err = assign(ctx, t, by, locked, revision, strings.TrimSpace(reason))
		k = *locked
		return err
	})
	return k, err
}

func assign(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, revision uuid.UUID, reason string) error {
	b, err := boardOf(ctx, t, k.BoardID)
	if err != nil {
		return err
	}
	change := journal.Change{Field: "revision", Old: strings.TrimSpace(b.FamilyName + " " + b.RevisionName), Reason: reason}
	family, rev := b.FamilyID, (*uuid.UUID)(nil)
	k.ProfileVersionID = nil
	if revision != uuid.Nil {
		r, err := revisionOf(ctx, t, revision)
		if err != nil {
			return onField(err, "revision")
		}
		family, rev, k.ProfileVersionID = &r.FamilyID, &r.ID, r.ProfileVersionID
		change.New = r.FamilyName + " " + r.Name
	}
	if _, err := t.Exec(ctx, `UPDATE board SET family_id = $2, revision_id = $3 WHERE id = $1`, k.BoardID, family, rev); err != nil {
		return err
	}
	if _, err := t.Exec(ctx, `UPDATE ticket SET profile_version_id = $2 WHERE id = $1`, k.ID, k.ProfileVersionID); err != nil {
		return err
	}
	return note(ctx, t, by, k, journal.Revision, change)
}
