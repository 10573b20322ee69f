package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgconn"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// MaxBatch is how many readings a device may send at once.
const MaxBatch = 500

const readingColumns = `r.id, r.ticket_id, r.stage, r.check_key, r.state, r.measure, r.red, r.black, r.across, r.lifted,
	r.swapped, r.subject, r.typed, r.value, r.over_range, r.agrees, r.band_low, r.band_high, r.moving, r.residue,
	r.condition, r.not_possible, r.meter_version_id, r.profile_version_id, r.person_id, r.device_id, r.device_seq,
	r.taken_at, r.taken_offset, r.received_at`

// StoreReadings keeps what a device sent as it came, then applies it, and says
// for each what became of it. Nothing is refused: what cannot be applied is Kept
// with its reason, in the table inbound. The same id with the same content is
// Already; with other content Kept. More than MaxBatch at once is fault.Invalid.
//
// The two steps are two transactions, so that what came is safe whatever happens
// while it is applied. by.Person sends; a reading may name another person who
// took it. An actor that is only a device (by.Person is zero) may send too, when
// each reading names its person.
func (s *Store) StoreReadings(ctx context.Context, by staff.Actor, ticket uuid.UUID, batch []evidence.Reading) ([]evidence.Receipt, error) {
	if err := allowed(by, staff.WorkOnBoards); err != nil {
		return nil, err
	}
	if len(batch) > MaxBatch {
		return nil, fault.New(fault.Invalid, "Send at most %d readings at once.", MaxBatch)
	}
	if len(batch) == 0 {
		return nil, nil
	}
	items := make([]arrival, len(batch))
	for i, r := range batch {
		items[i] = arrived(by, ticket, r)
	}
	err := s.within(ctx, opf("keep %d readings of %s", len(batch), ticket), func(t *tx) error {
		return keep(ctx, t, by, ticket, items)
	})
	if err != nil {
		return nil, err
	}
	var receipts []evidence.Receipt
	err = s.within(ctx, opf("apply %d readings of %s", len(batch), ticket), func(t *tx) error {
		receipts, err = apply(ctx, t, by, ticket, items)
		return err
	})
	return receipts, err
}

// arrival is one reading with what identifies its content.
type arrival struct {
	reading evidence.Reading
	raw     []byte
	digest  []byte
}

// arrived fills in what the sender left to us and takes the content's digest.
func arrived(by staff.Actor, ticket uuid.UUID, r evidence.Reading) arrival {
	r.TicketID, r.ReceivedAt, r.Struck = ticket, time.Time{}, nil
	if r.Stage == "" {
		r.Stage = evidence.StageBefore
	}
	if r.PersonID == uuid.Nil {
		r.PersonID = by.Person
	}
	if r.DeviceID == nil {
		r.DeviceID = by.Device
	}
	r.TakenAt = r.TakenAt.UTC().Truncate(time.Microsecond)
	raw, err := json.Marshal(r)
	if err != nil { // a number that JSON does not know: Check will say so
		raw = fmt.Appendf(nil, "%q", fmt.Sprintf("%+v", r))
	}
	sum := sha256.Sum256(raw)
	return arrival{reading: r, raw: raw, digest: sum[:]}
}

func keep(ctx context.Context, t *tx, by staff.Actor, ticket uuid.UUID, items []arrival) error {
	var sender *uuid.UUID
	if by.Person != uuid.Nil {
		sender = &by.Person
	}
	for _, it := range items {
		id, err := newID()
		if err != nil {
			return err
		}
		_, err = t.Exec(ctx, `INSERT INTO inbound (id, item_id, digest, ticket_id, device_id, device_seq, person_id, raw, received_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (item_id, digest) DO NOTHING`,
			id, it.reading.ID, it.digest, ticket, it.reading.DeviceID, it.reading.DeviceSeq, sender, string(it.raw), t.now)
		if err != nil {
			return err
		}
	}
	return nil
}

// apply turns what was kept into readings. Only a fault of the database stops it.
func apply(ctx context.Context, t *tx, by staff.Actor, ticket uuid.UUID, items []arrival) ([]evidence.Receipt, error) {
	k, err := lockTicket(ctx, t, by, ticket)
	if err != nil && fault.KindOf(err) == fault.Internal {
		return nil, err
	}
	noTicket := err
	var receipts []evidence.Receipt
	var first *evidence.Reading
	stored := 0
	for i := range items {
		outcome, why := evidence.Kept, noTicket
		if why == nil {
			outcome, why = applyOne(ctx, t, k, items[i])
		}
		if why != nil && fault.KindOf(why) == fault.Internal {
			return nil, why
		}
		if err := settle(ctx, t, items[i], outcome, why); err != nil {
			return nil, err
		}
		if outcome == evidence.Stored {
			stored++
			if first == nil {
				first = &items[i].reading
			}
		}
		receipts = append(receipts, receipt(items[i].reading.ID, outcome, why))
	}
	if stored == 0 {
		return receipts, nil
	}
	return receipts, noteReadings(ctx, t, by, k, *first, stored)
}

