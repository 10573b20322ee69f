package postgres

import (
	"context"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// maxStory bounds each list of a story; a job has some tens of each.
const maxStory = 5000

// TicketByNumber gives a ticket's whole story.
func (s *Store) TicketByNumber(ctx context.Context, by staff.Actor, number int64) (st shop.Story, err error) {
	err = s.reading(ctx, opf("ticket %d", number), func(t *tx) error {
		st, err = storyWhere(ctx, t, `WHERE t.site_id = $1 AND t.number = $2`, by.Site, number)
		return err
	})
	return st, err
}

// TicketByID gives a ticket's whole story by its key.
func (s *Store) TicketByID(ctx context.Context, by staff.Actor, id uuid.UUID) (st shop.Story, err error) {
	err = s.reading(ctx, opf("ticket %s", id), func(t *tx) error {
		st, err = storyWhere(ctx, t, `WHERE t.site_id = $1 AND t.id = $2`, by.Site, id)
		return err
	})
	return st, err
}

func storyWhere(ctx context.Context, t *tx, where string, args ...any) (st shop.Story, err error) {
	if st.Ticket, err = one[shop.Ticket](ctx, t, ticketSelect+where, args...); err != nil {
		return st, missing(err, "There is no such ticket.")
	}
	if st.Customer, err = customerOf(ctx, t, st.Ticket.CustomerID, ""); err != nil {
		return st, err
	}
	if st.Board, err = boardOf(ctx, t, st.Ticket.BoardID); err != nil {
		return st, err
	}
	if st.NewBoard, err = newBoardPrice(ctx, t, st.Board); err != nil {
		return st, err
	}
	for _, load := range []func(context.Context, *tx, *shop.Story) error{
		loadJournal, loadReadings, loadWork, loadOverrules, loadGate, loadQuotes, loadPapers, loadBefore,
	} {
		if err := load(ctx, t, &st); err != nil {
			return st, err
		}
	}
	return st, nil
}

// newBoardPrice gives what a new board of the family costs fitted, nil when that
// is not known.
func newBoardPrice(ctx context.Context, t *tx, b shop.Board) (*quote.Money, error) {
	if b.FamilyID == nil {
		return nil, nil
	}
	var price *quote.Money
	err := t.QueryRow(ctx, `SELECT new_board_minor::text || ' ' || new_board_currency FROM family WHERE id = $1`,
		*b.FamilyID).Scan(&price)
	return price, err
}

func loadJournal(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.Entries, err = many[journal.Entry](ctx, t, `SELECT e.id, e.ticket_id, e.ticket_version, e.kind, e.change, e.person_id,
			p.name AS person_name, e.device_id, e.taken_at, e.received_at
		FROM ticket_event e JOIN person p ON p.id = e.person_id
		WHERE e.ticket_id = $1 ORDER BY e.ticket_version LIMIT $2`, st.Ticket.ID, maxStory)
	return err
}

func loadReadings(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.Readings, err = many[evidence.Reading](ctx, t, `SELECT `+readingColumns+`,
			CASE WHEN s.reading_id IS NOT NULL THEN jsonb_build_object(
				'ReadingID', s.reading_id, 'Reason', s.reason, 'PersonID', s.person_id, 'At', s.at) END AS struck
		FROM reading r LEFT JOIN strike s ON s.reading_id = r.id
		WHERE r.ticket_id = $1 ORDER BY r.taken_at, r.id LIMIT $2`, st.Ticket.ID, maxStory)
	return err
}

func loadWork(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.Findings, err = many[evidence.Finding](ctx, t, `SELECT f.id, f.ticket_id, f.part, f.mode, f.words, f.confirmed_by, f.taken_at,
			w.at AS withdrawn_at, COALESCE(w.reason, '') AS withdrawn_reason
		FROM finding f LEFT JOIN finding_withdrawal w ON w.finding_id = f.id
		WHERE f.ticket_id = $1 ORDER BY f.taken_at, f.id LIMIT $2`, st.Ticket.ID, maxStory)
	if err != nil {
		return err
	}
	st.Fitted, err = many[evidence.Fitted](ctx, t, `SELECT id, ticket_id, part, what, note, person_id, taken_at
		FROM fitted WHERE ticket_id = $1 ORDER BY taken_at, id LIMIT $2`, st.Ticket.ID, maxStory)
	if err != nil {
		return err
	}
	st.Seen, err = many[evidence.Seen](ctx, t, `SELECT id, ticket_id, part, what, note, person_id, taken_at
		FROM seen WHERE ticket_id = $1 ORDER BY taken_at, id LIMIT $2`, st.Ticket.ID, maxStory)
	return err
}

func loadGate(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.DeadProofs, err = many[evidence.DeadProof](ctx, t, `SELECT `+proofColumns+`
		FROM dead_proof WHERE ticket_id = $1 ORDER BY read_at, id LIMIT $2`, st.Ticket.ID, maxStory)
	if err != nil {
		return err
	}
	st.Power, err = many[evidence.PowerEvent](ctx, t, `SELECT id, ticket_id, "on", hazardous, state, note, person_id, device_id, taken_at, received_at
		FROM power_event WHERE ticket_id = $1 ORDER BY taken_at, id LIMIT $2`, st.Ticket.ID, maxStory)
	return err
}

func loadQuotes(ctx context.Context, t *tx, st *shop.Story) (err error) {
	if st.Quotes, err = quotesOf(ctx, t, st.Ticket.ID); err != nil {
		return err
	}
	st.Consents, err = consentsOf(ctx, t, st.Ticket.ID)
	return err
}

func loadPapers(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.Documents, err = many[shop.Document](ctx, t, `SELECT `+documentColumns+`
		FROM document WHERE ticket_id = $1 ORDER BY created_at, id LIMIT $2`, st.Ticket.ID, maxStory)
	return err
}

func loadBefore(ctx context.Context, t *tx, st *shop.Story) (err error) {
	st.Before, err = many[shop.Summary](ctx, t, summarySelect+` FROM ticket t `+summaryJoins+`
		WHERE t.board_id = $1 AND t.id <> $2 AND t.voided_at IS NULL
		ORDER BY t.taken_in_at DESC, t.id DESC LIMIT $3`, st.Ticket.BoardID, st.Ticket.ID, maxHits)
	return err
}
