package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// ticketSelect reads a ticket; the limit comes as "12000 EUR".
const ticketSelect = `SELECT t.id, t.site_id, t.number, t.board_id, t.customer_id, t.state, t.state_since,
		t.comeback_of, CASE WHEN e.site_id = t.site_id THEN e.number END AS comeback_number, t.profile_version_id, t.promised_on, t.bay,
		t.limit_minor::text || ' ' || t.currency AS "limit", t.complaint, t.when_happens, t.indication,
		t.condition, t.accessories, t.touched_before, t.if_not_repaired, t.version, t.taken_in_at,
		t.voided_at, t.void_reason
	FROM ticket t LEFT JOIN ticket e ON e.id = t.comeback_of `

// openOnly is the condition of the partial indexes on what is in the shop; a
// query has to repeat it word for word for them to serve.
const openOnly = ` t.voided_at IS NULL AND t.state NOT IN ('handed_over', 'returned_unrepaired', 'scrapped_with_consent') `

// lockTicket gives a ticket of the actor's site and keeps others from changing it
// until the transaction ends. A voided one is fault.Gone. The lock leaves rows
// that refer to the ticket alone: a comeback can be taken in meanwhile.
func lockTicket(ctx context.Context, t *tx, by staff.Actor, id uuid.UUID) (*shop.Ticket, error) {
	k, err := one[shop.Ticket](ctx, t, ticketSelect+`WHERE t.id = $1 AND t.site_id = $2 FOR NO KEY UPDATE OF t`, id, by.Site)
	if err != nil {
		return nil, missing(err, "There is no such ticket.")
	}
	if k.VoidedAt != nil {
		return nil, fault.New(fault.Gone, "Ticket %d was voided: %s", k.Number, k.VoidReason)
	}
	return &k, nil
}

// lockOpen is lockTicket for what can only be done while the board is here.
func lockOpen(ctx context.Context, t *tx, by staff.Actor, id uuid.UUID) (*shop.Ticket, error) {
	k, err := lockTicket(ctx, t, by, id)
	if err == nil && k.State.Ended() {
		return nil, fault.New(fault.Conflict, "Ticket %d has ended: %s. If that is wrong, correct its state first.", k.Number, k.State.Title())
	}
	return k, err
}

// note writes one entry into a locked ticket's journal: the ticket's version goes
// up by one, and whoever listens on channel "ticket" hears "id version" when the
// transaction commits.
func note(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, kind journal.Kind, c journal.Change) error {
	return noteAt(ctx, t, by, k, kind, c, t.now)
}

// noteAt is note for what a device did at a time of its own.
func noteAt(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, kind journal.Kind, c journal.Change, takenAt time.Time) error {
	id, err := newID()
	if err != nil {
		return err
	}
	k.Version++
	if _, err := t.Exec(ctx, `UPDATE ticket SET version = $2 WHERE id = $1`, k.ID, k.Version); err != nil {
		return err
	}
	_, err = t.Exec(ctx, `INSERT INTO ticket_event
		(id, ticket_id, ticket_version, kind, change, person_id, device_id, taken_at, received_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		id, k.ID, k.Version, kind, c, by.Person, by.Device, takenAt, t.now)
	if err != nil {
		return err
	}
	_, err = t.Exec(ctx, `SELECT pg_notify('ticket', $1)`, fmt.Sprintf("%s %d", k.ID, k.Version))
	return err
}

// unchanged refuses with fault.Conflict when somebody changed the same field of
// the ticket after the version that the person saw. Other changes, readings from
// a tablet above all, do not disturb.
func unchanged(ctx context.Context, t *tx, k *shop.Ticket, seen int64, field, words string) error {
	type other struct {
		Name string
		New  string
	}
	list, err := many[other](ctx, t, `SELECT p.name, COALESCE(e.change ->> 'new', '') AS new
		FROM ticket_event e JOIN person p ON p.id = e.person_id
		WHERE e.ticket_id = $1 AND e.ticket_version > $2 AND e.change ->> 'field' = $3
		ORDER BY e.ticket_version DESC LIMIT 1`, k.ID, seen, field)
	if err != nil || len(list) == 0 {
		return err
	}
	return fault.New(fault.Conflict, "%s changed the %s in the meantime. Look at the ticket again; nothing of yours was stored.", list[0].Name, words)
}

// number gives the next number of a series of the site. The series' row stays
// locked until the transaction ends: no number is lost, none comes twice.
func number(ctx context.Context, t *tx, site uuid.UUID, kind string) (n int64, err error) {
	err = t.QueryRow(ctx, `INSERT INTO document_series (site_id, kind, last) VALUES ($1, $2, 1)
		ON CONFLICT (site_id, kind) DO UPDATE SET last = document_series.last + 1 RETURNING last`, site, kind).Scan(&n)
	return n, err
}
