package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"ohmstead/internal/shop"
)

// hearthOnBench is a stove controller that was taken in as revision 2, on the bench
// and proven dead; both revisions are known.
func (h *house) hearthOnBench() shop.Ticket {
	h.t.Helper()
	h.knowShipped("hearth-2")
	h.knowShipped("hearth-3")
	rev := h.revision("HEARTH", "2")
	k, err := h.store.TakeIn(h.t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Orla Fenn", Phone: "061 777 0155",
		Complaint: "does not light", FamilyID: &rev.FamilyID, RevisionID: &rev.ID, Serial: "H2-7801", AskFirst: true})
	if err != nil {
		h.t.Fatal(err)
	}
	h.moved(k, shop.OnShelf, "")
	h.moved(k, shop.OnBench, "")
	h.proven(k)
	return k
}

// asHearth3 are readings of a good board of revision 3, by the checks of revision 2.
var asHearth3 = [][2]string{{"r1", "37.5k"}, {"r2", "37.6k"}, {"r3", "18.9k"}}

// A board of revision 3 that was taken in as revision 2: the bench says so and
// offers to set it. Then the same readings are good, and nothing was lost.
func TestABoardTakenForItsSibling(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	k := h.hearthOnBench()
	v := h.as(tobin)
	for i, c := range asHearth3 {
		if i == 1 {
			if got := v.suspects(); strings.Contains(got, "This looks like") {
				t.Errorf("one reading is enough for another revision: %q", got)
			}
		}
		h.later(time.Second)
		v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check="+c[0]), c[0], c[1])).wants(http.StatusSeeOther)
	}
	got := v.suspects()
	for _, want := range []string{"This looks like HEARTH 3.", "The readings fit HEARTH 3 better than HEARTH 2: look at the printed revision.", "Set the revision to HEARTH 3"} {
		if !strings.Contains(got, want) {
			t.Fatalf("the page does not say %q: %q", want, got)
		}
	}
	three := h.revision("HEARTH", "3")
	form := url.Values{"revision": {three.ID.String()}, "check": {"r3"}, "reason": {" "}}
	a := v.post("/tickets/1/bench/revision", form).wants(http.StatusUnprocessableEntity).says("Set the revision to HEARTH 3")
	if a.problem("reason") == "" {
		t.Error("no reason, and nothing is said beside the field")
	}
	v.post("/tickets/1/bench/revision", with(form, "reason", "HEARTH 3 is printed beside X1")).leadsTo("/tickets/1/bench?check=r3#now")
	st := h.story(k)
	if st.Board.RevisionID == nil || *st.Board.RevisionID != three.ID || *st.Ticket.ProfileVersionID != *three.ProfileVersionID || len(st.Readings) != len(asHearth3) {
		t.Fatalf("%+v, %d readings", st.Board, len(st.Readings))
	}
	if got := v.suspects(); !strings.Contains(got, "nothing wrong explains 3 of 3") || strings.Contains(got, "This looks like") {
		t.Errorf("as revision 3, the page says %q", got)
	}
	if got := v.get("/tickets/1/bench").part("tape"); strings.Count(got, "kΩ not bad resistance, cold") != len(asHearth3) {
		t.Errorf("as revision 3, the tape says %q", got)
	}
	v.get("/tickets/1").says("HEARTH 3 is printed beside X1")
}

// Somebody has looked, and it is what it was taken for: that stands, and the readings
// are weighed as those of a board with something wrong.
func TestABoardThatIsWhatItWasTakenFor(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	k := h.hearthOnBench()
	v := h.as(tobin)
	two := h.revision("HEARTH", "2")
	form := url.Values{"revision": {two.ID.String()}, "check": {"r3"}, "reason": {"2 on the list"}}
	v.post("/tickets/1/bench/revision", form).wants(http.StatusSeeOther) // before any reading: nothing spoke against it
	for _, c := range asHearth3 {
		h.later(time.Second)
		v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check="+c[0]), c[0], c[1])).wants(http.StatusSeeOther)
	}
	if got := v.suspects(); !strings.Contains(got, "It is HEARTH 2") {
		t.Fatalf("it cannot be said that it is what it was taken for: %q", got)
	}
	h.later(time.Second)
	v.post("/tickets/1/bench/revision", with(form, "reason", "2 is printed beside X1")).leadsTo("/tickets/1/bench?check=r3#now")
	if got := v.suspects(); !strings.Contains(got, "R3 high") || strings.Contains(got, "HEARTH 3") {
		t.Errorf("looked at, the page says %q", got)
	}
	if st := h.story(k); *st.Ticket.ProfileVersionID != *two.ProfileVersionID {
		t.Error("it is measured against another profile")
	}
	v.get("/tickets/1").says("said that the board is “HEARTH 2” as it was taken for", "2 is printed beside X1")
}

// What the bench says of another revision is not left standing when that one's
// profile is edited.
func TestAnEditedSiblingLeavesNoOldAnswer(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	h.hearthOnBench()
	v := h.as(tobin)
	for _, c := range asHearth3 {
		h.later(time.Second)
		v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check="+c[0]), c[0], c[1])).wants(http.StatusSeeOther)
	}
	if got := v.suspects(); !strings.Contains(got, "This looks like HEARTH 3.") {
		t.Fatalf("%q", got)
	}
	p, err := h.store.Profile(t.Context(), *h.revision("HEARTH", "3").ProfileVersionID)
	if err != nil {
		t.Fatal(err)
	}
	h.later(time.Second)
	text := string(p.Flattened)
	for was, is := range map[string]string{"47k": "33k", "22k": "10k"} {
		if text = strings.ReplaceAll(text, was, is); !strings.Contains(text, is) {
			t.Fatalf("%s is not in the profile", was)
		}
	}
	h.know("hearth-3", "HEARTH", "3", text)
	if got := v.suspects(); got == "" || strings.Contains(got, "This looks like") {
		t.Errorf("revision 3 is edited to be as revision 2 there, and the page says %q", got)
	}
}

// In a browser: look at the board, say how one knows, press once.
func TestSettingTheRevisionInABrowser(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.hearthOnBench()
	b := h.browserAs(tobin, 400)
	for i, c := range asHearth3 {
		b.read("1", c[0], c[1], i+1)
	}
	b.open("/tickets/1/bench?check=r57")
	b.says("This looks like HEARTH 3.")
	b.says("look at the printed revision")
	b.until(`document.documentElement.scrollWidth <= innerWidth`)
	b.fill("reason", "printed beside X1")
	b.tap("Set the revision to HEARTH 3")
	b.turned()
	b.says("HEARTH 3")
	b.until(`!document.body.innerText.includes("This looks like")`)
	if st := h.story(k); st.Board.RevisionName != "3" || len(st.Readings) != len(asHearth3) {
		t.Errorf("the board is %s with %d readings", st.Board.RevisionName, len(st.Readings))
	}
}
