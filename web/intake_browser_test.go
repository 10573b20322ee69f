package web_test

import (
	"testing"

	"ohmstead/internal/shop"
)

// openIntake opens the form; the cursor stands in its first field by itself.
func (b *tab) openIntake() {
	b.t.Helper()
	b.open("/take-in")
	b.until(`document.activeElement.id === "f-who"`)
}

// A known customer's board comes in within 15 keystrokes besides the complaint:
// its revision, its serial and the customer's limit included.
func TestAKnownCustomersBoardIsInWithin15Keystrokes(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knowSedge()
	c := h.knownPumps()
	b := h.browserAs(mirela, 1280)
	b.openIntake()
	b.press("0133\r")
	complaint := "does not start"
	b.press(complaint)
	b.press("\ts\tSD-9")
	b.press("\r")
	b.until(`location.pathname === "/tickets/2"`)
	if n := b.keys - len(complaint); n > 15 {
		t.Errorf("%d keystrokes, want at most 15", n)
	}
	st, err := h.store.TicketByNumber(t.Context(), h.people[mirela].Actor(), 2)
	if err != nil {
		t.Fatal(err)
	}
	k := st.Ticket
	if st.Customer.ID != c.ID || k.Complaint != complaint || st.Board.Serial != "SD-9" || st.Board.RevisionName != "D" || k.Limit == nil || k.Limit.Minor != 12000 {
		t.Errorf("stored: %s, %q, serial %q, revision %q, limit %v", st.Customer.Name, k.Complaint, st.Board.Serial, st.Board.RevisionName, k.Limit)
	}
}

// While digits are typed the matches appear; the trader's limit fills itself in,
// but never over one that somebody typed.
func TestTheIntakesScript(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knowSedge()
	h.knownPumps()
	if _, err := h.store.TakeIn(t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Ide Marram", Phone: "061 777 0133", Complaint: "dead", AskFirst: true}); err != nil {
		t.Fatal(err)
	}
	h.ended(1)
	b := h.browserAs(mirela, 400)
	b.openIntake()
	if b.is(`String(document.getElementById("look-up").hidden)`) != "true" {
		t.Error("the look-up button is still there, though the page looks up by itself")
	}
	b.press("0133")
	b.until(`document.querySelectorAll("#matches input").length === 3`)
	if got := b.is(`document.getElementById("f-limit").value`); got != "" {
		t.Errorf("nobody is chosen, yet the limit says %q", got)
	}
	b.press("\r") // several: the cursor goes to the first of them
	b.press("\r") // which is chosen
	b.until(`document.activeElement.id === "f-complaint"`)
	if got := b.is(`document.getElementById("f-complaint").value`); got != "" {
		t.Errorf("choosing a customer typed %q into the complaint", got)
	}
	name := b.is(`document.querySelector("#matches input:checked").closest("label").querySelector("strong").textContent`)
	if name == "Brackenholm Pumps" {
		b.until(`document.getElementById("f-limit").value === "120.00"`)
	}
	b.do(`document.getElementById("f-limit").focus()`)
	b.do(`document.getElementById("f-limit").select()`)
	b.press("80")
	b.do(`document.querySelectorAll("#matches input")[1].click()`)
	if got := b.is(`document.getElementById("f-limit").value`); got != "80" {
		t.Errorf("80 was typed; choosing somebody else made it %q", got)
	}
	b.do(`document.getElementById("f-serial").focus()`)
	b.press("SD-1")
	b.until(`document.getElementById("known").textContent.includes("was here before")`)
	if got := b.is(`String(document.documentElement.scrollWidth)`); got != "400" {
		t.Errorf("the page is %s wide on a screen of 400", got)
	}
}

// Somebody whom nobody knows: what was typed to find them is not typed again.
func TestTheIntakeOpensForSomebodyNew(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	b := h.browserAs(mirela, 1280)
	b.openIntake()
	b.press("061 555 0134\r")
	b.until(`document.activeElement.id === "f-name"`)
	if got := b.is(`document.getElementById("f-phone").value`); got != "061 555 0134" {
		t.Errorf("the phone field holds %q", got)
	}
}
