package postgres

import (
	"maps"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/shop"
)

// takes stores a reading of R17 a minute later.
func (w *world) takes(k shop.Ticket, ohms float64, change ...func(r *evidence.Reading)) evidence.Reading {
	w.t.Helper()
	w.clock.pass(time.Minute)
	r := w.ohms(k, "R17", ohms)
	for _, f := range change {
		f(&r)
	}
	got := must(w.StoreReadings(w.t.Context(), w.bench, k.ID, []evidence.Reading{r}))
	if got[0].Outcome != evidence.Stored {
		w.t.Fatalf("%+v", got)
	}
	return r
}

// fit puts a part in a minute later.
func (w *world) fit(k shop.Ticket) {
	w.t.Helper()
	w.clock.pass(time.Minute)
	must(w.AddFitted(w.t.Context(), w.bench, evidence.Fitted{TicketID: k.ID, Part: "R17"}))
}

// repaired hands a board over.
func (w *world) repaired(k shop.Ticket) shop.Ticket {
	w.t.Helper()
	k = w.move(w.story(k).Ticket, shop.ToHandOver)
	must(w.HandOver(w.t.Context(), w.desk, k.ID, k.Version, shop.HandOver{As: shop.HandedOver, To: "Orla", Text: "repaired"}))
	return k
}

// goodOhms is what good boards of a revision read across R17, by ticket number.
func (w *world) goodOhms(rev shop.Revision, except shop.Ticket, meter *uuid.UUID) map[int64]float64 {
	w.t.Helper()
	out := map[int64]float64{}
	for _, r := range must(w.GoodReadings(w.t.Context(), w.bench, rev.ID, except.ID, meter)) {
		k := must(w.TicketByID(w.t.Context(), w.desk, r.TicketID)).Ticket
		if _, twice := out[k.Number]; twice || r.Across != "R17" {
			w.t.Errorf("%+v", r)
		}
		out[k.Number] = *r.Value
	}
	return out
}

// Good boards are those of the revision that were handed over repaired. Of each the
// last reading after the last part counts, once.
func TestGoodReadings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d, f := w.revision("SEDGE", "D"), w.revision("SEDGE", "F")
	want := map[int64]float64{}

	k := w.brought(d, "1", "2")
	w.takes(k, 41e3) // as it came
	w.found(k, "R17", "high")
	w.fit(k)
	w.takes(k, 6.70e3)
	w.takes(k, 6.79e3)
	want[w.repaired(k).Number] = 6.79e3

	k = w.brought(d, "2", "") // nothing was found, nothing fitted
	w.takes(k, 6.81e3)
	want[w.repaired(k).Number] = 6.81e3

	k = w.brought(d, "3", "2") // a part, and no reading after it
	w.takes(k, 39e3)
	w.fit(k)
	w.repaired(k)

	k = w.brought(d, "4", "2") // a joint: nothing was fitted, the cause was confirmed
	w.takes(k, 38e3)
	w.clock.pass(time.Minute)
	w.found(k, "R17", "open")
	w.takes(k, 6.80e3)
	want[w.repaired(k).Number] = 6.80e3

	w.takes(w.brought(d, "5", "2"), 6.7e3) // still here
	k = w.brought(d, "6", "2")
	w.takes(k, 40e3)
	w.end(w.move(k, shop.OnShelf)) // returned unrepaired
	k = w.brought(f, "7", "2")
	w.takes(k, 9.1e3)
	w.repaired(k) // another revision

	if diff := cmp.Diff(want, w.goodOhms(d, shop.Ticket{}, nil)); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	all := maps.Clone(want)
	for number := range want {
		own := must(w.TicketByNumber(t.Context(), w.desk, number)).Ticket
		delete(all, number)
		if diff := cmp.Diff(all, w.goodOhms(d, own, nil)); diff != "" {
			t.Errorf("ticket %d counts for itself:\n%s", number, diff)
		}
		all[number] = want[number]
	}
	if got := must(w.GoodReadings(t.Context(), w.branch(), d.ID, uuid.Nil, nil)); len(got) != 0 {
		t.Errorf("another shop's: %+v", got)
	}
}

// A board that comes back is no good board any more, as a comeback or as something
// else; entered by mistake, it never came.
func TestAGoodBoardThatComesBackIsWithdrawn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	k := w.brought(d, "1", "2")
	w.takes(k, 6.8e3)
	k = w.repaired(k)
	for _, something := range []bool{false, true} {
		w.clock.pass(24 * time.Hour)
		again := w.takeIn(func(in *shop.Intake) { in.RevisionID, in.Serial, in.NotAComeback = &d.ID, "1", something })
		if got := w.goodOhms(d, shop.Ticket{}, nil); len(got) != 0 {
			t.Errorf("it is here again, and counts: %v", got)
		}
		ok(w.Void(t.Context(), w.owner, again.ID, w.story(again).Ticket.Version, "entered twice"))
		if got := w.goodOhms(d, shop.Ticket{}, nil); got[k.Number] != 6.8e3 {
			t.Errorf("it never came back, and does not count: %v", got)
		}
	}
}

// What says nothing of a good board in place does not count, and what was measured
// with another meter does not count for this one.
func TestGoodReadingsThatDoNotCount(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	k := w.brought(d, "1", "2")
	w.takes(k, 6.8e3)
	for _, change := range []func(r *evidence.Reading){
		func(r *evidence.Reading) { r.Condition = evidence.ConditionNotOnMetal },
		func(r *evidence.Reading) { r.Moving = "up" },
		func(r *evidence.Reading) { r.Subject = evidence.SubjectNew },
		func(r *evidence.Reading) { r.Residue = num(0.4) },
		func(r *evidence.Reading) { r.Value, r.Agrees = nil, true },
		func(r *evidence.Reading) { r.Value, r.NotPossible = nil, true },
	} {
		w.takes(k, 1e3, change)
	}
	ok(w.Strike(t.Context(), w.bench, k.ID, w.takes(k, 2e3).ID, "slipped"))
	k = w.repaired(k)
	if got := w.goodOhms(d, shop.Ticket{}, nil); len(got) != 1 || got[k.Number] != 6.8e3 {
		t.Errorf("%v", got)
	}
	if got := w.goodOhms(d, shop.Ticket{}, num(uuid.New())); len(got) != 0 {
		t.Errorf("of another meter: %v", got)
	}
	k = w.brought(d, "2", "2")
	w.takes(k, 0, func(r *evidence.Reading) { r.Value, r.OverRange = nil, true })
	w.repaired(k)
	list := must(w.GoodReadings(t.Context(), w.bench, d.ID, uuid.Nil, nil))
	if len(list) != 2 {
		t.Errorf("over-range counts too: %+v", list)
	}
}
