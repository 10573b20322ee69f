package web_test

import (
	"encoding/json"
	"strconv"
	"testing"
	"time"

	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/profiles"
)

// knowShipped stores a shipped profile as starting Ohmstead does.
func (h *house) knowShipped(id string) {
	h.t.Helper()
	source := func(id string) ([]byte, error) { return profiles.Files.ReadFile(id + ".yaml") }
	src, err := source(id)
	if err != nil {
		h.t.Fatal(err)
	}
	p, err := profile.Load(id+".yaml", src, source)
	if err != nil {
		h.t.Fatal(err)
	}
	flat, err := p.Flatten()
	if err != nil {
		h.t.Fatal(err)
	}
	if _, err := h.store.SyncProfiles(h.t.Context(), []shop.Profile{{
		Key: id, Family: p.Family, FamilyTitle: p.Title, Revision: p.Revision, YAML: src, Flattened: flat, Author: "Ohmstead", Reason: "shipped",
	}}); err != nil {
		h.t.Fatal(err)
	}
}

// js writes a string as script does.
func js(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// fill types into a field by its name, as far as the page can tell.
func (b *tab) fill(field, value string) {
	b.t.Helper()
	b.until(`!!document.querySelector("[name=` + `'` + field + `'` + `]")`)
	b.do(`{ const f = [...document.getElementsByName(` + js(field) + `)].find(e => e.type !== "hidden");
		f.value = ` + js(value) + `; f.dispatchEvent(new Event("input", {bubbles: true})); f.dispatchEvent(new Event("change", {bubbles: true})) }`)
}

// tap presses what a person can see and that begins with these words, and waits
// for the page that it leads to.
func (b *tab) tap(words string) {
	b.t.Helper()
	find := `[...document.querySelectorAll("button, summary, a")].find(e => e.checkVisibility() && e.textContent.trim().startsWith(` + js(words) + `))`
	b.until(`!!` + find)
	b.do(`window.stale = true; ` + find + `.click()`)
}

// turned waits until a tap has brought another page.
func (b *tab) turned() { b.t.Helper(); b.until(`!window.stale && document.readyState === "complete"`) }

// says waits until the page says something.
func (b *tab) says(words string) {
	b.t.Helper()
	b.until(`document.body.innerText.includes(` + js(words) + `)`)
}

// proveDead fills in the gate: three capacitors, both ways round, the meter
// proved before and after.
func (b *tab) proveDead() {
	b.t.Helper()
	b.until(`!!document.querySelector("#gate [name='before_at']")`)
	b.do(`document.querySelector("[data-now='f-before_at']").click()`)
	for _, c := range []string{"C1", "C2", "C3"} {
		b.fill("volts:"+c, "0.03")
		b.fill("swapped:"+c, "-0.03")
	}
	b.do(`document.querySelector("[data-now='f-after_at']").click()`)
	b.tap("Store the proof")
	b.turned()
	b.says("READ 0.03 V")
}

// read opens a check, types what the meter shows, stores it with Enter and waits
// until the server has it.
func (b *tab) read(ticket, check, typed string, stored int) {
	b.t.Helper()
	b.open("/tickets/" + ticket + "/bench?check=" + check)
	b.until(`!!document.getElementById("f-typed")`)
	b.do(`document.getElementById("f-typed").focus()`)
	b.press(typed + "\r")
	b.h.stored(ticket, stored)
}

// stored waits until a ticket has so many readings in the database.
func (h *house) stored(ticket string, n int) {
	h.t.Helper()
	number, err := strconv.ParseInt(ticket, 10, 64)
	if err != nil {
		h.t.Fatal(err)
	}
	have := 0
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); time.Sleep(30 * time.Millisecond) {
		st, err := h.store.TicketByNumber(h.t.Context(), h.people[ansa].Actor(), number)
		if err != nil {
			h.t.Fatal(err)
		}
		if have = len(st.Readings); have == n {
			return
		}
	}
	h.t.Fatalf("ticket %s has %d readings, want %d", ticket, have, n)
}

// in fills the fields of the form that goes to an address, in their order. A
// suspect has a form for the same address, of one button, which the page shows as
// soon as the suspects are worked out: the form with the fields is meant.
func (b *tab) in(action string, values ...string) {
	b.t.Helper()
	list, err := json.Marshal(values)
	if err != nil {
		b.t.Fatal(err)
	}
	b.do(`{ const seen = e => e.matches("input:not([type=hidden]), select, textarea") && e.checkVisibility();
		const fields = [...document.querySelectorAll("form[action$='" + ` + js(action) + ` + "']")]
			.map(f => [...f.elements].filter(seen)).find(fields => fields.length);
		` + string(list) + `.forEach((v, i) => {
			fields[i].value = v;
			if (fields[i].value !== v) throw new Error("field " + i + " does not take " + v) }) }`)
}

