package postgres

import (
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/internal/fault"
	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// world is a shop on a database of its own, with one person of each role.
type world struct {
	*Store
	t     *testing.T
	owner staff.Actor
	desk  staff.Actor
	bench staff.Actor
	clock *clock
}

// clock is a time that a test moves on.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

var (
	quay = shop.Site{Name: "Lantern Quay Board Works", Address: "Quernhithe", TZ: "Europe/Lisbon", Locale: "de", Currency: "EUR"}
	pay  = shop.Settings{Taxes: []quote.Tax{{Category: "S", Rate: quote.Whole(23)}}, LabourRate: quote.Whole(54),
		ExaminationFee: quote.Whole(25), CreditFee: true, GuaranteeDays: 180, AskPercent: 55, HandlingVolts: 5, ResistanceVolts: 0.1,
		DangerMinutes: quote.Whole(shop.UsualDanger), LiftedMinutes: quote.Whole(shop.UsualLifted)}
)

// newWorld sets a shop up at a fixed moment: Wednesday, 4 March 2026, 09:00 UTC.
func newWorld(t *testing.T) *world {
	t.Helper()
	return newWorldOn(t, pgtest.DB(t))
}

// newWorldOn is newWorld on a pool of the test's own.
func newWorldOn(t *testing.T, pool *pgxpool.Pool) *world {
	t.Helper()
	c := &clock{at: time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)}
	w := &world{Store: New(pool).WithClock(c.now), t: t, clock: c}
	ansa := must(w.FirstOwner(t.Context(), quay, pay, "Ansa", "hash-a"))
	w.owner = ansa.Actor()
	w.desk = must(w.AddPerson(t.Context(), w.owner, "Mirela", staff.FrontDesk, "hash-m")).Actor()
	w.bench = must(w.AddPerson(t.Context(), w.owner, "Tobin", staff.Bench, "hash-t")).Actor()
	return w
}

// must gives a value whose error would end the test.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// takeIn brings in a board of a new customer.
func (w *world) takeIn(change ...func(in *shop.Intake)) shop.Ticket {
	w.t.Helper()
	in := shop.Intake{Name: "Orla Fenwick", Phone: "+351 912 345 678", Complaint: "pump does not start"}
	for _, f := range change {
		f(&in)
	}
	return must(w.TakeIn(w.t.Context(), w.desk, in))
}

// story reads a ticket back.
func (w *world) story(k shop.Ticket) shop.Story {
	w.t.Helper()
	return must(w.TicketByID(w.t.Context(), w.desk, k.ID))
}

// move takes a ticket along a path of states as the technician.
func (w *world) move(k shop.Ticket, path ...shop.State) shop.Ticket {
	w.t.Helper()
	for _, to := range path {
		k = must(w.Move(w.t.Context(), w.owner, k.ID, k.Version, to, "as agreed"))
	}
	return k
}

// wantKind checks that an error is of a kind.
func wantKind(t *testing.T, what string, err error, kind fault.Kind) {
	t.Helper()
	if err == nil || fault.KindOf(err) != kind {
		t.Errorf("%s: error %v, want kind %d", what, err, kind)
	}
}

// wantField checks that an error names a form field.
func wantField(t *testing.T, what string, err error, field string) {
	t.Helper()
	if _, ok := fault.Fields(err)[field]; !ok {
		t.Errorf("%s: error %v has no message on field %q", what, err, field)
	}
}
