package postgres

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// onBench runs fn with the ticket locked, for an actor who may work on boards.
// Nothing of it needs the ticket to be open: what was measured is stored, however
// late it comes.
func (s *Store) onBench(ctx context.Context, op string, by staff.Actor, ticket uuid.UUID, fn func(t *tx, k *shop.Ticket) error) error {
	if err := allowed(by, staff.WorkOnBoards); err != nil {
		return err
	}
	return s.within(ctx, op, func(t *tx) error {
		k, err := lockTicket(ctx, t, by, ticket)
		if err != nil {
			return err
		}
		return fn(t, k)
	})
}

// identify makes a key where the device made none, and a time where it gave none.
func identify(id *uuid.UUID, takenAt *time.Time, now time.Time) (err error) {
	if *id == uuid.Nil {
		*id, err = newID()
	}
	if takenAt.IsZero() {
		*takenAt = now
	}
	*takenAt = takenAt.UTC().Truncate(time.Microsecond)
	return err
}

// onceMore says what becomes of a form whose key is stored already: nothing when
// the row that the condition describes is there, since it is the same once more;
// otherwise fault.Conflict, so that what it says is not taken for stored. The
// condition begins at the table's name and is never from outside.
func onceMore(ctx context.Context, t *tx, condition string, args ...any) error {
	var same bool
	err := t.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM `+condition+`)`, args...).Scan(&same)
	if err == nil && !same {
		return fault.New(fault.Conflict, "This form has stored something else already; this was not stored. Look at what stands there now, then store it once more.")
	}
	return err
}

// Strike takes a reading out of the count, with a reason.
func (s *Store) Strike(ctx context.Context, by staff.Actor, ticket, reading uuid.UUID, reason string) error {
	if err := shop.CheckReason(reason); err != nil {
		return err
	}
	return s.onBench(ctx, opf("strike reading %s", reading), by, ticket, func(t *tx, k *shop.Ticket) error {
		done, err := t.Exec(ctx, `INSERT INTO strike (reading_id, reason, person_id, at)
			SELECT id, $3, $4, $5 FROM reading WHERE id = $1 AND ticket_id = $2`,
			reading, ticket, strings.TrimSpace(reason), by.Person, t.now)
		switch {
		case violates(err, codeUnique, "strike_pkey"):
			return fault.New(fault.Conflict, "This reading is struck out already.")
		case err != nil:
			return err
		case done.RowsAffected() == 0:
			return fault.New(fault.NotFound, "There is no such reading on this ticket.")
		}
		return note(ctx, t, by, k, journal.Struck, journal.Change{Reason: strings.TrimSpace(reason), Subject: &reading})
	})
}

const proofColumns = `id, ticket_id, part, volts, volts_swapped, before_at, before_ok, read_at, after_at, after_ok,
	handling_limit, resistance_limit, result, person_id, device_id, taken_at, received_at`

// StoreDeadProof stores one proof and what it allows. The device may make the ID;
// limits and result are set here. The same ID again is stored once and given back
// as stored; with another reading it is fault.Conflict.
func (s *Store) StoreDeadProof(ctx context.Context, by staff.Actor, p evidence.DeadProof) (evidence.DeadProof, error) {
	if err := p.Check(); err != nil {
		return p, err
	}
	var kept evidence.DeadProof
	err := s.onBench(ctx, opf("dead proof of %s", p.TicketID), by, p.TicketID, func(t *tx, k *shop.Ticket) error {
		set, err := settingsOf(ctx, t, by.Site)
		if err != nil {
			return err
		}
		if err := identify(&p.ID, &p.TakenAt, t.now); err != nil {
			return err
		}
		isNew, err := insertProof(ctx, t, by, p, set.Limits())
		if err != nil {
			return err
		}
		if kept, err = one[evidence.DeadProof](ctx, t, `SELECT `+proofColumns+` FROM dead_proof WHERE id = $1`, p.ID); err != nil {
			return err
		}
		if !isNew {
			return sameProof(kept, p)
		}
		return noteAt(ctx, t, by, k, journal.DeadProof, journal.Change{Field: "gate", New: string(kept.Result), Note: p.Part, Subject: &p.ID}, p.TakenAt)
	})
	return kept, err
}

func insertProof(ctx context.Context, t *tx, by staff.Actor, p evidence.DeadProof, l evidence.Limits) (bool, error) {
	done, err := t.Exec(ctx, `INSERT INTO dead_proof (`+proofColumns+`)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) ON CONFLICT (id) DO NOTHING`,
		p.ID, p.TicketID, p.Part, p.Volts, p.VoltsSwapped, p.BeforeAt, p.BeforeOK, p.ReadAt, p.AfterAt, p.AfterOK,
		l.Handling, l.Resistance, evidence.Judge(p, l), by.Person, by.Device, p.TakenAt, t.now)
	return done.RowsAffected() == 1, err
}

func sameProof(kept, sent evidence.DeadProof) error {
	if kept.TicketID == sent.TicketID && kept.Part == sent.Part && kept.Volts == sent.Volts && kept.VoltsSwapped == sent.VoltsSwapped {
		return nil
	}
	return fault.New(fault.Conflict, "Another proof with this id is stored already. Read the volts again.")
}

// StorePowerEvent stores that the board was powered or unpowered; it closes the
// gate. The same event again is stored once, by its ID; another one with that ID,
// and the same one after others, is fault.Conflict.
func (s *Store) StorePowerEvent(ctx context.Context, by staff.Actor, p evidence.PowerEvent) error {
	return s.onBench(ctx, opf("power event of %s", p.TicketID), by, p.TicketID, func(t *tx, k *shop.Ticket) error {
		if err := identify(&p.ID, &p.TakenAt, t.now); err != nil {
			return err
		}
		done, err := t.Exec(ctx, `INSERT INTO power_event (id, ticket_id, "on", hazardous, state, note, person_id, device_id, taken_at, received_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (id) DO NOTHING`,
			p.ID, p.TicketID, p.On, p.Hazardous, clean(p.State, 120), clean(p.Note, 400), by.Person, by.Device, p.TakenAt, t.now)
		if err != nil {
			return err
		}
		if done.RowsAffected() == 0 { // only while nothing has happened to the board since
			return onceMore(ctx, t, `power_event p WHERE id = $1 AND ticket_id = $2 AND "on" = $3 AND state = $4 AND NOT EXISTS
				(SELECT 1 FROM power_event n WHERE n.ticket_id = $2 AND n.received_at > p.received_at)`,
				p.ID, p.TicketID, p.On, clean(p.State, 120))
		}
		state := "off"
		if p.On {
			state = "on"
		}
		return noteAt(ctx, t, by, k, journal.Power, journal.Change{Field: "power", New: state, Note: p.State, Subject: &p.ID}, p.TakenAt)
	})
}

// work is one line of what was found, fitted or seen: a table, its three columns of
// text, the one for the person, and what the journal says of it. Table and columns
// are written here, never outside.
type work struct {
	id      *uuid.UUID
	takenAt *time.Time
	table   string
	columns [3]string
	person  string
	texts   [3]string
	unless  string // a condition under which the same line once more is another one
	kind    journal.Kind
	change  journal.Change
}

// addWork stores a line once by its key.
func (s *Store) addWork(ctx context.Context, by staff.Actor, ticket uuid.UUID, w work) error {
	return s.onBench(ctx, opf("%s on %s", w.table, ticket), by, ticket, func(t *tx, k *shop.Ticket) error {
		if err := identify(w.id, w.takenAt, t.now); err != nil {
			return err
		}
		done, err := t.Exec(ctx, fmt.Sprintf(`INSERT INTO %s (id, ticket_id, %s, %s, %s, %s, taken_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (id) DO NOTHING`, w.table, w.columns[0], w.columns[1], w.columns[2], w.person),
			w.id, ticket, w.texts[0], w.texts[1], w.texts[2], by.Person, w.takenAt)
		if err != nil {
			return err
		}
		if done.RowsAffected() == 0 {
			return onceMore(ctx, t, fmt.Sprintf(`%s w WHERE id = $1 AND ticket_id = $2 AND %s = $3 AND %s = $4 AND %s = $5 %s`,
				w.table, w.columns[0], w.columns[1], w.columns[2], w.unless), w.id, ticket, w.texts[0], w.texts[1], w.texts[2])
		}
		w.change.Subject = w.id
		return noteAt(ctx, t, by, k, w.kind, w.change, *w.takenAt)
	})
}

// AddFinding stores a confirmed cause. The same one again is stored once, by its
// ID; another one with that ID, or one that was withdrawn, is fault.Conflict.
func (s *Store) AddFinding(ctx context.Context, by staff.Actor, f evidence.Finding) (evidence.Finding, error) {
	if err := f.Check(); err != nil {
		return f, err
	}
	f.ConfirmedBy = by.Person
	err := s.addWork(ctx, by, f.TicketID, work{id: &f.ID, takenAt: &f.TakenAt,
		table: "finding", columns: [3]string{"part", "mode", "words"}, person: "confirmed_by", texts: [3]string{f.Part, f.Mode, f.Words},
		unless: `AND NOT EXISTS (SELECT 1 FROM finding_withdrawal x WHERE x.finding_id = w.id)`,
		kind:   journal.Found, change: journal.Change{New: strings.TrimSpace(f.Part + " " + f.Mode), Note: f.Words}})
	return f, err
}

// AddFitted stores a part that was put in; its ID counts as in AddFinding.
func (s *Store) AddFitted(ctx context.Context, by staff.Actor, f evidence.Fitted) (evidence.Fitted, error) {
	if err := f.Check(); err != nil {
		return f, err
	}
	f.PersonID = by.Person
	err := s.addWork(ctx, by, f.TicketID, work{id: &f.ID, takenAt: &f.TakenAt,
		table: "fitted", columns: [3]string{"part", "what", "note"}, person: "person_id", texts: [3]string{f.Part, f.What, f.Note},
		kind: journal.Fitted, change: journal.Change{New: f.Part, Note: f.What}})
	return f, err
}

// AddSeen stores what was seen; its ID counts as in AddFinding.
func (s *Store) AddSeen(ctx context.Context, by staff.Actor, f evidence.Seen) (evidence.Seen, error) {
	if err := f.Check(); err != nil {
		return f, err
	}
	f.PersonID = by.Person
	err := s.addWork(ctx, by, f.TicketID, work{id: &f.ID, takenAt: &f.TakenAt,
		table: "seen", columns: [3]string{"part", "what", "note"}, person: "person_id", texts: [3]string{f.Part, f.What, f.Note},
		kind: journal.Seen, change: journal.Change{New: f.Part, Note: f.What}})
	return f, err
}

// WithdrawFinding takes a finding back, with a reason; it stays on record.
func (s *Store) WithdrawFinding(ctx context.Context, by staff.Actor, ticket, finding uuid.UUID, reason string) error {
	return s.withdraw(ctx, by, ticket, finding, reason, withdrawal{table: "finding", kind: journal.Withdrawn,
		twice: "This finding is withdrawn already.", none: "There is no such finding on this ticket."})
}

// withdrawal is what is taken back: the table that holds it, beside the table of its
// withdrawals, and what is said when there is nothing to take back.
type withdrawal struct {
	table       string
	kind        journal.Kind
	twice, none string
}

// withdraw takes back what somebody at the bench stored, with a reason.
func (s *Store) withdraw(ctx context.Context, by staff.Actor, ticket, id uuid.UUID, reason string, w withdrawal) error {
	if err := shop.CheckReason(reason); err != nil {
		return err
	}
	return s.onBench(ctx, opf("withdraw "+w.table+" %s", id), by, ticket, func(t *tx, k *shop.Ticket) error {
		done, err := t.Exec(ctx, `INSERT INTO `+w.table+`_withdrawal (`+w.table+`_id, reason, person_id, at)
			SELECT id, $3, $4, $5 FROM `+w.table+` WHERE id = $1 AND ticket_id = $2`,
			id, ticket, strings.TrimSpace(reason), by.Person, t.now)
		switch {
		case violates(err, codeUnique, w.table+"_withdrawal_pkey"):
			return fault.New(fault.Conflict, "%s", w.twice)
		case err != nil:
			return err
		case done.RowsAffected() == 0:
			return fault.New(fault.NotFound, "%s", w.none)
		}
		return note(ctx, t, by, k, w.kind, journal.Change{Reason: strings.TrimSpace(reason), Subject: &id})
	})
}