func receipt(id uuid.UUID, o evidence.Outcome, why error) evidence.Receipt {
	r := evidence.Receipt{ID: id, Outcome: o}
	if why != nil {
		r.Text = fault.Text(why)
	}
	return r
}

// noteReadings writes one journal entry for a batch, in the name of who took the
// first of them when a device sent it by itself.
func noteReadings(ctx context.Context, t *tx, by staff.Actor, k *shop.Ticket, first evidence.Reading, n int) error {
	if by.Person == uuid.Nil {
		by.Person = first.PersonID
	}
	text := "1 reading"
	if n > 1 {
		text = fmt.Sprintf("%d readings", n)
	}
	return noteAt(ctx, t, by, k, journal.Readings, journal.Change{Note: text, Subject: &first.ID}, first.TakenAt)
}

// applyOne stores one reading under a savepoint, so that one that the database
// refuses does not take the others with it.
func applyOne(ctx context.Context, t *tx, k *shop.Ticket, it arrival) (evidence.Outcome, error) {
	if err := it.reading.Check(); err != nil {
		return evidence.Kept, err
	}
	point, err := t.Begin(ctx)
	if err != nil {
		return evidence.Kept, err
	}
	isNew, err := insertReading(ctx, &tx{Tx: point, now: t.now}, k, it.reading)
	if err != nil {
		if back := point.Rollback(ctx); back != nil {
			return evidence.Kept, errors.Join(err, back)
		}
		return evidence.Kept, refused(err)
	}
	if err := point.Commit(ctx); err != nil {
		return evidence.Kept, err
	}
	if isNew {
		return evidence.Stored, nil
	}
	return known(ctx, t, it)
}

// refused tells the database's refusal of a reading's content, which is kept for
// a person to look at, from trouble that has nothing to do with it.
func refused(err error) error {
	var pg *pgconn.PgError
	switch {
	case violates(err, codeForeign, ""):
		return fault.Wrap(err, fault.Invalid, "The reading names a person, device, meter or profile that is not known here.")
	case errors.As(err, &pg) && (strings.HasPrefix(pg.Code, "22") || strings.HasPrefix(pg.Code, "23")): // data, integrity
		return fault.Wrap(err, fault.Invalid, "The reading holds something that cannot be stored.")
	}
	return err
}

// known tells whether a reading whose id is taken is the very same one.
func known(ctx context.Context, t *tx, it arrival) (evidence.Outcome, error) {
	var same bool
	err := t.QueryRow(ctx, `SELECT applied_at IS NOT NULL FROM inbound WHERE item_id = $1 AND digest = $2`,
		it.reading.ID, it.digest).Scan(&same)
	if err != nil {
		return evidence.Kept, err
	}
	if same {
		return evidence.Already, nil
	}
	return evidence.Kept, fault.New(fault.Conflict, "Another reading with this id is stored already. Both are kept; the first one counts.")
}

// settle notes in the inbound record what became of an arrival.
func settle(ctx context.Context, t *tx, it arrival, o evidence.Outcome, why error) error {
	switch o {
	case evidence.Stored:
		_, err := t.Exec(ctx, `UPDATE inbound SET applied_at = $3, error = '' WHERE item_id = $1 AND digest = $2`,
			it.reading.ID, it.digest, t.now)
		return err
	case evidence.Kept:
		_, err := t.Exec(ctx, `UPDATE inbound SET error = $3 WHERE item_id = $1 AND digest = $2`,
			it.reading.ID, it.digest, clean(why.Error(), 2000))
		return err
	}
	return nil
}

func insertReading(ctx context.Context, t *tx, k *shop.Ticket, r evidence.Reading) (bool, error) {
	if r.ProfileVersionID == nil {
		r.ProfileVersionID = k.ProfileVersionID
	}
	done, err := t.Exec(ctx, `INSERT INTO reading (id, ticket_id, stage, check_key, state, measure, red, black, across, lifted,
			swapped, subject, typed, value, over_range, agrees, band_low, band_high, moving, residue, condition, not_possible,
			meter_version_id, profile_version_id, person_id, device_id, device_seq, taken_at, taken_offset, received_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23,
			$24, $25, $26, $27, $28, $29, $30) ON CONFLICT (id) DO NOTHING`,
		r.ID, r.TicketID, r.Stage, r.CheckKey, r.State, r.Measure, r.Red, r.Black, r.Across, r.Lifted,
		r.Swapped, r.Subject, r.Typed, r.Value, r.OverRange, r.Agrees, r.BandLow, r.BandHigh, r.Moving, r.Residue,
		r.Condition, r.NotPossible, r.MeterVersionID, r.ProfileVersionID, r.PersonID, r.DeviceID, r.DeviceSeq,
		r.TakenAt, r.TakenOffset, t.now)
	return done.RowsAffected() == 1, err
}
