package web_test

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// takenIn is a ticket of Brook Farm's, with a limit of 120.00.
func (h *house) takenIn() shop.Ticket {
	h.t.Helper()
	k, err := h.store.TakeIn(h.t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Brook Farm", Phone: "061 555 0134", Serial: "SD-0417",
		Complaint: "hums", Indication: "two blinks", Bay: "B3", Limit: &quote.Money{Minor: 12000, Currency: "EUR"}})
	if err != nil {
		h.t.Fatal(err)
	}
	return k
}

func ticketAt(k shop.Ticket) string { return "/tickets/" + strconv.FormatInt(k.Number, 10) }

// step is the form that takes a ticket on, as the page with this version sends it.
func step(seen int64, to shop.State, reason string) url.Values {
	return url.Values{"seen": {strconv.FormatInt(seen, 10)}, "to": {string(to)}, "reason": {reason}}
}

func TestTicketPageOffersWhatTheRoleMayDo(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	desk, bench := h.as(mirela), h.as(tobin)
	desk.get(ticketAt(k)).wants(http.StatusOK).
		says("Ticket 1: board not known yet, two blinks, taken in.", "Put it on the shelf", "Return it unrepaired", "Make this ticket void").
		neverSays("Take it to the bench", "Scrap it")
	bench.get(ticketAt(k)).says("Put it on the shelf", "Take it to the bench", "Bench").neverSays("Make this ticket void")
	bench.post(ticketAt(k)+"/move", step(k.Version, shop.OnBench, "")).leadsTo(ticketAt(k) + "?done=moved")
	desk.get(ticketAt(k)).says("The next step is a technician’s.", "Tobin moved it from “taken in” to “on the bench”.").neverSays("Put it on soak")
	bench.get(ticketAt(k)).says("Put it on soak", "Wait for a part", "Which part, and from whom?")
	desk.post(ticketAt(k)+"/move", step(h.story(k).Ticket.Version, shop.OnSoak, "")).wants(http.StatusForbidden)
}

func TestAStepThatNeedsAReasonAsksForIt(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	h.moved(k, shop.OnBench, "")
	v := h.as(tobin)
	a := v.post(ticketAt(k)+"/move", step(h.story(k).Ticket.Version, shop.WaitingForPart, " ")).wants(http.StatusUnprocessableEntity)
	if a.problem("reason") == "" {
		t.Error("a step without its reason gets no message at the field")
	}
	v.post(ticketAt(k)+"/move", step(h.story(k).Ticket.Version, shop.WaitingForPart, "module from North Stock")).wants(http.StatusSeeOther)
	v.get(ticketAt(k)).says("Waiting for a part since", "The move is a supplier’s.", "Reason: module from North Stock")
}

func TestAStepThatNeedsAnAnswerLeadsToIt(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	h.moved(k, shop.OnBench, "")
	h.moved(k, shop.WaitingForYes, "a module for 90.00")
	v := h.as(tobin)
	v.get(ticketAt(k)).says("Take it to the bench: needs the customer’s yes or new limit.", "Record the customer’s answer")
	v.post(ticketAt(k)+"/move", step(h.story(k).Ticket.Version, shop.OnBench, "")).wants(http.StatusConflict).says("it needs the customer’s yes or new limit")
	_, err := h.store.RecordConsent(t.Context(), h.people[mirela].Actor(), quote.Consent{TicketID: k.ID, About: quote.AboutRepair,
		TextShown: "a module", Who: "Orla", Answer: quote.Yes, Way: "phone", AnsweredAt: h.now()})
	if err != nil {
		t.Fatal(err)
	}
	v.get(ticketAt(k)).says("Mirela wrote down the answer “yes” (Orla, phone: repair).").neverSays("Take it to the bench: needs")
	v.post(ticketAt(k)+"/move", step(h.story(k).Ticket.Version, shop.OnBench, "")).leadsTo(ticketAt(k) + "?done=moved")
}

func TestAStaleStepSaysWhoWasThere(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	h.moved(k, shop.OnBench, "")
	seen := h.story(k).Ticket.Version
	h.moved(k, shop.OnShelf, "") // by the owner
	a := h.as(tobin).post(ticketAt(k)+"/move", step(seen, shop.WaitingForPart, "module from North Stock")).wants(http.StatusConflict)
	a.says("Ansa", "moved it from “on the bench” to “on the shelf”", "Ticket 1: board not known yet, two blinks, on the shelf.")

	h.moved(k, shop.OnBench, "")
	a = h.as(tobin).post(ticketAt(k)+"/move", step(seen, shop.WaitingForPart, "module from North Stock")).wants(http.StatusConflict)
	if a.value("reason") != "module from North Stock" && !strings.Contains(a.body, `value="module from North Stock"`) {
		t.Error("the typed reason is lost")
	}
}

