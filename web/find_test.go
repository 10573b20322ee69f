package web_test

import (
	"net/http"
	"strings"
	"testing"

	"ohmstead/internal/shop"
)

func TestFindLeadsToTheTicketOrLists(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	ctx, by := t.Context(), h.people[mirela].Actor()
	if _, err := h.store.TakeIn(ctx, by, shop.Intake{Name: "Ide Marram", Phone: "061 555 0177", Complaint: "dead", AskFirst: true}); err != nil {
		t.Fatal(err)
	}
	if _, err := h.store.TakeIn(ctx, by, shop.Intake{Name: "Brook Farm", Phone: "061 555 0134", Serial: "SD-0417", Complaint: "hums", AskFirst: true}); err != nil {
		t.Fatal(err)
	}
	v := h.as(tobin)
	v.get("/find?q=2").leadsTo("/tickets/2")
	v.get("/find?q=%232").leadsTo("/tickets/2")
	v.get("/find?q=" + h.server.URL + "/tickets/2").leadsTo("/tickets/2")
	v.get("/find?q=0134").wants(http.StatusOK).says("Ticket 2, board not known yet: taken in today, not looked at yet.").neverSays("Ticket 1,")
	v.get("/find?q=sd0417").says("1 ticket found", "serial SD-0417")
	v.get("/find?q=marr").says("Ticket 1,", "Ide Marram")
	v.get("/find?q=99").wants(http.StatusOK).says("Nothing was found", "the ticket’s number", "How to find a board")
	v.get("/find?q=0").wants(http.StatusOK).says("“0” is not enough to find a board by.", "How to find a board").neverSays("Take in a board")
	v.get("/find?q=" + strings.Repeat("x", 300)).wants(http.StatusOK).says("xxx…” is not enough")
	v.get("/find?q=").wants(http.StatusOK).says("How to find a board")
	v.get("/find").wants(http.StatusOK)
	v.get("/tickets/2?also=134").says("134 may also be phone digits")
}
