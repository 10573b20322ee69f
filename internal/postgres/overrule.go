package postgres

import (
	"context"
	"strings"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// AddOverrule stores that somebody knows better than the analysis. The same one
// again is stored once, by its ID; another one with that ID, or one that was
// withdrawn, is fault.Conflict, and so is a second one that stands on the same part
// or reading.
func (s *Store) AddOverrule(ctx context.Context, by staff.Actor, o evidence.Overrule) (evidence.Overrule, error) {
	o.Part, o.Reason = strings.TrimSpace(o.Part), strings.TrimSpace(o.Reason)
	if err := o.Check(); err != nil {
		return o, err
	}
	o.PersonID = by.Person
	err := s.onBench(ctx, opf("overrule on %s", o.TicketID), by, o.TicketID, func(t *tx, k *shop.Ticket) error {
		if err := identify(&o.ID, &o.TakenAt, t.now); err != nil {
			return err
		}
		subject := o.Part
		if o.ReadingID != nil {
			subject = ""
			if err := t.QueryRow(ctx, `SELECT COALESCE(NULLIF(across, ''), red) FROM reading WHERE id = $1 AND ticket_id = $2`,
				*o.ReadingID, o.TicketID).Scan(&subject); err != nil {
				return missing(err, "There is no such reading on this ticket.")
			}
		}
		done, err := t.Exec(ctx, `INSERT INTO overrule (id, ticket_id, part, reading_id, verdict, reason, person_id, taken_at)
			SELECT $1, $2, $3, $4, $5, $6, $7, $8 WHERE NOT EXISTS (SELECT 1 FROM overrule o WHERE o.ticket_id = $2
				AND o.part = $3 AND o.reading_id IS NOT DISTINCT FROM $4
				AND NOT EXISTS (SELECT 1 FROM overrule_withdrawal x WHERE x.overrule_id = o.id))
			ON CONFLICT (id) DO NOTHING`,
			o.ID, o.TicketID, o.Part, o.ReadingID, o.Verdict, o.Reason, by.Person, o.TakenAt)
		if err != nil {
			return err
		}
		if done.RowsAffected() == 0 {
			return onceMore(ctx, t, `overrule w WHERE id = $1 AND ticket_id = $2 AND part = $3 AND reading_id IS NOT DISTINCT FROM $4
				AND verdict = $5 AND reason = $6 AND NOT EXISTS (SELECT 1 FROM overrule_withdrawal x WHERE x.overrule_id = w.id)`,
				o.ID, o.TicketID, o.Part, o.ReadingID, o.Verdict, o.Reason)
		}
		change := journal.Change{New: string(o.Verdict), Note: subject, Reason: o.Reason, Subject: &o.ID}
		return noteAt(ctx, t, by, k, journal.Overruled, change, o.TakenAt)
	})
	return o, err
}

// WithdrawOverrule takes an overruling back, with a reason; it stays on record.
func (s *Store) WithdrawOverrule(ctx context.Context, by staff.Actor, ticket, overrule uuid.UUID, reason string) error {
	return s.withdraw(ctx, by, ticket, overrule, reason, withdrawal{table: "overrule", kind: journal.Reconsidered,
		twice: "This is withdrawn already.", none: "Nothing like this was overruled on this ticket."})
}

func loadOverrules(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.Overrules, err = many[evidence.Overrule](ctx, t, `SELECT o.id, o.ticket_id, o.part, o.reading_id, o.verdict, o.reason, o.person_id, o.taken_at,
			w.at AS withdrawn_at, COALESCE(w.reason, '') AS withdrawn_reason
		FROM overrule o LEFT JOIN overrule_withdrawal w ON w.overrule_id = o.id
		WHERE o.ticket_id = $1 ORDER BY o.taken_at, o.id LIMIT $2`, st.Ticket.ID, maxStory)
	return err
}