func TestNonsenseSteps(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	v := h.as(ansa)
	v.post(ticketAt(k)+"/move", step(k.Version, "on_the_moon", "")).wants(http.StatusUnprocessableEntity).says("Choose what to do")
	v.post(ticketAt(k)+"/move", step(k.Version, shop.HandedOver, "")).wants(http.StatusConflict)
	v.post(ticketAt(k)+"/move", url.Values{"to": {"on_the_shelf"}, "seen": {"x"}}).wants(http.StatusUnprocessableEntity).says("Load the ticket again")
	v.get("/tickets/999").wants(http.StatusNotFound)
	v.get("/tickets/none").wants(http.StatusNotFound).says("no ticket’s number")
	v.get("/tickets/-1").wants(http.StatusNotFound)
}

// correction is the form that puts a field right.
func correction(seen int64, field, now, reason string) url.Values {
	return url.Values{"seen": {strconv.FormatInt(seen, 10)}, "field": {field}, "new": {now}, "reason": {reason}, "do": {"store"}}
}

func TestCorrections(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	k := h.takenIn()
	v := h.as(mirela)
	cases := []struct{ field, typed, says string }{
		{"complaint", "hums when cold", "corrected the complaint from “hums” to “hums when cold”"},
		{"when_happens", "when cold", "corrected the when it happens from “nothing” to “when cold”"},
		{"indication", "three blinks", "corrected the indication from “two blinks” to “three blinks”"},
		{"condition", "clean", "corrected the condition"},
		{"accessories", "fan", "corrected the accessories"},
		{"touched_before", "a neighbour", "corrected the who worked on it before"},
		{"if_not_repaired", "scrap", "corrected the wish if not repaired from “nothing” to “scrap it”"},
		{"bay", "C1", "corrected the bay from “B3” to “C1”"},
		{"promised_on", "2026-12-04", "corrected the promised day from “nothing” to “Fri 4 Dec”"},
		{"limit", "95.50", "corrected the limit from “€120.00” to “€95.50”"},
		{"limit", "", "corrected the limit from “€95.50” to “ask first”"},
		{"serial", "SD-0471", "corrected the serial from “SD-0417” to “SD-0471”"},
		{"state", "on_the_shelf", "corrected the state from “taken in” to “on the shelf”"},
	}
	for _, c := range cases {
		v.get(ticketAt(k)+"/correct?field="+c.field).wants(http.StatusOK).says("Correct ticket 1", "Why was it wrong?")
		v.post(ticketAt(k)+"/correct", correction(h.story(k).Ticket.Version, c.field, c.typed, "heard wrongly")).leadsTo(ticketAt(k) + "?done=corrected")
		v.get(ticketAt(k)).says("Mirela "+c.says, "Reason: heard wrongly")
	}
}

func TestRefusedCorrectionsKeepWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	k := h.takenIn()
	v := h.as(mirela)
	long := strings.Repeat("x", 4001)
	cases := []struct{ field, typed, reason, at, message string }{
		{"complaint", "", "so", "new", "what the customer says"},
		{"complaint", long, "so", "new", "at most 4000"},
		{"complaint", "hums", " ", "reason", "Say why"},
		{"complaint", "hums", long, "reason", "at most 1000"},
		{"promised_on", "soon", "so", "new", "year-month-day"},
		{"promised_on", "2026-11-01", "so", "new", "has passed"},
		{"limit", "plenty", "so", "new", "in digits"},
		{"limit", "-1", "so", "new", "without a minus"},
		{"if_not_repaired", "burn", "so", "new", "Choose what to do"},
		{"state", "on_the_moon", "so", "new", "Choose a state"},
		{"state", "taken_in", "so", "new", "already taken in"},
		{"revision", "rev:none", "so", "new", "Choose a family and revision"},
		{"revision", "", "", "reason", "Say why"},
	}
	for _, c := range cases {
		a := v.post(ticketAt(k)+"/correct", correction(h.story(k).Ticket.Version, c.field, c.typed, c.reason)).wants(http.StatusUnprocessableEntity)
		if got := a.problem(c.at); !strings.Contains(got, c.message) {
			t.Errorf("%s = %.20q because %.20q: %s says %q, want %q", c.field, c.typed, c.reason, c.at, got, c.message)
		}
		if got := a.value("reason"); got != c.reason {
			t.Errorf("%s: the reason %q has become %q", c.field, c.reason, got)
		}
		choice := c.field == "if_not_repaired" || c.field == "state" || c.field == "revision"
		if got := a.value("new"); got != c.typed && !choice {
			t.Errorf("%s: %.20q was typed, %.20q stands there", c.field, c.typed, got)
		}
	}
	v.get(ticketAt(k) + "/correct?field=number").wants(http.StatusNotFound)
	v.post(ticketAt(k)+"/correct", correction(1, "number", "9", "so")).wants(http.StatusNotFound)
	v.post(ticketAt(k)+"/correct", correction(k.Version, "state", "handed_over", "so")).wants(http.StatusConflict).says("not reached by a correction")
	if got := h.story(k).Ticket.Version; got != k.Version {
		t.Errorf("refused corrections took the ticket from version %d to %d", k.Version, got)
	}
}

