package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// dividerProfile is a board that exists nowhere: a divider on a 12 V rail, and a
// block whose function has to be proven.
const dividerProfile = `format: ohmstead/board-profile/1
id: test-divider-1
title: Draught divider
revision: "1"
ground: com
parts:
  R13: {kind: resistor, pins: [v12, adc], value: 10k, tolerance: 1 %}
  R14: {kind: resistor, pins: [adc, com], value: 6.8k, tolerance: 1 %}
points:
  TP3: {node: adc}
states:
  live:
    hazard: extra_low_voltage
    sources:
      - {name: v12, plus: v12, minus: com, volts: 12 V, tolerance: 2 %}
checks:
  - {id: k1, state: cold, measure: resistance, across: R13}
  - {id: k2, state: live, measure: dc_volts, red: TP3}
blocks:
  draught: {title: Draught switch, parts: [R13, R14], safety: true}
`

// divider takes in a board that has the profile, on the bench.
func (h *house) divider() shop.Ticket {
	h.t.Helper()
	ctx := h.t.Context()
	_, err := h.store.SyncProfiles(ctx, []shop.Profile{{Key: "test-divider-1", Family: "DIVIDER", FamilyTitle: "draught divider", Revision: "1",
		YAML: []byte(dividerProfile), Flattened: []byte(dividerProfile), Author: "Ohmstead", Reason: "shipped"}})
	if err != nil {
		h.t.Fatal(err)
	}
	revisions, err := h.store.Revisions(ctx, uuid.Nil)
	if err != nil {
		h.t.Fatal(err)
	}
	k, err := h.store.TakeIn(ctx, h.people[mirela].Actor(), shop.Intake{Name: "Brook Farm", Phone: "061 555 0134", FamilyID: &revisions[0].FamilyID,
		RevisionID: &revisions[0].ID, Serial: "DV-7", Complaint: "Draught fault shown", Limit: &quote.Money{Minor: 6000, Currency: "EUR"}})
	if err != nil {
		h.t.Fatal(err)
	}
	h.moved(k, shop.OnBench, "")
	return k
}

// repaired reads R13 open, replaces it and reads it again.
func (h *house) repaired(k shop.Ticket) {
	h.t.Helper()
	ctx, by := h.t.Context(), h.people[tobin].Actor()
	st := h.story(k)
	at := h.now().Add(-time.Hour)
	good, live := 10_010.0, 4.86
	base := evidence.Reading{ProfileVersionID: st.Ticket.ProfileVersionID, PersonID: by.Person}
	before, after, volts := base, base, base
	before.Stage, before.CheckKey, before.State, before.Measure, before.Across, before.Typed, before.OverRange, before.TakenAt =
		evidence.StageBefore, "k1", "cold", "resistance", "R13", "OL", true, at
	after.Stage, after.CheckKey, after.State, after.Measure, after.Across, after.Typed, after.Value, after.TakenAt =
		evidence.StageAfter, "k1", "cold", "resistance", "R13", "10.01k", &good, at.Add(20*time.Minute)
	volts.Stage, volts.CheckKey, volts.State, volts.Measure, volts.Red, volts.Typed, volts.Value, volts.TakenAt =
		evidence.StageAfter, "k2", "live", "dc_volts", "TP3", "4.86", &live, at.Add(30*time.Minute)
	batch := []evidence.Reading{before, after, volts}
	for i := range batch {
		batch[i].ID = uuid.Must(uuid.NewV7())
	}
	got, err := h.store.StoreReadings(ctx, by, k.ID, batch)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, r := range got {
		if r.Outcome != evidence.Stored {
			h.t.Fatalf("reading: %+v", r)
		}
	}
	if _, err := h.store.AddFinding(ctx, by, evidence.Finding{TicketID: k.ID, Part: "R13", Mode: "open", Words: "cracked end cap", TakenAt: at.Add(5 * time.Minute)}); err != nil {
		h.t.Fatal(err)
	}
	if _, err := h.store.AddFitted(ctx, by, evidence.Fitted{TicketID: k.ID, Part: "R13", What: "10k 1 % 0603", TakenAt: at.Add(10 * time.Minute)}); err != nil {
		h.t.Fatal(err)
	}
}

// quoted sends a quote of 49.32.
func (h *house) quoted(k shop.Ticket) {
	h.t.Helper()
	h.as(tobin).post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "send", chips, labour)).leadsTo(quoteAt(k) + "?done=sent")
}

func handOverAt(k shop.Ticket) string { return ticketAt(k) + "/hand-over" }

// typedHandOver is a hand-over that is all right.
func typedHandOver(h *house, k shop.Ticket) url.Values {
	return url.Values{"seen": {strconv.FormatInt(h.story(k).Ticket.Version, 10)}, "as": {"handed_over"}, "to": {"Mrs Brook"},
		"text": {"Replaced R13."}, "advice": {"Look at the seal."}, "block:draught": {"Switch opened: the fault is shown. 4.86 V closed."}}
}

