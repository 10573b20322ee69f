package postgres

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
)

// brought is a board of a revision that shows something, on the bench.
func (w *world) brought(rev shop.Revision, serial, shows string) shop.Ticket {
	w.t.Helper()
	w.clock.pass(24 * time.Hour)
	return w.move(w.takeIn(func(in *shop.Intake) { in.RevisionID, in.Serial, in.Indication = &rev.ID, serial, shows }), shop.OnBench)
}

func (w *world) found(k shop.Ticket, part, mode string) evidence.Finding {
	w.t.Helper()
	return must(w.AddFinding(w.t.Context(), w.bench, evidence.Finding{TicketID: k.ID, Part: part, Mode: mode, Words: "seen open"}))
}

// What was confirmed on other boards of the family, whatever their revision,
// teaches; what was withdrawn, voided, or found on the ticket itself does not.
func TestFamilyCauses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d, f, other := w.revision("SEDGE", "D"), w.revision("SEDGE", "F"), w.revision("HEARTH", "2")
	a, b, c, e := w.brought(d, "1", ""), w.brought(f, "2", ""), w.brought(d, "3", ""), w.brought(d, "4", "")
	w.found(a, "C18", "tired")
	w.found(a, "R13", "open")
	w.found(b, "C18", "tired")
	w.found(w.brought(other, "5", ""), "C18", "tired")
	wrong := w.found(c, "C18", "short")
	ok(w.WithdrawFinding(t.Context(), w.bench, c.ID, wrong.ID, "it was the probe"))
	must(w.AddFinding(t.Context(), w.bench, evidence.Finding{TicketID: c.ID, Words: "water"}))
	must(w.AddFinding(t.Context(), w.bench, evidence.Finding{TicketID: c.ID, Part: "C18", Words: "somehow"}))
	w.found(e, "R13", "open")
	ok(w.Void(t.Context(), w.owner, e.ID, w.story(e).Ticket.Version, "entered twice"))

	causes := func(k shop.Ticket) past.Causes {
		return must(w.FamilyCauses(t.Context(), w.bench, d.FamilyID, k.ID))
	}
	all := causes(shop.Ticket{})
	if all.Boards() != 2 || all.Of("C18") != 2 || all.Of("R13") != 1 || len(all) != 3 {
		t.Errorf("%+v", all)
	}
	own := causes(a)
	if diff := cmp.Diff(past.Causes{{Ticket: b.ID, Part: "C18", Mode: "tired"}}, own); diff != "" {
		t.Errorf("a ticket's own finding counts for itself:\n%s", diff)
	}
	if got := must(w.FamilyCauses(t.Context(), w.branch(), d.FamilyID, a.ID)); len(got) != 0 {
		t.Errorf("another shop's: %+v", got)
	}
}

// How boards that showed the same went: those of the family alone, newest first,
// under every way in which that was written down.
func TestLikeStays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d, f, other := w.revision("SEDGE", "D"), w.revision("SEDGE", "F"), w.revision("HEARTH", "2")
	first := w.brought(d, "1", "two blinks, pause")
	w.found(first, "R13", "open")
	second := w.brought(f, "2", "2: Two Blinks")
	w.end(w.move(second, shop.OnShelf))
	w.brought(d, "3", " 2 ") // still open, nothing found: it has not turned out to be anything
	w.found(w.brought(d, "4", "three blinks"), "R17", "open")
	w.found(w.brought(other, "5", "2"), "R17", "open")
	voided := w.brought(d, "6", "2")
	w.found(voided, "R1", "open")
	ok(w.Void(t.Context(), w.owner, voided.ID, w.story(voided).Ticket.Version, "entered twice"))
	own := w.brought(d, "7", "2")
	w.found(own, "R2", "open")

	like := past.Like{Family: d.FamilyID, Board: own.BoardID, Texts: []string{"2", "two blinks, pause"}, Prefix: "2:"}
	got := must(w.LikeStays(t.Context(), w.desk, like))
	want := []past.Stay{
		{Number: second.Number, State: shop.ReturnedUnrepaired, Revision: "F", Indication: "2: Two Blinks", TakenInAt: second.TakenInAt, Minutes: num(0)},
		{Number: first.Number, State: shop.OnBench, Revision: "D", Indication: "two blinks, pause", TakenInAt: first.TakenInAt, Minutes: num(0),
			Findings: []past.Finding{{Part: "R13", Mode: "open", Words: "seen open"}}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	if all := must(w.LikeStays(t.Context(), w.desk, past.Like{Family: d.FamilyID, Board: own.BoardID})); len(all) != 3 {
		t.Errorf("whatever they showed: %+v", all)
	}
	if got := must(w.LikeStays(t.Context(), w.branch(), like)); len(got) != 0 {
		t.Errorf("another shop's: %+v", got)
	}
	if got := must(w.LikeStays(t.Context(), w.desk, past.Like{Family: uuid.New(), Texts: []string{"2"}})); len(got) != 0 {
		t.Errorf("no such family: %+v", got)
	}
}

func num[T any](x T) *T { return &x }

// Minutes are those between what was recorded at the bench; a long pause, and the
// time while the board was elsewhere, do not count.
func TestMinutesAtTheBench(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	k := w.brought(d, "1", "2")
	read := func(after time.Duration, part string) {
		w.clock.pass(after)
		must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{w.ohms(k, part, 1000)}))
	}
	read(4*time.Minute, "R1") // 4
	read(2*time.Minute, "R2") // 6
	read(20*time.Hour, "R3")  // a night
	read(past.Pause, "R4")    // 36: just no pause
	w.clock.pass(3 * time.Minute)
	k = w.move(w.story(k).Ticket, shop.WaitingForPart) // 39
	w.clock.pass(10 * time.Minute)
	k = w.move(k, shop.OnBench) // elsewhere
	read(5*time.Minute, "R5")   // 44
	w.found(k, "R5", "open")
	got := must(w.LikeStays(t.Context(), w.bench, past.Like{Family: d.FamilyID, Texts: []string{"2"}}))
	if len(got) != 1 || got[0].Minutes == nil || *got[0].Minutes != 44 {
		t.Errorf("%+v, %v", got, *got[0].Minutes)
	}
	never := w.takeIn(func(in *shop.Intake) { in.RevisionID, in.Serial, in.Indication = &d.ID, "2", "3" })
	w.end(never)
	if got := must(w.LikeStays(t.Context(), w.bench, past.Like{Family: d.FamilyID, Texts: []string{"3"}})); len(got) != 1 || got[0].Minutes != nil {
		t.Errorf("never on the bench: %+v", got)
	}
}