// TestTheWholeJobInABrowser takes a board with an open chain chip from the
// counter to hand-over, as the front desk and a technician, in a tablet's window.
// The readings are those that docs/manual.md gives for the same fault.
func TestTheWholeJobInABrowser(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knowShipped("sedge-d")
	b := h.browserAs(mirela, 1024)

	b.open("/take-in")
	b.tap("New customer")
	b.fill("name", "Tarnmouth Wells")
	b.fill("phone", "0555 010 0177")
	b.fill("complaint", "Pump does not start, red lamp blinks.")
	b.do(`{ const s = document.querySelector("select"); s.value = [...s.options].find(o => o.text.includes("SEDGE D") || o.text.trim() === "D").value; s.dispatchEvent(new Event("change", {bubbles: true})) }`)
	b.fill("serial", "SD-23310")
	b.fill("indication", "two blinks, pause")
	b.fill("limit", "120")
	b.tap("Take in the board")
	b.until(`location.pathname === "/tickets/1"`)
	b.says("Ticket 1: SEDGE D, two blinks")
	b.tap("Put it on the shelf")
	b.turned()

	b.signIn(tobin)
	b.open("/tickets/1")
	b.tap("Take it to the bench")
	b.turned()
	b.open("/tickets/1/bench")
	b.says("UNPROVEN")
	b.proveDead()
	b.read("1", "r17", "6.79k", 1)
	b.read("1", "r11", "119.9k", 2)
	b.read("1", "r14", "768k", 3)
	b.open("/tickets/1/bench?check=r14")
	b.says("More than R14 itself can read")

	b.weighed(3)
	b.tap("Confirm a cause")
	b.in("/findings", "R14", "open", "Chain chip open")
	b.tap("Confirm this cause")
	b.turned()
	b.until(`document.querySelector("#mark-fitted [name=fitted_part]").value === "R14" && document.getElementById("mark-fitted").open`)
	b.in("/fitted", "R14", "120k 1 % 1206 200 V", "")
	b.tap("Store the fitted part")
	b.turned()
	b.until(atHand + ` === "r14"`) // the new part is the first thing to read

	b.read("1", "r14", "103.6k", 4)
	b.read("1", "chain", "147.3k", 5)
	b.open("/tickets/1/bench?check=live-bus")
	b.do(`document.querySelectorAll("details").forEach(d => d.open = true)`)
	b.tap("Board is powered: live")
	b.turned()
	b.says("LIVE")
	b.until(atHand + ` === "live-bus"`)
	b.read("1", "live-bus", "309.2", 6)
	b.read("1", "live-vb", "2.865", 7)
	b.open("/tickets/1/bench?check=live-vb")
	b.tap("Power is off")
	b.turned()
	b.says("UNPROVEN")
	time.Sleep(1100 * time.Millisecond) // the clock on the page counts seconds; the proof begins after the power went off
	b.open("/tickets/1/bench?check=r17")
	b.proveDead()

	b.open("/tickets/1/quote")
	b.tap("Replace R14")
	b.turned()
	b.until(`!!document.querySelector("[name$='price'], [name*='price']")`)
	b.do(`document.querySelectorAll("input[name*='price']").forEach((e, i) => { if (!e.value && !e.closest("tr, li, div").querySelector("select[disabled]")) e.value = i === 0 ? "0.10" : e.value })`)
	b.tap("Freeze and number it")
	b.turned()
	b.says("under the limit")

	b.open("/tickets/1")
	b.tap("Have it ready to be handed over")
	b.turned()

	b.signIn(mirela)
	b.open("/tickets/1/hand-over")
	b.says("R14")
	b.fill("to", "I. Tarn")
	b.tap("Hand it over")
	b.until(`location.pathname.startsWith("/tickets/1/slip/")`)
	for _, words := range []string{"R14", "768", "103.6", "2.865", "Tarnmouth Wells", "SD-23310"} {
		b.says(words)
	}
	st, err := h.store.TicketByNumber(t.Context(), h.people[ansa].Actor(), 1)
	if err != nil {
		t.Fatal(err)
	}
	if st.Ticket.State != shop.HandedOver {
		t.Errorf("the ticket is %s", st.Ticket.State.Title())
	}
}
