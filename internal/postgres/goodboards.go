package postgres

import (
	"context"
	"strconv"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/staff"
)

// mostGoodBoards is how many known-good boards of a revision are looked at, the
// newest.
const mostGoodBoards = 40

// goodReadingsSQL gives what the known-good boards of a revision read: boards that
// were handed over and are not known to have come back since, with the last
// reading at every place after the last part was fitted and the last cause was
// confirmed. What was struck out, taken in the air, of a part alone, still creeping,
// with charge left, or only agreed with the band, says nothing of a good board.
var goodReadingsSQL = `SELECT DISTINCT ON (r.ticket_id, r.state, r.measure, r.red, r.black, r.across, r.lifted, r.swapped)
		` + readingColumns + `, NULL::jsonb AS struck
	FROM (
		SELECT t.id, GREATEST((SELECT max(x.taken_at) FROM fitted x WHERE x.ticket_id = t.id),
			(SELECT max(f.taken_at) FROM finding f WHERE f.ticket_id = t.id AND ` + standing + `)) AS since
		FROM board b JOIN ticket t ON t.board_id = b.id
		WHERE b.revision_id = $1 AND t.site_id = $2 AND t.id <> $3 AND t.state = 'handed_over' AND t.voided_at IS NULL
			AND NOT EXISTS (SELECT 1 FROM ticket c WHERE c.board_id = t.board_id AND c.voided_at IS NULL
				AND (c.taken_in_at, c.id) > (t.taken_in_at, t.id))
			AND NOT EXISTS (SELECT 1 FROM ticket c WHERE c.comeback_of = t.id AND c.voided_at IS NULL)
		ORDER BY t.taken_in_at DESC, t.id DESC LIMIT ` + strconv.Itoa(mostGoodBoards) + `
	) k JOIN reading r ON r.ticket_id = k.id
	WHERE (k.since IS NULL OR r.taken_at >= k.since) AND r.meter_version_id IS NOT DISTINCT FROM $4
		AND (r.value IS NOT NULL OR r.over_range) AND r.subject = '' AND r.condition = '' AND r.moving = ''
		AND (r.residue IS NULL OR abs(r.residue) <= 0.1)
		AND NOT EXISTS (SELECT 1 FROM strike s WHERE s.reading_id = r.id)
	ORDER BY r.ticket_id, r.state, r.measure, r.red, r.black, r.across, r.lifted, r.swapped, r.taken_at DESC, r.id DESC`

// GoodReadings gives what known-good boards of a revision read in the actor's
// shop through one meter (nil: the built-in default), at most one reading of a
// board at each place as it was written; except is a ticket that does not count.
func (s *Store) GoodReadings(ctx context.Context, by staff.Actor, revision, except uuid.UUID, meter *uuid.UUID) (list []evidence.Reading, err error) {
	err = s.reading(ctx, opf("good boards of revision %s", revision), func(t *tx) error {
		list, err = many[evidence.Reading](ctx, t, goodReadingsSQL, revision, by.Site, except, meter)
		return err
	})
	return list, err
}
