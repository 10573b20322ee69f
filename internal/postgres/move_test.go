package postgres

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

func TestMoveKeepsWhoWhenAndWhy(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	w.clock.pass(time.Hour)
	k = must(w.Move(t.Context(), w.desk, k.ID, k.Version, shop.OnShelf, ""))
	w.clock.pass(time.Hour)
	k = must(w.Move(t.Context(), w.bench, k.ID, k.Version, shop.OnBench, ""))
	k = must(w.Move(t.Context(), w.bench, k.ID, k.Version, shop.WaitingForPart, " R12, Monday "))
	st := w.story(k)
	if diff := cmp.Diff(k, st.Ticket); diff != "" || st.Ticket.State != shop.WaitingForPart || !st.Ticket.StateSince.Equal(w.clock.now()) {
		t.Errorf("%s since %s; given and stored differ by:\n%s", st.Ticket.State, st.Ticket.StateSince, diff)
	}
	last := st.Entries[3]
	want := journal.Change{Field: "state", Old: "on_the_bench", New: "waiting_for_a_part", Reason: "R12, Monday"}
	if diff := cmp.Diff(want, last.Change); diff != "" || last.PersonName != "Tobin" || last.Kind != journal.Moved {
		t.Errorf("%+v\n%s", last, diff)
	}
	for i, e := range st.Entries {
		if e.TicketVersion != int64(i+1) {
			t.Errorf("entry %d has version %d", i, e.TicketVersion)
		}
	}
}

func TestMoveRefuses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	move := func(by staff.Actor, to shop.State, reason string) error {
		_, err := w.Move(t.Context(), by, k.ID, k.Version, to, reason)
		return err
	}
	wantKind(t, "a step that does not exist", move(w.owner, shop.OnSoak, ""), fault.Conflict)
	wantKind(t, "an end without a slip", move(w.owner, shop.ReturnedUnrepaired, ""), fault.Conflict)
	wantKind(t, "the desk on the bench", move(w.desk, shop.OnBench, ""), fault.Forbidden)
	k = must(w.Move(t.Context(), w.bench, k.ID, k.Version, shop.OnBench, ""))
	wantField(t, "waiting for what?", move(w.bench, shop.WaitingForPart, ""), "reason")
	_, err := w.Move(t.Context(), w.bench, uuid.New(), 1, shop.OnShelf, "")
	wantKind(t, "no such ticket", err, fault.NotFound)
	stranger := w.bench
	stranger.Site = uuid.New()
	wantKind(t, "from another shop", move(stranger, shop.OnShelf, ""), fault.NotFound)
	if st := w.story(k); st.Ticket.State != shop.OnBench || len(st.Entries) != 2 {
		t.Errorf("refused moves left %s with %d entries", st.Ticket.State, len(st.Entries))
	}
}

// Two people look at the same page; only a change of the same thing disturbs.
func TestOnlyTheSameThingConflicts(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	seen := k.Version
	must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{w.ohms(k, "R12", 120_000)}))
	must(w.Correct(t.Context(), w.desk, k.ID, seen, shop.Correction{Field: "bay", New: "B4", Reason: "moved"}))
	if _, err := w.Correct(t.Context(), w.bench, k.ID, seen, shop.Correction{Field: "complaint", New: "no water", Reason: "misheard"}); err != nil {
		t.Errorf("readings and another field disturb a correction: %v", err)
	}
	_, err := w.Correct(t.Context(), w.bench, k.ID, seen, shop.Correction{Field: "bay", New: "B5", Reason: "moved"})
	wantKind(t, "the same field", err, fault.Conflict)
	if text := fault.Text(err); text != "Mirela changed the bay in the meantime. Look at the ticket again; nothing of yours was stored." {
		t.Errorf("%q", text)
	}
	must(w.Move(t.Context(), w.bench, k.ID, seen, shop.OnSoak, ""))
	_, err = w.Move(t.Context(), w.owner, k.ID, seen, shop.OnShelf, "")
	wantKind(t, "two moves", err, fault.Conflict)
	_, err = w.Correct(t.Context(), w.owner, k.ID, seen, shop.Correction{Field: "state", New: string(shop.OnShelf), Reason: "x"})
	wantKind(t, "a correction of the state after a move", err, fault.Conflict)
}

