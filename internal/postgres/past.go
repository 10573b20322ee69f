package postgres

import (
	"context"
	"strconv"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
	"ohmstead/internal/staff"
)

// standing is the condition on findings f that were not withdrawn.
const standing = ` NOT EXISTS (SELECT 1 FROM finding_withdrawal w WHERE w.finding_id = f.id) `

// causesSQL gives the causes on the newest tickets of a family that have any. How
// many stands in the statement, so that the server plans for that few.
var causesSQL = `SELECT f.ticket_id AS ticket, f.part, f.mode
	FROM (
		SELECT t.id FROM board b JOIN ticket t ON t.board_id = b.id
		WHERE b.family_id = $1 AND t.site_id = $2 AND t.id <> $3 AND t.voided_at IS NULL
			AND EXISTS (SELECT 1 FROM finding f WHERE f.ticket_id = t.id AND f.part <> '' AND f.mode <> '' AND ` + standing + `)
		ORDER BY t.taken_in_at DESC, t.id DESC LIMIT ` + strconv.Itoa(past.MostBoards) + `
	) k JOIN finding f ON f.ticket_id = k.id
	WHERE f.part <> '' AND f.mode <> '' AND ` + standing

// FamilyCauses gives what was confirmed on other tickets of a family in the
// actor's shop, of the newest past.MostBoards that have anything.
func (s *Store) FamilyCauses(ctx context.Context, by staff.Actor, family, except uuid.UUID) (list past.Causes, err error) {
	err = s.reading(ctx, opf("causes on family %s", family), func(t *tx) error {
		list, err = many[past.Cause](ctx, t, causesSQL, family, by.Site, except)
		return err
	})
	return list, err
}

// staysSQL gives the newest tickets of other boards of a family that showed the
// same, and that have ended or on which something was found.
var staysSQL = `SELECT k.number, k.state, COALESCE(r.name, '') AS revision, k.indication, k.taken_in_at,
		(SELECT jsonb_agg(jsonb_build_object('Part', f.part, 'Mode', f.mode, 'Words', f.words) ORDER BY f.taken_at, f.id)
			FROM finding f WHERE f.ticket_id = k.id AND ` + standing + `) AS findings,
		` + benchMinutes + ` AS minutes, q.currency,
		(SELECT jsonb_agg(jsonb_build_object('Quantity', l.quantity::text, 'UnitPrice', l.unit_price::text,
				'Tax', jsonb_build_object('Category', l.tax_category, 'Rate', l.tax_rate::text)) ORDER BY l.position)
			FROM quote_line l WHERE l.quote_id = q.id) AS lines,
		EXISTS (SELECT 1 FROM ticket c WHERE c.comeback_of = k.id AND c.voided_at IS NULL) AS back
	FROM (
		SELECT t.*, b.revision_id FROM board b JOIN ticket t ON t.board_id = b.id
		WHERE b.family_id = $1 AND t.site_id = $2 AND b.id <> $3 AND t.voided_at IS NULL
			AND ($4 OR lower(btrim(t.indication)) IN (SELECT lower(x) FROM unnest($5::text[]) x)
				OR $6 <> '' AND starts_with(lower(btrim(t.indication)), lower($6)))
			AND (t.state IN ('handed_over', 'returned_unrepaired', 'scrapped_with_consent')
				OR EXISTS (SELECT 1 FROM finding f WHERE f.ticket_id = t.id AND ` + standing + `))
		ORDER BY t.taken_in_at DESC, t.id DESC LIMIT ` + strconv.Itoa(past.MostStays) + `
	) k
	LEFT JOIN revision r ON r.id = k.revision_id
	LEFT JOIN LATERAL (
		SELECT v.id, v.currency FROM quote_version v
		CROSS JOIN LATERAL (SELECT EXISTS (SELECT 1 FROM consent c
			WHERE c.ticket_id = k.id AND c.quote_id = v.id AND c.about = 'repair' AND c.answer = 'yes') AS yes) a
		WHERE v.ticket_id = k.id AND v.sent_at IS NOT NULL AND (a.yes OR k.state = 'handed_over')
		ORDER BY a.yes DESC, v.number DESC LIMIT 1
	) q ON true
	ORDER BY k.taken_in_at DESC, k.id DESC`

// benchMinutes adds up the time between what was recorded of ticket k at the
// bench: readings, and what the journal has of the work there. A pause longer than
// $7, and the time after the board has left the bench, do not count.
const benchMinutes = `(SELECT round(EXTRACT(epoch FROM sum(gap)) / 60)::int FROM (
		SELECT CASE WHEN lag(leaves) OVER o THEN interval '0' ELSE d.at - lag(d.at) OVER o END AS gap
		FROM (
			SELECT taken_at AS at, false AS leaves, id FROM reading WHERE ticket_id = k.id
			UNION ALL
			SELECT taken_at, kind IN ('moved', 'corrected') AND change ->> 'new' <> 'on_the_bench', id FROM ticket_event
			WHERE ticket_id = k.id AND (kind IN ('dead_proof', 'power', 'struck', 'found', 'withdrawn', 'fitted', 'seen')
				OR kind IN ('moved', 'corrected') AND 'on_the_bench' IN (change ->> 'old', change ->> 'new'))
		) d WINDOW o AS (ORDER BY d.at, d.id)) g
	WHERE gap <= $7::interval)`

// stayRow is a stay with the lines of its quote still to be added up.
type stayRow struct {
	Number     int64
	State      shop.State
	Revision   string
	Indication string
	TakenInAt  time.Time
	Findings   []past.Finding
	Minutes    *int
	Currency   *string
	Lines      []quote.Line
	Back       bool
}

// stay adds the quote up. One that cannot be added up has no price.
func (r stayRow) stay() past.Stay {
	s := past.Stay{Number: r.Number, State: r.State, Revision: r.Revision, Indication: r.Indication, TakenInAt: r.TakenInAt,
		Findings: r.Findings, Minutes: r.Minutes, Back: r.Back}
	if r.Currency != nil && len(r.Lines) > 0 {
		if sum, err := quote.Sum(r.Lines, *r.Currency); err == nil {
			s.Price = &sum.Gross
		}
	}
	return s
}

// LikeStays gives how the last boards of a family that showed the same went in the
// actor's shop, newest first, at most past.MostStays: those that have ended, and
// open ones on which something was found.
func (s *Store) LikeStays(ctx context.Context, by staff.Actor, l past.Like) (list []past.Stay, err error) {
	err = s.reading(ctx, opf("stays of family %s", l.Family), func(t *tx) error {
		rows, err := many[stayRow](ctx, t, staysSQL, l.Family, by.Site, l.Board, l.Any(), l.Texts, l.Prefix, past.Pause)
		for _, r := range rows {
			list = append(list, r.stay())
		}
		return err
	})
	return list, err
}
