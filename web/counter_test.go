package web_test

import (
	"net/http"
	"testing"

	"ohmstead/internal/shop"
)

func TestCounterFromEmptyToFull(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	v.get("/counter").wants(http.StatusOK).says("No board is in the shop.", "Take in a board")
	v.post("/take-in", newCustomersForm()).wants(http.StatusSeeOther)
	h.at(november.AddDate(0, 0, 10))
	v = h.as(mirela)
	v.get("/counter").says("In the shop: 1 board, 1 late.", "Taken in", "10 days", "Fri 4 Dec", "3 days late", "ours", "B3", "Brook Farm").neverSays("To call today")

	st, err := h.store.TicketByNumber(t.Context(), h.people[ansa].Actor(), 1)
	if err != nil {
		t.Fatal(err)
	}
	h.moved(st.Ticket, shop.OnBench, "")
	h.moved(st.Ticket, shop.WaitingForYes, "a module above the limit")
	v.get("/counter").says("To call today", "061 555 0134", "has waited for a yes or a no since", "the customer’s")
	h.voided(st.Ticket)
	v.get("/counter").says("No board is in the shop.")
}

// voided voids a ticket.
func (h *house) voided(k shop.Ticket) {
	h.t.Helper()
	if err := h.store.Void(h.t.Context(), h.people[ansa].Actor(), k.ID, h.story(k).Ticket.Version, "taken in twice"); err != nil {
		h.t.Fatal(err)
	}
}