func TestCorrectionsOfEveryField(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	other := must(w.SaveCustomer(t.Context(), w.desk, shop.Customer{Name: "Fen Pumps", Phone: "912000111"}))
	values := map[string]string{"promised_on": "2026-03-09", "limit": "15000", "if_not_repaired": shop.WishScrap,
		"customer": other.ID.String(), "state": string(shop.OnBench)}
	var fixes []shop.Correction
	for _, field := range shop.CorrectableFields() {
		value, special := values[field]
		if !special {
			value = "new " + field
		}
		fixes = append(fixes, shop.Correction{Field: field, New: value, Reason: "typed wrong"})
	}
	got := must(w.Correct(t.Context(), w.owner, k.ID, k.Version, fixes...))
	st := w.story(k)
	if diff := cmp.Diff(got, st.Ticket); diff != "" {
		t.Errorf("given and stored differ:\n%s", diff)
	}
	day := time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)
	want := k
	want.Complaint, want.WhenHappens, want.Indication, want.Condition = "new complaint", "new when_happens", "new indication", "new condition"
	want.Accessories, want.TouchedBefore, want.IfNotRepaired, want.Bay = "new accessories", "new touched_before", shop.WishScrap, "new bay"
	want.PromisedOn, want.Limit, want.CustomerID, want.State = &day, &quote.Money{Minor: 15000, Currency: "EUR"}, other.ID, shop.OnBench
	want.Version = k.Version + int64(len(fixes))
	if diff := cmp.Diff(want, st.Ticket); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if st.Board.Serial != "new serial" || st.Customer.Name != "Fen Pumps" {
		t.Errorf("board %+v, customer %+v", st.Board, st.Customer)
	}
	old := map[string]string{}
	for _, e := range st.Entries[1:] {
		if e.Kind != journal.Corrected || e.Change.Reason != "typed wrong" {
			t.Errorf("%+v", e)
		}
		old[e.Change.Field] = e.Change.Old
	}
	if old["serial"] != "417" || old["customer"] != "Orla Fenwick" || old["limit"] != "ask first" || old["complaint"] != "pump does not start" || old["state"] != "taken_in" {
		t.Errorf("old values %v", old)
	}
	must(w.Correct(t.Context(), w.desk, k.ID, got.Version, shop.Correction{Field: "limit", Reason: "not agreed"}, shop.Correction{Field: "promised_on", Reason: "no"}))
	if st := w.story(k); st.Ticket.Limit != nil || st.Ticket.PromisedOn != nil {
		t.Errorf("%+v", st.Ticket)
	}
	_, err := w.Correct(t.Context(), w.desk, k.ID, got.Version+2, shop.Correction{Field: "customer", New: uuid.NewString(), Reason: "x"})
	wantField(t, "a customer who does not exist", err, "customer")
}

func TestAnEndIsCorrectedOnlyOutwards(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	_, err := w.Correct(t.Context(), w.owner, k.ID, k.Version, shop.Correction{Field: "state", New: string(shop.HandedOver), Reason: "x"})
	wantKind(t, "into an end", err, fault.Conflict)
	w.end(k)
	k = w.story(k).Ticket
	k = must(w.Correct(t.Context(), w.desk, k.ID, k.Version, shop.Correction{Field: "state", New: string(shop.ToHandOver), Reason: "not collected after all"}))
	w.end(k)
	w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	k = w.story(k).Ticket
	_, err = w.Correct(t.Context(), w.desk, k.ID, k.Version, shop.Correction{Field: "state", New: string(shop.ToHandOver), Reason: "x"})
	wantKind(t, "out of an end while the board is here again", err, fault.Conflict)
}

