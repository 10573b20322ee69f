package postgres

import (
	"context"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// changes is every use case that changes a ticket, as somebody may try it.
func changes(w *world, k shop.Ticket) map[string]func(ctx context.Context, by staff.Actor) error {
	r := w.ohms(k, "R12", 1)
	drop := func(_ any, err error) error { return err }
	return map[string]func(ctx context.Context, by staff.Actor) error{
		"move": func(ctx context.Context, by staff.Actor) error {
			return drop(w.Move(ctx, by, k.ID, k.Version, shop.OnShelf, "x"))
		},
		"correct": func(ctx context.Context, by staff.Actor) error {
			return drop(w.Correct(ctx, by, k.ID, k.Version, shop.Correction{Field: "bay", New: "B1", Reason: "x"}))
		},
		"void": func(ctx context.Context, by staff.Actor) error { return w.Void(ctx, by, k.ID, k.Version, "x") },
		"assign revision": func(ctx context.Context, by staff.Actor) error {
			return drop(w.AssignRevision(ctx, by, k.ID, uuid.Nil, "x"))
		},
		"strike":     func(ctx context.Context, by staff.Actor) error { return w.Strike(ctx, by, k.ID, r.ID, "x") },
		"dead proof": func(ctx context.Context, by staff.Actor) error { return drop(w.StoreDeadProof(ctx, by, w.proof(k, 0))) },
		"power": func(ctx context.Context, by staff.Actor) error {
			return w.StorePowerEvent(ctx, by, evidence.PowerEvent{TicketID: k.ID})
		},
		"finding": func(ctx context.Context, by staff.Actor) error {
			return drop(w.AddFinding(ctx, by, evidence.Finding{TicketID: k.ID, Words: "x"}))
		},
		"withdraw": func(ctx context.Context, by staff.Actor) error { return w.WithdrawFinding(ctx, by, k.ID, r.ID, "x") },
		"overrule": func(ctx context.Context, by staff.Actor) error {
			return drop(w.AddOverrule(ctx, by, evidence.Overrule{TicketID: k.ID, Part: "R12", Reason: "x"}))
		},
		"reconsider": func(ctx context.Context, by staff.Actor) error { return w.WithdrawOverrule(ctx, by, k.ID, r.ID, "x") },
		"fitted": func(ctx context.Context, by staff.Actor) error {
			return drop(w.AddFitted(ctx, by, evidence.Fitted{TicketID: k.ID, Part: "x"}))
		},
		"seen": func(ctx context.Context, by staff.Actor) error {
			return drop(w.AddSeen(ctx, by, evidence.Seen{TicketID: k.ID, Part: "x", What: "y"}))
		},
		"save quote": func(ctx context.Context, by staff.Actor) error {
			return drop(w.SaveQuote(ctx, by, k.ID, k.Version, "", []quote.Line{line("1", "1")}))
		},
		"send quote": func(ctx context.Context, by staff.Actor) error { return drop(w.SendQuote(ctx, by, k.ID, k.Version)) },
		"consent": func(ctx context.Context, by staff.Actor) error {
			return drop(w.RecordConsent(ctx, by, quote.Consent{TicketID: k.ID, About: quote.AboutScrap, TextShown: "x", Who: "y", Answer: quote.Yes, Way: "phone"}))
		},
		"hand over": func(ctx context.Context, by staff.Actor) error {
			return drop(w.HandOver(ctx, by, k.ID, k.Version, shop.HandOver{As: shop.ReturnedUnrepaired, To: "x", Text: "y"}))
		},
	}
}

// ASVS 5.0 V8.2.1, V8.2.2: by function and by row, on the server.
func TestNobodyElseChangesATicket(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	guest := staff.Actor{Person: w.desk.Person, Site: w.desk.Site, Role: "guest"}
	neighbour := w.owner
	neighbour.Site = uuid.New() // an owner, but of another shop
	for name, try := range changes(w, k) {
		wantKind(t, name+" by a guest", try(t.Context(), guest), fault.Forbidden)
		if err := try(t.Context(), neighbour); fault.KindOf(err) != fault.NotFound {
			t.Errorf("%s by another shop: %v", name, err)
		}
	}
	if _, err := w.StoreReadings(t.Context(), guest, k.ID, []evidence.Reading{w.ohms(k, "R1", 1)}); fault.KindOf(err) != fault.Forbidden {
		t.Errorf("readings by a guest: %v", err)
	}
	got := must(w.StoreReadings(t.Context(), neighbour, k.ID, []evidence.Reading{w.ohms(k, "R1", 1)}))
	if st := w.story(k); got[0].Outcome != evidence.Kept || st.Ticket.Version != k.Version || len(st.Entries) != 1 {
		t.Errorf("%+v, version %d", got, st.Ticket.Version)
	}
}

// Nothing is changed once the request has gone.
func TestACancelledRequestChangesNothing(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	for name, try := range changes(w, k) {
		if err := try(gone, w.owner); err == nil {
			t.Errorf("%s succeeded", name)
		}
	}
	if st := w.story(k); st.Ticket.Version != k.Version {
		t.Errorf("version %d", st.Ticket.Version)
	}
}

// A step that only one may take is taken once, however many try at the same time.
func TestRivals(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	must(w.addLine(w.bench, k.ID, line("1", "48")))
	k = w.story(k).Ticket
	once := func(what string, try func() error) {
		t.Helper()
		var mu sync.Mutex
		var wg sync.WaitGroup
		won := 0
		for range 4 {
			wg.Go(func() {
				err := try()
				mu.Lock()
				defer mu.Unlock()
				if err == nil {
					won++
				} else if fault.KindOf(err) != fault.Conflict {
					t.Errorf("%s: %v", what, err)
				}
			})
		}
		wg.Wait()
		if won != 1 {
			t.Errorf("%s happened %d times", what, won)
		}
	}
	once("a correction", func() error {
		_, err := w.Correct(t.Context(), w.desk, k.ID, k.Version, shop.Correction{Field: "bay", New: "B4", Reason: "moved"})
		return err
	})
	once("a quote saved", func() error {
		_, err := w.SaveQuote(t.Context(), w.desk, k.ID, k.Version, "mine", []quote.Line{line("1", "50")})
		return err
	})
	seen := w.story(k).Ticket.Version
	once("a quote sent", func() error { _, err := w.SendQuote(t.Context(), w.desk, k.ID, seen); return err })
	once("a move", func() error {
		_, err := w.Move(t.Context(), w.bench, k.ID, k.Version, shop.ToHandOver, "")
		return err
	})
	seen = w.story(k).Ticket.Version
	once("a hand-over", func() error {
		_, err := w.HandOver(t.Context(), w.desk, k.ID, seen, shop.HandOver{As: shop.HandedOver, To: "Orla", Text: "module"})
		return err
	})
	if st := w.story(k); len(st.Documents) != 2 || len(st.Quotes) != 1 {
		t.Errorf("%d documents, %d quotes", len(st.Documents), len(st.Quotes))
	}
}

// A form that is sent twice, at the same time too, takes one board in.
func TestAnIntakeSentTwiceIsOne(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	in := shop.Intake{TicketID: must(uuid.NewV7()), Name: "Orla Fenwick", Phone: "912345678", Complaint: "dead", Serial: "417"}
	list := make([]shop.Ticket, 3)
	var wg sync.WaitGroup
	for i := range list {
		wg.Go(func() {
			var err error
			if list[i], err = w.TakeIn(t.Context(), w.desk, in); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	for _, k := range list {
		if k.ID != in.TicketID || k.Number != 1 {
			t.Errorf("ticket %d, %s", k.Number, k.ID)
		}
	}
	if found := must(w.FindCustomers(t.Context(), "fenwick")); len(found) != 1 {
		t.Errorf("%d customers were entered", len(found))
	}
}

// The program stops between keeping and applying; the tablet sends again.
func TestReadingsSurviveAStopHalfway(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	r := w.ohms(k, "R12", 120_000)
	ok(w.within(t.Context(), "keep", func(tx *tx) error {
		return keep(t.Context(), tx, w.bench, k.ID, []arrival{arrived(w.bench, k.ID, r)})
	}))
	if kept := keptErrors(w); len(kept) != 1 {
		t.Fatalf("kept: %q", kept)
	}
	got := must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{r}))
	if st := w.story(k); got[0].Outcome != evidence.Stored || len(st.Readings) != 1 || len(keptErrors(w)) != 0 {
		t.Errorf("%+v, %d readings, kept %q", got, len(st.Readings), keptErrors(w))
	}
}

// Whatever three people try in whatever order, a ticket's journal tells its whole
// story: versions without a gap, the state that the last change gave it, and a
// place in the open list exactly while the board is here.
func TestTheJournalTellsTheWholeStory(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	rapid.Check(t, func(rt *rapid.T) {
		w.clock.pass(time.Second)
		k := w.takeIn()
		actors := []staff.Actor{w.owner, w.desk, w.bench}
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			w.clock.pass(time.Second)
			by := rapid.SampledFrom(actors).Draw(rt, "who")
			seen := k.Version - rapid.Int64Range(0, 1).Draw(rt, "behind")
			to := rapid.SampledFrom(shop.States()).Draw(rt, "to")
			var err error
			switch rapid.IntRange(0, 4).Draw(rt, "what") {
			case 0, 1:
				_, err = w.Move(t.Context(), by, k.ID, seen, to, "because")
			case 2:
				_, err = w.Correct(t.Context(), by, k.ID, seen, shop.Correction{Field: "state", New: string(to), Reason: "wrong"})
			case 3:
				_, err = w.RecordConsent(t.Context(), by, quote.Consent{TicketID: k.ID, About: rapid.SampledFrom([]string{quote.AboutRepair, quote.AboutScrap}).Draw(rt, "about"),
					TextShown: "x", Who: "Orla", Answer: rapid.SampledFrom([]quote.Answer{quote.Yes, quote.No}).Draw(rt, "answer"), Way: "phone"})
			case 4:
				_, err = w.HandOver(t.Context(), by, k.ID, seen, shop.HandOver{As: to, To: "Orla", Text: "done"})
			}
			if err != nil && fault.KindOf(err) == fault.Internal {
				rt.Fatal(err)
			}
			k = w.story(k).Ticket
		}
		checkStory(rt, w, w.story(k))
	})
}

// checkStory holds a ticket against its journal.
func checkStory(t *rapid.T, w *world, st shop.Story) {
	state := shop.TakenIn
	for i, e := range st.Entries {
		if e.TicketVersion != int64(i+1) {
			t.Errorf("entry %d has version %d", i+1, e.TicketVersion)
		}
		if e.Change.Field != "state" {
			continue
		}
		if e.Change.Old != string(state) {
			t.Errorf("version %d left %s, but the ticket was %s", e.TicketVersion, e.Change.Old, state)
		}
		state = shop.State(e.Change.New)
		if state.Ended() && e.Kind != journal.Moved {
			t.Errorf("%s was reached by %s", state, e.Kind)
		}
	}
	if st.Ticket.State != state || st.Ticket.Version != int64(len(st.Entries)) {
		t.Errorf("ticket: %s at version %d; journal: %s with %d entries", st.Ticket.State, st.Ticket.Version, state, len(st.Entries))
	}
	open, _, err := w.OpenTickets(w.t.Context(), w.desk)
	if err != nil {
		t.Fatal(err)
	}
	listed := slices.ContainsFunc(open, func(s shop.Summary) bool { return s.ID == st.Ticket.ID })
	if listed == state.Ended() {
		t.Errorf("a ticket that is %s is in the open list: %v", state, listed)
	}
	if slips := len(st.Documents); (state == shop.HandedOver || state == shop.ReturnedUnrepaired) && slips == 0 {
		t.Errorf("%s without a slip", state)
	}
}

// A session's last use is written once a minute, not at every request.
func TestASessionIsTouchedOnceAMinute(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	hash := staff.TokenHash("t")
	must(w.StartSession(t.Context(), w.desk.Person, hash, nil))
	begun := w.clock.now()
	for _, c := range []struct{ pass, want time.Duration }{{30 * time.Second, 0}, {29 * time.Second, 0}, {2 * time.Second, 61 * time.Second}, {time.Second, 61 * time.Second}} {
		w.clock.pass(c.pass)
		if ses := must(w.SessionPerson(t.Context(), hash)); ses.LastSeenAt.Sub(begun) != c.want {
			t.Errorf("last seen %s after the beginning, want %s", ses.LastSeenAt.Sub(begun), c.want)
		}
	}
}