func TestHandOverSaysWhatIsMissingAndWhere(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	a := h.as(tobin).get(handOverAt(k)).wants(http.StatusOK)
	a.says("The board is on the bench. As repaired it goes back only when it is “to be handed over”. Move it on the ticket",
		"Nothing is written down as found. Write down what was found", "No quote was sent; the slip bears no price. Write the quote",
		"Nothing found, fitted or measured is on record.")
	if strings.Contains(a.body, `action="`+handOverAt(k)) {
		t.Error("a board on the bench can be handed over")
	}
	h.as(mirela).get(handOverAt(k)).says("Ask on the bench.")
	h.as(tobin).post(handOverAt(k), typedHandOver(h, k)).wants(http.StatusConflict).says("cannot become handed over")
	if st := h.story(k); st.Ticket.State != shop.OnBench || len(st.Documents) != 0 {
		t.Errorf("state %s, %d documents", st.Ticket.State, len(st.Documents))
	}
}

func TestHandOverWithTheEvidence(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	h.quoted(k)
	h.moved(k, shop.ToHandOver, "")
	v := h.as(mirela)
	v.get(handOverAt(k)).wants(http.StatusOK).says("Draught switch: how it was proven", "R13: open, cracked end cap", "10k 1 % 0603", "10.01 kΩ",
		"Price as quoted (version 1): €49.32").neverSays("Before it goes")
	if a := v.get(handOverAt(k)); a.value("text") != "Replaced R13." || a.value("as") != "handed_over" {
		t.Errorf("proposed: %q as %q", a.value("text"), a.value("as"))
	}
	slip := ticketAt(k) + "/slip/1"
	v.post(handOverAt(k), typedHandOver(h, k)).leadsTo(slip + "?done=yes")
	if st := h.story(k); st.Ticket.State != shop.HandedOver {
		t.Fatalf("state %s", st.Ticket.State)
	}
	until := h.site.Day(h.now()).AddDate(0, 0, 180)
	v.get(slip+"?done=yes").wants(http.StatusOK).says("The board is handed over. Print this slip and have it signed.", "Hand-over slip 1",
		"Handed over repaired to Mrs Brook.", "Brook Farm", "DIVIDER 1, serial DV-7", "Draught fault shown", "R13: open, cracked end cap",
		"R13: 10k 1 % 0603", "OL", "10.01 kΩ", "4.86 V", "Draught switch Switch opened: the fault is shown. 4.86 V closed.",
		"Guarantee on the repair until "+until.Format("2 Jan 2006"), "Look at the seal.", "€49.32", shop.Notice, "Name and signature").
		neverSays("Sign out", "Counter")

	v.get(handOverAt(k)).says("The board is handed over since", "Open its slip")
	v.post(handOverAt(k), typedHandOver(h, k)).wants(http.StatusConflict).says("Open its slip")
	if n := len(h.story(k).Documents); n != 2 { // the quote and one slip
		t.Errorf("%d documents", n)
	}
}

// What changes after the hand-over does not reach the paper.
func TestTheSlipStaysAsItWasGiven(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	h.moved(k, shop.ToHandOver, "")
	v := h.as(tobin)
	v.post(handOverAt(k), typedHandOver(h, k)).wants(http.StatusSeeOther)
	slip := ticketAt(k) + "/slip/1"
	before := v.get(slip).wants(http.StatusOK).text()

	ctx, owner := t.Context(), h.people[ansa].Actor()
	site := h.site
	site.Name, site.Address = "Another Name", "Elsewhere"
	terms := termsOfTheHouse()
	terms.GuaranteeDays = 3
	if err := h.store.SaveShop(ctx, owner, site, terms); err != nil {
		t.Fatal(err)
	}
	customer := h.story(k).Customer
	customer.Name = "Brook Farm Ltd"
	if _, err := h.store.SaveCustomer(ctx, owner, customer); err != nil {
		t.Fatal(err)
	}
	if after := v.get(slip).wants(http.StatusOK).text(); after != before {
		t.Errorf("the slip changed:\n%s\nwas\n%s", after, before)
	}
}

func TestBadHandOversComeBackAsTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	h.moved(k, shop.ToHandOver, "")
	v := h.as(mirela)
	long := strings.Repeat("x", 20_000)
	cases := []struct{ field, typed, message string }{
		{"as", "", "Choose whether the board goes back repaired or unrepaired."},
		{"as", "on_soak", "Choose whether the board goes back repaired or unrepaired."},
		{"to", " ", "Write down who takes the board."},
		{"to", long, "Use at most"},
		{"text", "", "Write down what was done"},
		{"text", long, "Use at most"},
		{"advice", long, "Use at most"},
		{"block:draught", "", "Write down how this safety function was proven."},
		{"block:draught", long, "Use at most"},
	}
	for _, c := range cases {
		form := typedHandOver(h, k)
		form.Set(c.field, c.typed)
		a := v.post(handOverAt(k), form).wants(http.StatusUnprocessableEntity)
		if got := a.problem(c.field); !strings.Contains(got, c.message) {
			t.Errorf("%s = %.20q: the message beside it is %q, want %q", c.field, c.typed, got, c.message)
		}
		for _, field := range []string{"to", "text", "advice", "block:draught"} {
			if got, want := a.value(field), form.Get(field); got != strings.TrimSpace(want) && got != want {
				t.Errorf("%s = %.20q: %s came back as %.40q, typed %.40q", c.field, c.typed, field, got, want)
			}
		}
	}
	missing := typedHandOver(h, k)
	missing.Del("block:draught") // a form that leaves the block out proves nothing
	if got := v.post(handOverAt(k), missing).wants(http.StatusUnprocessableEntity).problem("block:draught"); got == "" {
		t.Error("a hand-over that does not mention the safety block went through the form")
	}
	if st := h.story(k); st.Ticket.State != shop.ToHandOver || len(st.Documents) != 0 {
		t.Errorf("state %s, %d documents", st.Ticket.State, len(st.Documents))
	}
	v.post(handOverAt(k), url.Values{"as": {"handed_over"}, "to": {"x"}, "text": {"y"}, "block:draught": {"z"}}).
		wants(http.StatusUnprocessableEntity)
}

func TestAnUnrepairedBoardGoesBackUnproven(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.moved(k, shop.OnShelf, "")
	form := typedHandOver(h, k)
	form.Set("as", "returned_unrepaired")
	form.Set("text", "The customer said no.")
	form.Del("block:draught")
	v := h.as(mirela)
	v.post(handOverAt(k), form).leadsTo(ticketAt(k) + "/slip/1?done=yes")
	v.get(ticketAt(k)+"/slip/1").says("Returned unrepaired to Mrs Brook.", "Not proven: Draught switch.").neverSays("Guarantee", "Price as quoted")
	if st := h.story(k); st.Ticket.State != shop.ReturnedUnrepaired {
		t.Errorf("state %s", st.Ticket.State)
	}
}

func TestAHandOverThatMetAChangeKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	h.moved(k, shop.ToHandOver, "")
	form := typedHandOver(h, k)
	h.moved(k, shop.OnBench, "it blinked again")
	h.moved(k, shop.ToHandOver, "")
	v := h.as(mirela)
	a := v.post(handOverAt(k), form).wants(http.StatusConflict)
	if a.value("to") != "Mrs Brook" || a.value("block:draught") != form.Get("block:draught") {
		t.Errorf("came back to %q, proof %q", a.value("to"), a.value("block:draught"))
	}
	form.Set("seen", a.value("seen"))
	v.post(handOverAt(k), form).wants(http.StatusSeeOther)
}

func TestSlipsAreFoundByTheirOwnTicketOnly(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.moved(k, shop.OnShelf, "")
	form := typedHandOver(h, k)
	form.Set("as", "returned_unrepaired")
	v := h.as(mirela)
	v.post(handOverAt(k), form).wants(http.StatusSeeOther)
	for _, path := range []string{"/tickets/999/slip/1", ticketAt(k) + "/slip/2", ticketAt(k) + "/slip/0", ticketAt(k) + "/slip/one", "/tickets/x/hand-over"} {
		v.get(path).wants(http.StatusNotFound)
	}
	v.get(fmt.Sprintf("%s/slip/%d", ticketAt(k), 1)).wants(http.StatusOK)
}

// A board that was powered and not read dead since is named before it is packed.
func TestAPoweredBoardIsNotPackedUnnoticed(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.divider()
	h.repaired(k)
	ctx, by := t.Context(), h.people[tobin].Actor()
	at := h.now().Add(-10 * time.Minute)
	for i, on := range []bool{true, false} {
		p := evidence.PowerEvent{ID: uuid.Must(uuid.NewV7()), TicketID: k.ID, On: on, State: "live", TakenAt: at.Add(time.Duration(i) * time.Minute)}
		if err := h.store.StorePowerEvent(ctx, by, p); err != nil {
			t.Fatal(err)
		}
	}
	h.moved(k, shop.ToHandOver, "")
	h.as(tobin).get(handOverAt(k)).says("It was powered after it was last proven dead.")
	before, after := at.Add(2*time.Minute), at.Add(4*time.Minute)
	_, err := h.store.StoreDeadProof(ctx, by, evidence.DeadProof{ID: uuid.Must(uuid.NewV7()), TicketID: k.ID, Part: "supply", BeforeAt: &before, BeforeOK: true,
		ReadAt: at.Add(3 * time.Minute), AfterAt: &after, AfterOK: true, TakenAt: after})
	if err != nil {
		t.Fatal(err)
	}
	h.as(tobin).get(handOverAt(k)).neverSays("It was powered after it was last proven dead.")
}
