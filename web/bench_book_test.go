package web_test

import (
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/shop"
)

// bareProfile is a board of which no schematic is known: what a good one reads is
// learned.
const bareProfile = `format: ohmstead/board-profile/1
id: test-bare-1
title: no schematic
revision: "1"
checks:
  - {id: a, state: cold, measure: resistance, red: pin 3, black: shield}
  - {id: b, state: cold, measure: resistance, red: pin 5, black: shield}
`

// bare is a board of that kind on the bench that reads so much at check a.
func (h *house) bare(serial, typed string, ohms float64) shop.Ticket {
	h.t.Helper()
	h.later(24 * time.Hour)
	rev := h.revision("BARE", "1")
	k, err := h.store.TakeIn(h.t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Brook Farm", Phone: "061 555 0134",
		FamilyID: &rev.FamilyID, RevisionID: &rev.ID, Serial: serial, Complaint: "dead", AskFirst: true})
	if err != nil {
		h.t.Fatal(err)
	}
	h.moved(k, shop.OnBench, "")
	got, err := h.store.StoreReadings(h.t.Context(), h.people[tobin].Actor(), k.ID, []evidence.Reading{{ID: uuid.Must(uuid.NewV7()),
		CheckKey: "a", State: "cold", Measure: "resistance", Red: "pin 3", Black: "shield", Typed: typed, Value: &ohms, TakenAt: h.now()}})
	if err != nil || got[0].Outcome != evidence.Stored {
		h.t.Fatalf("%+v, %v", got, err)
	}
	return k
}

// givenBack hands a board over as repaired.
func (h *house) givenBack(k shop.Ticket) {
	h.t.Helper()
	h.moved(k, shop.ToHandOver, "")
	_, err := h.store.HandOver(h.t.Context(), h.people[mirela].Actor(), k.ID, h.story(k).Ticket.Version,
		shop.HandOver{As: shop.HandedOver, To: "Mrs Brook", Text: "repaired"})
	if err != nil {
		h.t.Fatal(err)
	}
}

// What boards read that went back repaired is what the next one should, and
// how many they were is said; a board that comes back is no good board any more.
func TestTheGoodBoardBook(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	h.know("test-bare-1", "BARE", "1", bareProfile)
	first := h.bare("B-1", "4.70k", 4700)
	bench := func(k shop.Ticket) *answer {
		return h.as(tobin).get("/tickets/" + strconv.FormatInt(k.Number, 10) + "/bench?check=a").wants(http.StatusOK)
	}
	bench(first).neverSays("the next should")
	h.givenBack(first)

	second := h.bare("B-2", "4.72k", 4720)
	bench(second).says("1 good board read 4.70 kΩ; the next should read 4.1 to 5.4 kΩ (19 in 20).")
	h.givenBack(second)
	third := h.bare("B-3", "4.69k", 4690)
	bench(third).says("2 good boards read 4.70 to 4.72 kΩ; the next should read")
	h.givenBack(third)

	h.later(24 * time.Hour)
	again := h.bare("B-2", "9.90k", 9900)
	bench(again).says("2 good boards read 4.69 to 4.70 kΩ; the next")
	h.givenBack(again)
	bench(h.bare("B-4", "4.70k", 4700)).says("3 good boards read")
}