func TestAStaleCorrectionSaysWhoChangedIt(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	h.as(ansa).post(ticketAt(k)+"/correct", correction(k.Version, "bay", "C1", "moved")).wants(http.StatusSeeOther)
	v := h.as(mirela)
	v.post(ticketAt(k)+"/correct", correction(k.Version, "complaint", "hums loudly", "another field does not disturb")).wants(http.StatusSeeOther)
	a := v.post(ticketAt(k)+"/correct", correction(k.Version, "bay", "D4", "on the floor")).wants(http.StatusConflict)
	a.says("Ansa corrected the bay from “B3” to “C1”", "It now says: C1")
	a.kept(url.Values{"new": {"D4"}, "reason": {"on the floor"}, "field": {"bay"}})
	seen, err := strconv.ParseInt(a.value("seen"), 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	v.post(ticketAt(k)+"/correct", correction(seen, "bay", "D4", "on the floor")).wants(http.StatusSeeOther)
	if got := h.story(k).Ticket.Bay; got != "D4" {
		t.Errorf("the bay is %q", got)
	}
}

func TestTheRightCustomerIsLookedUp(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k, c := h.takenIn(), h.knownPumps()
	v := h.as(mirela)
	form := with(correction(k.Version, "customer", "", "the other one"), "do", "look-up", "who", "0133")
	a := v.post(ticketAt(k)+"/correct", form).wants(http.StatusOK).says("Brackenholm Pumps").neverSays("a new customer")
	if a.value("customer") != c.ID.String() || a.value("reason") != "the other one" {
		t.Errorf("chosen %q, reason %q", a.value("customer"), a.value("reason"))
	}
	v.post(ticketAt(k)+"/correct", with(form, "do", "store")).wants(http.StatusUnprocessableEntity).says("Choose a customer.")
	v.post(ticketAt(k)+"/correct", with(form, "do", "store", "customer", c.ID.String())).wants(http.StatusSeeOther)
	v.get(ticketAt(k)).says("corrected the customer from “Brook Farm” to “Brackenholm Pumps”")
}

func TestTheRevisionIsCorrected(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knowSedge()
	k := h.takenIn()
	v := h.as(tobin)
	rev := h.revision("SEDGE", "D")
	v.get(ticketAt(k)+"/correct?field=revision").says("It now says: board not known yet", "SEDGE D")
	v.post(ticketAt(k)+"/correct", correction(k.Version, "revision", "rev:"+rev.ID.String(), "read on the board")).wants(http.StatusSeeOther)
	v.get(ticketAt(k)).says("Ticket 1: SEDGE D, two blinks, taken in.", "Tobin set the board’s revision from “nothing” to “SEDGE D”.")
	a := h.as(mirela).post(ticketAt(k)+"/correct", correction(k.Version, "revision", "", "cannot be read")).wants(http.StatusConflict)
	a.says("Tobin set the board’s revision", "It now says: SEDGE D").kept(url.Values{"new": {""}, "reason": {"cannot be read"}})
}

func TestVoiding(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.takenIn()
	v := h.as(mirela)
	v.get(ticketAt(k)+"/void").wants(http.StatusOK).says("Make ticket 1 void?", "This cannot be undone.", "Keep the ticket")
	a := v.post(ticketAt(k)+"/void", step(k.Version, "", " ")).wants(http.StatusUnprocessableEntity)
	if a.problem("reason") == "" {
		t.Error("voiding without a reason gets no message at the field")
	}
	h.moved(k, shop.OnShelf, "")
	a = v.post(ticketAt(k)+"/void", step(k.Version, "", "taken in twice")).wants(http.StatusConflict).says("Ansa moved it")
	if a.value("reason") != "taken in twice" {
		t.Error("the typed reason is lost")
	}
	v.post(ticketAt(k)+"/void", step(h.story(k).Ticket.Version, "", "taken in twice")).leadsTo("/counter?voided=yes")
	v.get("/counter?voided=yes").says("The ticket is void.", "No board is in the shop.")
	v.get(ticketAt(k)).wants(http.StatusOK).says("Ticket 1: board not known yet, two blinks, void.", "Reason: taken in twice").neverSays("Put it", "correct")
	v.get(ticketAt(k) + "/void").wants(http.StatusGone)
	v.post(ticketAt(k)+"/move", step(99, shop.OnBench, "")).wants(http.StatusGone)
}
