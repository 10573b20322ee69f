package postgres

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

const summarySelect = `SELECT t.id, t.site_id, t.number, t.state, t.state_since, t.customer_id, c.name AS customer_name, c.phone_digits,
		COALESCE(f.name, '') AS family_name, COALESCE(r.name, '') AS revision_name, b.serial, t.indication, t.complaint, t.bay,
		t.promised_on, t.taken_in_at, t.comeback_of IS NOT NULL AS comeback, t.version `

const summaryJoins = ` JOIN customer c ON c.id = t.customer_id JOIN board b ON b.id = t.board_id
	LEFT JOIN family f ON f.id = b.family_id LEFT JOIN revision r ON r.id = b.revision_id `

// The bounds of the lists.
const (
	maxHits = 50  // tickets found
	maxOpen = 500 // open tickets in one list
)

// hitSQL gathers the newest tickets of each customer and board found, and the
// one with the number.
const hitSQL = `WITH hit AS (
		SELECT id FROM ticket WHERE site_id = $1 AND number = $2
		UNION
		SELECT k.id FROM unnest($3::uuid[]) AS who(id) CROSS JOIN LATERAL (
			SELECT id FROM ticket WHERE customer_id = who.id ORDER BY taken_in_at DESC, id DESC LIMIT $5) k
		UNION
		SELECT k.id FROM unnest($4::uuid[]) AS what(id) CROSS JOIN LATERAL (
			SELECT id FROM ticket WHERE board_id = what.id ORDER BY taken_in_at DESC, id DESC LIMIT $5) k
	)
	` + summarySelect + ` FROM hit JOIN ticket t ON t.id = hit.id ` + summaryJoins + `
	WHERE t.site_id = $1 AND t.voided_at IS NULL
	ORDER BY t.number = $2 DESC, NOT (` + openOnly + `), t.taken_in_at DESC, t.number DESC LIMIT $5`

// Find finds tickets by number, phone digits, the beginning of serial or tag, or
// name; the ticket of that number first, then open ones, then newest first, at
// most 50.
func (s *Store) Find(ctx context.Context, by staff.Actor, query string) (list []shop.Summary, err error) {
	q := shop.ParseQuery(query)
	if q.Empty() {
		return nil, nil
	}
	err = s.reading(ctx, "find tickets", func(t *tx) error {
		customers, err := customersFor(ctx, t, q, maxHits)
		if err != nil {
			return err
		}
		var boards []uuid.UUID
		if q.Serial != "" {
			if boards, err = column[uuid.UUID](ctx, t, serialSQL, q.Serial, pastPrefix(q.Serial), maxHits); err != nil {
				return err
			}
		}
		list, err = many[shop.Summary](ctx, t, hitSQL, by.Site, q.Number, customers, boards, maxHits)
		return err
	})
	return list, err
}

const serialSQL = `(SELECT id FROM board WHERE serial_key <> '' AND serial_key >= $1 AND serial_key < $2
		ORDER BY serial_key LIMIT $3)
	UNION
	(SELECT id FROM board WHERE tag_key <> '' AND tag_key >= $1 AND tag_key < $2 ORDER BY tag_key LIMIT $3)
	LIMIT $3`

// openSQL walks the index of open tickets once for each state.
const openSQL = summarySelect + ` FROM unnest($2::text[]) WITH ORDINALITY AS s(state, place)
	CROSS JOIN LATERAL (SELECT * FROM ticket t WHERE t.site_id = $1 AND t.state = s.state AND ` + openOnly + `
		ORDER BY t.number LIMIT $3) t ` + summaryJoins + ` ORDER BY s.place, t.number LIMIT $3`

// OpenTickets lists what is in the shop, in the order of the states' list and
// then by number; no states means all open ones, ends are left out. At most 500;
// more tells whether there are others.
func (s *Store) OpenTickets(ctx context.Context, by staff.Actor, states ...shop.State) (list []shop.Summary, more bool, err error) {
	if len(states) == 0 {
		states = shop.States()
	}
	states = slices.DeleteFunc(slices.Clone(states), shop.State.Ended)
	err = s.reading(ctx, "list open tickets", func(t *tx) error {
		list, err = many[shop.Summary](ctx, t, openSQL, by.Site, states, maxOpen+1)
		return err
	})
	if len(list) > maxOpen {
		return list[:maxOpen], true, err
	}
	return list, false, err
}
