// Package demo fills a throwaway shop: Lantern Quay Board Works in Quernhithe,
// its people, its customers, and boards of the shipped families with planted
// faults, each at another place of the job.
//
// Everything is invented. The readings come from a simulated board: the
// profile's own circuit with the fault in it, parts drawn within tolerance and a
// meter drawn within its accuracy, always the same for the same seed. The
// package knows the use cases that a shop goes through; it knows no SQL.
package demo

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// Storage is what filling a shop needs kept.
type Storage interface {
	FirstOwner(ctx context.Context, site shop.Site, set shop.Settings, name, passwordHash string) (staff.Person, error)
	AddPerson(ctx context.Context, by staff.Actor, name string, role staff.Role, passwordHash string) (staff.Person, error)
	SetPassword(ctx context.Context, by staff.Actor, person uuid.UUID, passwordHash string, keep []byte) error
	Revisions(ctx context.Context, family uuid.UUID) ([]shop.Revision, error)
	Families(ctx context.Context) ([]shop.Family, error)
	SaveFamily(ctx context.Context, by staff.Actor, f shop.Family) (shop.Family, error)
	SaveCustomer(ctx context.Context, by staff.Actor, c shop.Customer) (shop.Customer, error)
	TakeIn(ctx context.Context, by staff.Actor, in shop.Intake) (shop.Ticket, error)
	TicketByID(ctx context.Context, by staff.Actor, id uuid.UUID) (shop.Story, error)
	Move(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, to shop.State, reason string) (shop.Ticket, error)
	StoreDeadProof(ctx context.Context, by staff.Actor, p evidence.DeadProof) (evidence.DeadProof, error)
	StorePowerEvent(ctx context.Context, by staff.Actor, p evidence.PowerEvent) error
	StoreReadings(ctx context.Context, by staff.Actor, ticket uuid.UUID, batch []evidence.Reading) ([]evidence.Receipt, error)
	AddFinding(ctx context.Context, by staff.Actor, f evidence.Finding) (evidence.Finding, error)
	AddFitted(ctx context.Context, by staff.Actor, f evidence.Fitted) (evidence.Fitted, error)
	AddSeen(ctx context.Context, by staff.Actor, f evidence.Seen) (evidence.Seen, error)
	SaveQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, note string, lines []quote.Line) (quote.Version, error)
	SendQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64) (quote.Version, error)
	RecordConsent(ctx context.Context, by staff.Actor, c quote.Consent) (quote.Consent, error)
	HandOver(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, h shop.HandOver) (shop.Document, error)
}

// Filling is what a shop is filled with, and from when.
type Filling struct {
	At       func(time.Time) Storage // the storage as it would be used at that time
	Now      time.Time
	Hash     string                            // of the password with which everybody signs in
	Profiles func(key string) *profile.Profile // nil when there is no such profile
}

// SignIn is somebody who can sign in.
type SignIn struct {
	Name string
	Role staff.Role
}

// Standing is a ticket of the filled shop and what is worth trying with it.
type Standing struct {
	Number int64
	Try    string
}

// Shop is a filled shop.
type Shop struct {
	People  []SignIn
	Tickets []Standing
}

var crew = []SignIn{
	{"Mirela", staff.FrontDesk},
	{"Tobin", staff.Bench},
	{"Pell", staff.Bench},
	{"Ansa", staff.Owner},
}

// Fill opens the shop and lives through its story up to now.
func Fill(ctx context.Context, f Filling) (Shop, error) {
	t := &teller{ctx: ctx, at: f.At, now: f.Now, people: map[string]staff.Actor{}, profiles: f.Profiles, meter: meter.Default()}
	opened := f.Now.AddDate(0, 0, -540)
	if err := t.open(opened, f.Hash); err != nil {
		return Shop{}, fmt.Errorf("open the demo shop: %w", err)
	}
	if err := t.enterFamilies(opened); err != nil {
		return Shop{}, fmt.Errorf("enter the demo's board families: %w", err)
	}
	if err := t.enterCustomers(opened); err != nil {
		return Shop{}, fmt.Errorf("enter the demo's customers: %w", err)
	}
	out := Shop{People: crew}
	var all []job
	for _, e := range history {
		all = append(all, e.job())
	}
	for _, j := range append(all, jobs...) {
		s := t.begin(j)
		j.then(s)
		if s.err != nil {
			return Shop{}, fmt.Errorf("demo board %s: %w", j.serial, s.err)
		}
		if j.try != "" {
			out.Tickets = append(out.Tickets, Standing{Number: s.ticket.Number, Try: j.try})
		}
	}
	return out, nil
}

func (t *teller) open(when time.Time, hash string) error {
	store := t.at(when)
	owner, err := store.FirstOwner(t.ctx, shop.Site{
		Name: "Lantern Quay Board Works", Address: "4 Lantern Quay\nQuernhithe", TZ: "Europe/Dublin", Locale: "en-IE", Currency: "EUR",
	}, shop.Settings{
		ValidFrom: when, Taxes: []quote.Tax{{Category: "S", Rate: quote.Whole(23)}},
		LabourRate: quote.Whole(54), ExaminationFee: quote.Whole(25), CreditFee: true,
		GuaranteeDays: 180, AskPercent: 55, HandlingVolts: evidence.MaxHandling, ResistanceVolts: evidence.MaxResistance,
		DangerMinutes: quote.Whole(shop.UsualDanger), LiftedMinutes: quote.Whole(shop.UsualLifted),
	}, "Ansa", hash)
	if err != nil {
		return err
	}
	t.people["Ansa"] = owner.Actor()
	for _, c := range crew {
		if c.Role == staff.Owner {
			continue
		}
		p, err := store.AddPerson(t.ctx, owner.Actor(), c.Name, c.Role, hash)
		if err != nil {
			return err
		}
		if err := store.SetPassword(t.ctx, p.Actor(), p.ID, hash, nil); err != nil {
			return err
		}
		t.people[c.Name] = p.Actor()
	}
	return nil
}

// newBoards are the prices of a new board fitted, in minor units.
var newBoards = map[string]struct {
	title string
	minor int64
}{
	"SEDGE":     {"drive for borehole and irrigation pumps, 1.1 kW", 310_00},
	"HEARTH":    {"pellet-stove controller", 185_00},
	"PACKHORSE": {"36 V 15 A charger for floor-scrubbing machines", 260_00},
}

func (t *teller) enterFamilies(when time.Time) error {
	store := t.at(when)
	families, err := store.Families(t.ctx)
	if err != nil {
		return err
	}
	for _, f := range families {
		known, ok := newBoards[f.Name]
		if !ok {
			continue
		}
		f.Title, f.NewBoard = known.title, &quote.Money{Minor: known.minor, Currency: "EUR"}
		if _, err := store.SaveFamily(t.ctx, t.people["Ansa"], f); err != nil {
			return err
		}
	}
	t.revisions = map[string]shop.Revision{}
	all, err := store.Revisions(t.ctx, uuid.Nil)
	for _, r := range all {
		t.revisions[r.ProfileKey] = r
	}
	return err
}
