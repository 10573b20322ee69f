package postgres

import (
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

func TestTakeInStoresAllThatWasSaid(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	day := time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)
	k := w.takeIn(func(in *shop.Intake) {
		in.Email, in.Serial, in.OwnTag, in.Bay = "orla@example.org", "SG-D 00417", "LQ 88", "B3"
		in.WhenHappens, in.Indication, in.Condition = "after rain", "two blinks", "corner cracked"
		in.Accessories, in.TouchedBefore, in.IfNotRepaired = "lead", "the installer", shop.WishReturn
		in.Limit, in.PromisedOn = &quote.Money{Minor: 12000, Currency: "EUR"}, &day
	})
	st := must(w.TicketByNumber(t.Context(), w.bench, 1))
	want := shop.Ticket{ID: k.ID, SiteID: w.owner.Site, Number: 1, BoardID: st.Board.ID, CustomerID: st.Customer.ID,
		State: shop.TakenIn, StateSince: w.clock.now(), PromisedOn: &day, Bay: "B3",
		Limit: &quote.Money{Minor: 12000, Currency: "EUR"}, Complaint: "pump does not start", WhenHappens: "after rain",
		Indication: "two blinks", Condition: "corner cracked", Accessories: "lead", TouchedBefore: "the installer",
		IfNotRepaired: shop.WishReturn, Version: 1, TakenInAt: w.clock.now()}
	if diff := cmp.Diff(want, st.Ticket); diff != "" {
		t.Errorf("stored (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(k, st.Ticket); diff != "" {
		t.Errorf("what TakeIn gave is not what is stored:\n%s", diff)
	}
	c := st.Customer
	if c.Name != "Orla Fenwick" || c.PhoneDigits != "351912345678" || c.Phone != "+351 912 345 678" || c.Email != "orla@example.org" {
		t.Errorf("%+v", c)
	}
	if st.Board.Serial != "SG-D 00417" || st.Board.OwnTag != "LQ 88" || st.Board.FamilyID != nil {
		t.Errorf("%+v", st.Board)
	}
	e := st.Entries
	if len(e) != 1 || e[0].Kind != journal.TakenIn || e[0].PersonName != "Mirela" || e[0].TicketVersion != 1 {
		t.Errorf("journal %+v", e)
	}
}

func TestTakeInIsAllOrNothing(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	count := func(table string) (n int) {
		_ = w.pool.QueryRow(t.Context(), `SELECT count(*) FROM `+table).Scan(&n)
		return n
	}
	unknown := uuid.New()
	for name, c := range map[string]struct {
		change func(in *shop.Intake)
		field  string
	}{
		"customer": {func(in *shop.Intake) { in.CustomerID = &unknown }, "customer"},
		"family":   {func(in *shop.Intake) { in.FamilyID = &unknown }, "family"},
		"revision": {func(in *shop.Intake) { in.RevisionID = &unknown }, "revision"},
		"form":     {func(in *shop.Intake) { in.Complaint = "" }, "complaint"},
	} {
		in := shop.Intake{Name: "Orla Fenwick", Phone: "912345678", Complaint: "dead", Serial: "X1"}
		c.change(&in)
		_, err := w.TakeIn(t.Context(), w.desk, in)
		wantField(t, name, err, c.field)
	}
	_, err := w.TakeIn(t.Context(), staff.Actor{Site: w.desk.Site, Role: "guest"}, shop.Intake{Name: "x", Phone: "912", Complaint: "y"})
	wantKind(t, "by a guest", err, fault.Forbidden)
	for _, table := range []string{"customer", "customer_word", "board", "ticket", "ticket_event", "document_series"} {
		if n := count(table); n != 0 {
			t.Errorf("%d rows in %s after refused intakes", n, table)
		}
	}
}

func TestTicketNumbersHaveNoGaps(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const desks, each = 4, 6
	var mu sync.Mutex
	var numbers []int64
	var wg sync.WaitGroup
	for d := range desks {
		wg.Go(func() {
			for i := range each {
				in := shop.Intake{Name: "Orla Fenwick", Phone: "912345678", Complaint: "dead"}
				if (d+i)%3 == 0 { // one that is rolled back after it took its number
					in.IfNotRepaired, in.Bay = shop.WishReturn, "broken"
					if err := w.takeInBroken(t, in); err == nil {
						t.Error("the broken intake went through")
					}
				}
				k, err := w.TakeIn(t.Context(), w.desk, in)
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				numbers = append(numbers, k.Number)
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	slices.Sort(numbers)
	for i, n := range numbers {
		if n != int64(i+1) {
			t.Fatalf("numbers %v", numbers)
		}
	}
	if len(numbers) != desks*each {
		t.Errorf("%d tickets", len(numbers))
	}
}

// takeInBroken takes a number in a transaction that fails afterwards.
func (w *world) takeInBroken(t *testing.T, _ shop.Intake) error {
	return w.within(t.Context(), "broken", func(tx *tx) error {
		if _, err := number(t.Context(), tx, w.desk.Site, "ticket"); err != nil {
			return nil // not the error that this is about
		}
		return fault.New(fault.Invalid, "broken off")
	})
}

func TestAKnownCustomersLimit(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := must(w.SaveCustomer(t.Context(), w.desk, shop.Customer{Name: "Fen Pumps", Phone: "912000111",
		StandingLimit: &quote.Money{Minor: 12000, Currency: "EUR"}}))
	for _, x := range []struct {
		name   string
		change func(in *shop.Intake)
		want   *quote.Money
	}{
		{"standing", func(in *shop.Intake) {}, &quote.Money{Minor: 12000, Currency: "EUR"}},
		{"another one", func(in *shop.Intake) { in.Limit = &quote.Money{Minor: 500, Currency: "EUR"} }, &quote.Money{Minor: 500, Currency: "EUR"}},
		{"ask first", func(in *shop.Intake) { in.AskFirst = true }, nil},
	} {
		k := w.takeIn(func(in *shop.Intake) { in.CustomerID = &c.ID; x.change(in) })
		if diff := cmp.Diff(x.want, w.story(k).Ticket.Limit); diff != "" {
			t.Errorf("%s: %s", x.name, diff)
		}
	}
}

func TestABoardIsKnownAgain(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	first := w.takeIn(func(in *shop.Intake) { in.Serial, in.OwnTag = "SG-D 00417", "LQ88" })
	_, err := w.TakeIn(t.Context(), w.desk, shop.Intake{Name: "Pim", Phone: "912999888", Complaint: "dead", Serial: "sgd00417"})
	wantKind(t, "the board is here", err, fault.Conflict)

	w.end(first)
	w.clock.pass(24 * time.Hour)
	for _, x := range []struct {
		name   string
		change func(in *shop.Intake)
		same   bool
		link   bool
	}{
		{"the serial written otherwise", func(in *shop.Intake) { in.Serial = "SGD 004 17" }, true, true},
		{"the tag alone", func(in *shop.Intake) { in.OwnTag = "lq-88" }, true, true},
		{"something else this time", func(in *shop.Intake) { in.Serial, in.NotAComeback = "SG-D 00417", true }, true, false},
		{"another serial", func(in *shop.Intake) { in.Serial = "SG-D 00418" }, false, false},
		{"no serial", func(in *shop.Intake) {}, false, false},
	} {
		k := w.takeIn(x.change)
		if (k.BoardID == first.BoardID) != x.same || (k.ComebackOf != nil) != x.link {
			t.Errorf("%s: same board %v, comeback %v", x.name, k.BoardID == first.BoardID, k.ComebackNumber)
		}
		w.end(k)
		w.clock.pass(time.Hour)
	}
	st := w.story(first)
	if len(st.Before) != 3 || st.Before[0].Number < st.Before[1].Number {
		t.Errorf("the board's other tickets: %+v", st.Before)
	}
}

// end returns a ticket's board unrepaired.
func (w *world) end(k shop.Ticket) {
	w.t.Helper()
	must(w.HandOver(w.t.Context(), w.desk, k.ID, k.Version, shop.HandOver{As: shop.ReturnedUnrepaired, To: "the customer", Text: "as agreed"}))
}

func TestTwoDesksTakeTheSameBoard(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	errs := make([]error, 4)
	var wg sync.WaitGroup
	for i := range errs {
		wg.Go(func() {
			_, errs[i] = w.TakeIn(t.Context(), w.desk, shop.Intake{Name: "Orla", Phone: "912345678", Complaint: "dead", Serial: "PH-A 7"})
		})
	}
	wg.Wait()
	won := 0
	for _, err := range errs {
		if err == nil {
			won++
		} else if fault.KindOf(err) != fault.Conflict {
			t.Error(err)
		}
	}
	var boards int
	_ = w.pool.QueryRow(t.Context(), `SELECT count(*) FROM board`).Scan(&boards)
	if won != 1 || boards != 1 {
		t.Errorf("%d tickets, %d boards", won, boards)
	}
}

func TestTheCountersRevisionDoesNotOverwriteTheBoards(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d, f := w.revision("SEDGE", "D"), w.revision("SEDGE", "F")
	hearth := w.revision("HEARTH", "2")
	first := w.takeIn(func(in *shop.Intake) { in.Serial, in.RevisionID = "417", &d.ID })
	if first.ProfileVersionID == nil || *first.ProfileVersionID != *d.ProfileVersionID {
		t.Error("the revision's profile is not pinned to the ticket")
	}
	w.end(first)
	again := w.takeIn(func(in *shop.Intake) { in.Serial, in.RevisionID = "417", &f.ID })
	st := w.story(again)
	if st.Board.RevisionName != "D" || *st.Ticket.ProfileVersionID != *d.ProfileVersionID {
		t.Errorf("the board became %s", st.Board.RevisionName)
	}
	if c := st.Entries[0].Change; c.Field != "revision" || c.Old != "SEDGE D" || c.New != "SEDGE F" {
		t.Errorf("what the counter read is lost: %+v", c)
	}
	w.end(again)
	if other := w.takeIn(func(in *shop.Intake) { in.Serial, in.RevisionID = "417", &hearth.ID }); other.BoardID == first.BoardID {
		t.Error("the same number on another family is another board")
	}
	wrong := shop.Intake{Name: "Orla", Phone: "912345678", Complaint: "dead", FamilyID: &d.FamilyID, RevisionID: &hearth.ID}
	_, err := w.TakeIn(t.Context(), w.desk, wrong)
	wantField(t, "a revision of another family", err, "revision")
}

func TestABoardIsLearned(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	first := w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	w.end(first)
	again := w.takeIn(func(in *shop.Intake) { in.Serial, in.OwnTag, in.RevisionID = "417", "LQ1", &d.ID })
	b := w.story(again).Board
	if again.BoardID != first.BoardID || b.RevisionName != "D" || b.OwnTag != "LQ1" || again.ProfileVersionID == nil {
		t.Errorf("%+v", b)
	}
}

// revision stores a profile of its own for a family's revision.
func (w *world) revision(family, name string) shop.Revision {
	w.t.Helper()
	key := family + "-" + name
	must(w.SyncProfiles(w.t.Context(), []shop.Profile{{Key: key, Family: family, FamilyTitle: "a board",
		Revision: name, YAML: []byte("id: " + key), Flattened: []byte("flat: " + key), Author: "shipped", Reason: "first"}}))
	for _, r := range must(w.Revisions(w.t.Context(), uuid.Nil)) {
		if r.FamilyName == family && r.Name == name {
			return r
		}
	}
	panic("revision was not stored")
}

// Whoever goes back to a form that was stored and takes in the next board with it
// must hear that this one is not stored; a form sent twice must not make two.
func TestAnIntakeIsStoredOnceByItsKey(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	monday := time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)
	in := shop.Intake{TicketID: must(uuid.NewV7()), Name: "Orla Fenwick", Phone: "912345678", Complaint: "hums ", Serial: "SD-1",
		Bay: "B3", Limit: &quote.Money{Minor: 9000, Currency: "EUR"}, PromisedOn: &monday}
	first := must(w.TakeIn(t.Context(), w.desk, in))
	again := must(w.TakeIn(t.Context(), w.desk, in))
	if again.ID != first.ID || again.Number != 1 || again.Version != first.Version {
		t.Errorf("sent twice: %+v", again)
	}
	chosen := in
	chosen.CustomerID, chosen.Name, chosen.Phone = &first.CustomerID, "", ""
	if k := must(w.TakeIn(t.Context(), w.desk, chosen)); k.ID != first.ID {
		t.Errorf("the same customer, chosen: ticket %d", k.Number)
	}
	tuesday := monday.AddDate(0, 0, 1)
	for name, change := range map[string]func(in *shop.Intake){
		"complaint": func(in *shop.Intake) { in.Complaint = "smells" }, "serial": func(in *shop.Intake) { in.Serial = "SD-2" },
		"tag": func(in *shop.Intake) { in.OwnTag = "T-9" }, "name": func(in *shop.Intake) { in.Name = "Orla Finch" },
		"bay": func(in *shop.Intake) { in.Bay = "" }, "day": func(in *shop.Intake) { in.PromisedOn = &tuesday },
		"no day": func(in *shop.Intake) { in.PromisedOn = nil }, "limit": func(in *shop.Intake) { in.Limit = &quote.Money{Minor: 1, Currency: "EUR"} },
		"ask":    func(in *shop.Intake) { in.Limit, in.AskFirst = nil, true },
		"family": func(in *shop.Intake) { in.FamilyID = &first.BoardID },
	} {
		other := in
		change(&other)
		_, err := w.TakeIn(t.Context(), w.desk, other)
		wantKind(t, "another "+name, err, fault.Conflict)
	}
	_, err := w.TakeIn(t.Context(), w.branch(), in)
	wantKind(t, "the key of another shop's ticket", err, fault.Conflict)
	if open, _, _ := w.OpenTickets(t.Context(), w.desk); len(open) != 1 {
		t.Errorf("%d tickets", len(open))
	}
}
