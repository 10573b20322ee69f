package demo_test

import (
	"testing"
	"time"

	"ohmstead/internal/demo"
	"ohmstead/internal/evidence"
	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/postgres"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
	"ohmstead/profiles"
)

func shipped(t *testing.T) map[string]*profile.Profile {
	t.Helper()
	out := map[string]*profile.Profile{}
	source := func(id string) ([]byte, error) { return profiles.Files.ReadFile(id + ".yaml") }
	entries, err := profiles.Files.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		src, err := profiles.Files.ReadFile(e.Name())
		if err != nil {
			t.Fatal(err)
		}
		p, err := profile.Load(e.Name(), src, source)
		if err != nil {
			t.Fatal(err)
		}
		out[p.ID] = p
	}
	return out
}

func fill(t *testing.T) (*postgres.Store, demo.Shop) {
	t.Helper()
	pool := pgtest.DB(t)
	store := postgres.New(pool)
	known := shipped(t)
	var list []shop.Profile
	for _, p := range known {
		flat, err := p.Flatten()
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, shop.Profile{Key: p.ID, Family: p.Family, Revision: p.Revision, YAML: flat, Flattened: flat, Author: "shipped"})
	}
	if _, err := store.SyncProfiles(t.Context(), list); err != nil {
		t.Fatal(err)
	}
	s, err := demo.Fill(t.Context(), demo.Filling{
		At:       func(at time.Time) demo.Storage { return store.WithClock(func() time.Time { return at }) },
		Now:      time.Date(2026, 11, 4, 15, 0, 0, 0, time.UTC),
		Hash:     "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
		Profiles: func(key string) *profile.Profile { return known[key] },
	})
	if err != nil {
		t.Fatal(err)
	}
	return store, s
}

// told is how many stays lie before those of today.
const told = 12

// TestFillTellsTheWholeStory: every stage of the job is there to be looked at.
func TestFillTellsTheWholeStory(t *testing.T) {
	t.Parallel()
	store, filled := fill(t)
	owner, err := store.PersonByName(t.Context(), "ansa")
	if err != nil {
		t.Fatal(err)
	}
	states := map[shop.State]int{}
	for n := int64(1); n <= told+16; n++ {
		story, err := store.TicketByNumber(t.Context(), owner.Actor(), n)
		if err != nil {
			t.Fatalf("ticket %d: %v", n, err)
		}
		states[story.Ticket.State]++
		for _, r := range story.Readings {
			if r.Value == nil && !r.OverRange {
				t.Errorf("ticket %d: reading %s has no value", n, r.CheckKey)
			}
		}
	}
	want := map[shop.State]int{
		shop.TakenIn: 1, shop.OnShelf: 4, shop.OnBench: 6, shop.WaitingForYes: 1, shop.WaitingForPart: 1,
		shop.OnSoak: 1, shop.ToHandOver: 1, shop.HandedOver: 12, shop.ReturnedUnrepaired: 1,
	}
	for s, n := range want {
		if states[s] != n {
			t.Errorf("%d tickets are %s, want %d", states[s], s.Title(), n)
		}
	}
	if len(filled.Tickets) < 5 || len(filled.People) != 4 {
		t.Errorf("the guide names %d tickets and %d people", len(filled.Tickets), len(filled.People))
	}
	back, err := store.TicketByNumber(t.Context(), owner.Actor(), told+14)
	if err != nil {
		t.Fatal(err)
	}
	if back.Ticket.ComebackNumber == nil || *back.Ticket.ComebackNumber != told+1 {
		t.Errorf("the board of ticket %d should be back as %d: %v", told+1, told+14, back.Ticket.ComebackNumber)
	}
}