func TestVoid(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	wantField(t, "without a reason", w.Void(t.Context(), w.desk, k.ID, k.Version, " "), "reason")
	wantKind(t, "by the bench", w.Void(t.Context(), w.bench, k.ID, k.Version, "twice"), fault.Forbidden)
	wantKind(t, "changed since", w.Void(t.Context(), w.desk, k.ID, k.Version-1, "twice"), fault.Conflict)
	ok(w.Void(t.Context(), w.desk, k.ID, k.Version, "typed twice"))
	_, err := w.Move(t.Context(), w.desk, k.ID, k.Version, shop.OnShelf, "")
	wantKind(t, "a voided ticket moves", err, fault.Gone)
	st := w.story(k)
	if st.Ticket.VoidedAt == nil || st.Ticket.VoidReason != "typed twice" || st.Entries[1].Kind != journal.Voided {
		t.Errorf("%+v", st.Ticket)
	}
	list, _, err := w.OpenTickets(t.Context(), w.desk)
	found := must(w.Find(t.Context(), w.desk, "417"))
	if err != nil || len(list) != 0 || len(found) != 0 {
		t.Errorf("a voided ticket is in a list: %v %v", list, found)
	}
	if again := w.takeIn(func(in *shop.Intake) { in.Serial = "417" }); again.Number != 2 || again.ComebackOf != nil {
		t.Errorf("number %d, comeback of %v", again.Number, again.ComebackOf)
	}
}

func TestWaitingForAYesNeedsOne(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	answer := func(about string, a quote.Answer) {
		w.clock.pass(time.Minute)
		must(w.RecordConsent(t.Context(), w.desk, quote.Consent{TicketID: k.ID, About: about, TextShown: "as told", Who: "Orla", Answer: a, Way: "phone"}))
	}
	answer(quote.AboutRepair, quote.Yes) // an old yes does not answer a new question
	w.clock.pass(time.Minute)
	k = must(w.Move(t.Context(), w.bench, k.ID, w.story(k).Ticket.Version, shop.WaitingForYes, "module, 48 EUR"))
	_, err := w.Move(t.Context(), w.bench, k.ID, k.Version, shop.OnBench, "")
	wantKind(t, "without an answer", err, fault.Conflict)
	answer(quote.AboutRepair, quote.No)
	_, err = w.Move(t.Context(), w.bench, k.ID, k.Version, shop.OnBench, "")
	wantKind(t, "with a no", err, fault.Conflict)
	_, err = w.Move(t.Context(), w.desk, k.ID, k.Version, shop.Scrapped, "")
	wantKind(t, "scrapped without a yes to it", err, fault.Conflict)
	answer(quote.AboutScrap, quote.Yes)
	answer(quote.AboutScrap, quote.No) // changed their mind
	_, err = w.Move(t.Context(), w.desk, k.ID, k.Version, shop.Scrapped, "")
	wantKind(t, "scrapped after the yes was taken back", err, fault.Conflict)
	answer(quote.AboutScrap, quote.Yes)
	if k, err = w.Move(t.Context(), w.desk, k.ID, k.Version, shop.Scrapped, ""); err != nil || k.State != shop.Scrapped {
		t.Errorf("%s, %v", k.State, err)
	}
}

func TestAssignRevision(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d, f := w.revision("SEDGE", "D"), w.revision("SEDGE", "F")
	k := w.takeIn(func(in *shop.Intake) { in.RevisionID = &d.ID })
	_, err := w.AssignRevision(t.Context(), w.bench, k.ID, f.ID, "")
	wantField(t, "without a reason", err, "reason")
	_, err = w.AssignRevision(t.Context(), w.bench, k.ID, uuid.New(), "axial resistors")
	wantField(t, "unknown revision", err, "revision")
	k = must(w.AssignRevision(t.Context(), w.bench, k.ID, f.ID, "axial resistors"))
	st := w.story(k)
	if *k.ProfileVersionID != *f.ProfileVersionID || st.Board.RevisionName != "F" {
		t.Errorf("profile %v, board %+v", k.ProfileVersionID, st.Board)
	}
	if c := st.Entries[1].Change; c.Old != "SEDGE D" || c.New != "SEDGE F" || c.Reason != "axial resistors" {
		t.Errorf("%+v", c)
	}
	k = must(w.AssignRevision(t.Context(), w.bench, k.ID, uuid.Nil, "cannot be read"))
	if st := w.story(k); k.ProfileVersionID != nil || st.Board.RevisionName != "" || st.Board.FamilyName != "SEDGE" {
		t.Errorf("profile %v, board %+v", k.ProfileVersionID, st.Board)
	}
}