// The price is that of the quote that was accepted, or charged; not of a draft, nor
// of one that was refused.
func TestThePriceOfAStay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	send := func(k shop.Ticket, price string) quote.Version {
		must(w.addLine(w.bench, k.ID, line("1", price)))
		return must(w.SendQuote(t.Context(), w.desk, k.ID, w.story(k).Ticket.Version))
	}
	answer := func(k shop.Ticket, v quote.Version, a quote.Answer) {
		must(w.RecordConsent(t.Context(), w.desk, quote.Consent{TicketID: k.ID, QuoteID: &v.ID, About: quote.AboutRepair,
			TextShown: "so much in all", Who: "Orla Fenwick", Answer: a, Way: "phone"}))
	}
	for shows, do := range map[string]func(k shop.Ticket){
		"draft":    func(k shop.Ticket) { must(w.addLine(w.bench, k.ID, line("1", "100"))) },
		"sent":     func(k shop.Ticket) { send(k, "100") },
		"refused":  func(k shop.Ticket) { answer(k, send(k, "100"), quote.No) },
		"accepted": func(k shop.Ticket) { answer(k, send(k, "100"), quote.Yes); send(k, "1") },
		"within the limit": func(k shop.Ticket) {
			send(k, "10")
			k = w.move(w.story(k).Ticket, shop.ToHandOver)
			must(w.HandOver(t.Context(), w.desk, k.ID, k.Version, shop.HandOver{As: shop.HandedOver, To: "Orla", Text: "repaired"}))
		},
	} {
		k := w.brought(d, shows, shows)
		w.found(k, "R1", "open")
		do(k)
	}
	for shows, want := range map[string]*quote.Money{ // 23 % tax
		"draft": nil, "sent": nil, "refused": nil,
		"accepted":         {Minor: 123_00, Currency: "EUR"},
		"within the limit": {Minor: 12_30, Currency: "EUR"},
	} {
		got := must(w.LikeStays(t.Context(), w.desk, past.Like{Family: d.FamilyID, Texts: []string{shows}}))
		if len(got) != 1 {
			t.Fatalf("%s: %+v", shows, got)
		}
		if diff := cmp.Diff(want, got[0].Price); diff != "" {
			t.Errorf("%s: %s", shows, diff)
		}
	}
}

// A stay came back when a later ticket of the board says so, and still stands.
func TestAStayThatCameBack(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	k := w.move(w.brought(d, "1", "2"), shop.OnShelf)
	w.end(k)
	back := func() bool {
		return must(w.LikeStays(t.Context(), w.desk, past.Like{Family: d.FamilyID, Texts: []string{"2"}}))[0].Back
	}
	if back() {
		t.Error("it came back before it did")
	}
	again := w.brought(d, "1", "3")
	if !back() {
		t.Error("a comeback is not noticed")
	}
	ok(w.Void(t.Context(), w.owner, again.ID, w.story(again).Ticket.Version, "entered twice"))
	if back() {
		t.Error("a voided ticket is a comeback")
	}
}