// TestFaultsShowInTheReadings: what was planted is what the simulated meter
// shows. The expectations are worked out by hand from the circuit.
func TestFaultsShowInTheReadings(t *testing.T) {
	t.Parallel()
	store, _ := fill(t)
	owner, err := store.PersonByName(t.Context(), "ansa")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ticket  int64
		check   string
		low, hi float64
		over    bool
		why     string
	}{
		{1, "r13", 150e3, 900e3, false, "the open chip's place reads round through bus, bleeder and the other five: 5·120 k + 6.8 k + 200 k, the diodes of the module out of it"},
		{2, "qm1-minus-u", 0, 0.25, false, "a shorted diode drops 1 mA times 0.2 Ω"},
		{2, "f1", 0, 0, true, "a blown fuse, the mains side open"},
		{6, "rails-oiu", 3.2, 3.3, false, "all three amplifiers at the upper rail, 3.28 V"},
		{6, "rails-oiw", 3.2, 3.3, false, "all three amplifiers at the upper rail, 3.28 V"},
		{9, "rails-rm", 2.4, 2.6, false, "the room divider at 25 °C"},
		{9, "rails-adr", 0.6, 0.9, false, "behind 22 MΩ a 10 MΩ meter reads 2.5 V · 10/32"},
		{11, "live-fb", 2.4, 2.6, false, "a regulated node always looks right"},
		{8, "rails-vr", 4.8, 5.1, false, "the reference without its lower leg stands at the supply"},
	} {
		story, err := store.TicketByNumber(t.Context(), owner.Actor(), told+c.ticket)
		if err != nil {
			t.Fatal(err)
		}
		r := first(story.Readings, c.check)
		switch {
		case r == nil:
			t.Errorf("ticket %d: no reading %s", c.ticket, c.check)
		case r.OverRange != c.over:
			t.Errorf("ticket %d, %s: over range %v (%s); %s", c.ticket, c.check, r.OverRange, r.Typed, c.why)
		case !c.over && (*r.Value < c.low || *r.Value > c.hi):
			t.Errorf("ticket %d, %s: %s, want %g to %g; %s", c.ticket, c.check, r.Typed, c.low, c.hi, c.why)
		}
	}
}

func first(list []evidence.Reading, check string) *evidence.Reading {
	for i := range list {
		if list[i].CheckKey == check {
			return &list[i]
		}
	}
	return nil
}

// Whoever opens the board with two blinks sees what the last ten of its family
// turned out to be, of every kind: found, not found, given back as it came, come back.
func TestThePastIsThereToBeLookedAt(t *testing.T) {
	t.Parallel()
	store, _ := fill(t)
	owner, err := store.PersonByName(t.Context(), "ansa")
	if err != nil {
		t.Fatal(err)
	}
	story, err := store.TicketByNumber(t.Context(), owner.Actor(), told+15)
	if err != nil {
		t.Fatal(err)
	}
	stays, err := store.LikeStays(t.Context(), owner.Actor(), past.Like{Family: *story.Board.FamilyID, Board: story.Board.ID,
		Texts: []string{story.Ticket.Indication, "2"}})
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]bool{}
	for _, s := range stays {
		kinds["found"] = kinds["found"] || len(s.Findings) > 0
		kinds["not found"] = kinds["not found"] || len(s.Findings) == 0
		kinds["given back as it came"] = kinds["given back as it came"] || s.State == shop.ReturnedUnrepaired
		kinds["come back"] = kinds["come back"] || s.Back
		kinds["of the other revision"] = kinds["of the other revision"] || s.Revision == "F"
		kinds["priced"] = kinds["priced"] || s.Price != nil
		if s.Minutes == nil || *s.Minutes < 10 || *s.Minutes > 120 {
			t.Errorf("ticket %d took %v minutes at the bench", s.Number, s.Minutes)
		}
	}
	if len(stays) != past.MostStays || len(kinds) != 6 {
		t.Errorf("%d stays, %v", len(stays), kinds)
	}
	for kind, there := range kinds {
		if !there {
			t.Errorf("none is %s", kind)
		}
	}
	causes, err := store.FamilyCauses(t.Context(), owner.Actor(), *story.Board.FamilyID, story.Ticket.ID)
	if err != nil || causes.Boards() < 10 || causes.Of("R17") < 2 {
		t.Errorf("%+v, %v", causes, err)
	}
}
