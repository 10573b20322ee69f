package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"golang.org/x/net/html"

	"ohmstead/internal/evidence"
	"ohmstead/internal/meter"
	"ohmstead/internal/shop"
)

// pumpOnBench is a ticket with the invented pump board of testdata/bench, on the
// bench with Tobin, at ten past two.
func (h *house) pumpOnBench() shop.Ticket {
	h.t.Helper()
	src, err := os.ReadFile("../testdata/bench/pump-sense.yaml")
	if err != nil {
		h.t.Fatal(err)
	}
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	h.know("pump-sense", "PUMP", "A", string(src))
	rev := h.revision("PUMP", "A")
	k, err := h.store.TakeIn(h.t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Ide Marram", Phone: "061 777 0133",
		Complaint: "does not start", FamilyID: &rev.FamilyID, RevisionID: &rev.ID, Serial: "PA-7", Indication: "two blinks", AskFirst: true})
	if err != nil {
		h.t.Fatal(err)
	}
	h.moved(k, shop.OnShelf, "")
	h.moved(k, shop.OnBench, "")
	return k
}

// proven proves the pump board dead now.
func (h *house) proven(k shop.Ticket) {
	h.t.Helper()
	at := h.now()
	_, err := h.store.StoreDeadProof(h.t.Context(), h.people[tobin].Actor(), evidence.DeadProof{TicketID: k.ID, Part: "C1",
		Volts: 0.03, VoltsSwapped: -0.03, BeforeAt: &at, BeforeOK: true, ReadAt: at, AfterAt: &at, AfterOK: true, TakenAt: at})
	if err != nil {
		h.t.Fatal(err)
	}
}

// benchForm is the form of a reading as the page carries it.
func benchForm(a *answer, check, typed string, more ...string) url.Values {
	f := url.Values{"id": {a.hidden("reading", "id")}, "check": {check}, "typed": {typed}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// hidden is the value of a field of one form of the page.
func (a *answer) hidden(form, field string) string {
	out := ""
	each(a.doc, func(n *html.Node) {
		if n.Data == "form" && attr(n, "id") == form {
			each(n, func(i *html.Node) {
				if attr(i, "name") == field {
					out = attr(i, "value")
				}
			})
		}
	})
	return out
}

// part is the text of one element of the page.
func (a *answer) part(id string) string {
	out := ""
	each(a.doc, func(n *html.Node) {
		if attr(n, "id") == id {
			out = strings.Join(strings.Fields(spaced(n)), " ")
		}
	})
	return out
}

func spaced(n *html.Node) string {
	var b strings.Builder
	each(n, func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data + " ")
		}
	})
	return b.String()
}

func TestTheBenchListsWhatIsOnItFirst(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(tobin)
	v.get("/bench").wants(http.StatusOK).says("No board is on the bench.", "Nothing waits.")
	h.pumpOnBench()
	if _, err := h.store.TakeIn(t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Orla Fenn", Phone: "061 777 0155", Complaint: "dead", AskFirst: true}); err != nil {
		t.Fatal(err)
	}
	text := h.as(tobin).get("/bench").wants(http.StatusOK).neverSays("No board is on the bench.", "Nothing waits.").part("main")
	if !regexp.MustCompile(`On the bench 1 PUMP A: two blinks serial PA-7 on the bench since 14:10 Waiting for it 2 board not known yet: dead taken in`).MatchString(text) {
		t.Errorf("the list reads: %s", text)
	}
	h.as(mirela).get("/bench").wants(http.StatusForbidden)
}

func TestColdChecksWaitForTheGate(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	v := h.as(tobin)
	a := v.get("/tickets/1/bench?check=r17").wants(http.StatusOK).says(
		"Ticket 1: PUMP A, two blinks, on the bench with Ansa.", "UNPROVEN", "Still to be proven dead: C1.",
		"R17, the leg at vb", "beside U1", "C1, 330 µF", "on its own legs, p and com; beside the heatsink", "may hold up to 356 V, 20.9 J")
	if a.hidden("reading", "id") != "" {
		t.Error("the form of a cold reading is offered though nothing is proven")
	}
	// Whoever sends it all the same loses nothing.
	form := url.Values{"id": {uuid.Must(uuid.NewV7()).String()}, "check": {"r17"}, "typed": {"6.78k"}, "swapped": {"yes"}}
	a = v.post("/tickets/1/readings", form).wants(http.StatusUnprocessableEntity).says("Nothing proves the board dead now.")
	if a.value("typed") != "6.78k" || a.value("swapped") != "yes" {
		t.Errorf("typed came back as %q, swapped as %q", a.value("typed"), a.value("swapped"))
	}
	h.proven(k)
	a = v.get("/tickets/1/bench?check=r17").wants(http.StatusOK).says("READ 0.03 V, 0 min ago").neverSays("Prove it dead now")
	if a.hidden("reading", "id") == "" {
		t.Fatal("the gate is open and there is no form")
	}
	h.at(h.now().Add(4 * time.Minute))
	v.get("/tickets/1/bench").says("READ 0.03 V, 4 min ago")
	h.at(h.now().Add(6 * time.Minute))
	v.get("/tickets/1/bench").says("UNPROVEN").neverSays("READ 0.03 V")
}

func TestAReadingIsStoredOnceAndThePageMovesOn(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	page := v.get("/tickets/1/bench?check=r17").wants(http.StatusOK)
	form := benchForm(page, "r17", " 6,78k ")
	a := v.post("/tickets/1/readings", form).wants(http.StatusSeeOther)
	to := a.header.Get("Location")
	if to != "/tickets/1/bench?stored="+form.Get("id")+"&after=r17#now" {
		t.Errorf("leads to %q", to)
	}
	if got := v.get(to).hidden("reading", "check"); got == "" || got == "r17" {
		t.Errorf("the page stays at %q", got)
	}
	v.post("/tickets/1/readings", form).wants(http.StatusSeeOther) // the browser repeats a POST whose answer was lost
	next := v.get(to).wants(http.StatusOK).says("Stored: R17, resistance, cold, 6.78 kΩ, not bad.")
	if got := next.part("tape"); !strings.Contains(got, "14:10 R17 6.78 kΩ not bad") {
		t.Errorf("the tape says %q", got)
	}
	st := h.story(k)
	if len(st.Readings) != 1 {
		t.Fatalf("%d readings are stored, want 1", len(st.Readings))
	}
	r := st.Readings[0]
	if r.Typed != "6,78k" || r.Value == nil || *r.Value != 6780 || r.CheckKey != "r17" || r.ProfileVersionID == nil || r.Stage != evidence.StageBefore {
		t.Errorf("stored as %+v", r)
	}
	// The same form with another value is another reading, and says so.
	form.Set("typed", "6.81k")
	a = v.post("/tickets/1/readings", form).wants(http.StatusUnprocessableEntity).says("This form has stored 6,78k already.")
	if a.value("typed") != "6.81k" || a.hidden("reading", "id") == form.Get("id") {
		t.Error("what was typed is lost, or the form still has the spent id")
	}
}

func TestRefusedReadingsKeepEverything(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	for _, c := range []struct{ field, typed, message string }{
		{"typed", "6.78x", "“6.78x”"},
		{"typed", "", "Nothing is typed."},
		{"typed", "1e3", "exponents"},
		{"typed", "4.7 nF", "wrong unit"},
		{"residue", "much", "volts between the points"},
	} {
		page := v.get("/tickets/1/bench?check=r17")
		form := benchForm(page, "r17", "6.78k", "not_on_metal", "yes", "up", "yes")
		form.Set(c.field, c.typed)
		a := v.post("/tickets/1/readings", form).wants(http.StatusUnprocessableEntity)
		where := "f-" + c.field + "-problem"
		if c.field == "typed" {
			where = "typed-problem"
		}
		if got := a.part(where); !strings.Contains(got, c.message) {
			t.Errorf("%s %q: the field says %q, want %q", c.field, c.typed, got, c.message)
		}
		for _, field := range []string{"typed", "not_on_metal", "up", "id", "check"} {
			if got := a.hiddenOr("reading", field); got != form.Get(field) {
				t.Errorf("%s %q: %s came back as %q, was %q", c.field, c.typed, field, got, form.Get(field))
			}
		}
	}
	if n := len(h.story(k).Readings); n != 0 {
		t.Errorf("%d refused readings are stored", n)
	}
}

// hiddenOr is the value of a field of one form; a box counts when it is ticked.
func (a *answer) hiddenOr(form, field string) string {
	out := ""
	each(a.doc, func(n *html.Node) {
		if n.Data != "form" || attr(n, "id") != form {
			return
		}
		each(n, func(i *html.Node) {
			if attr(i, "name") == field && (attr(i, "type") != "checkbox" || has(i, "checked")) {
				out = attr(i, "value")
			}
		})
	})
	return out
}

func TestOneTapAgreesAndCannotBeMade(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	form := benchForm(v.get("/tickets/1/bench?check=r12"), "r12", "", "agrees", "yes")
	v.post("/tickets/1/readings", form).wants(http.StatusSeeOther)
	form = benchForm(v.get("/tickets/1/bench?check=r13"), "r13", "", "not_possible", "yes")
	v.post("/tickets/1/readings", form).wants(http.StatusSeeOther)
	rs := h.story(k).Readings
	if len(rs) != 2 || !rs[0].Agrees || rs[0].Value != nil || rs[0].BandLow == nil || rs[0].BandHigh == nil || !rs[1].NotPossible {
		t.Fatalf("stored as %+v", rs)
	}
	if low, high := *rs[0].BandLow, *rs[0].BandHigh; low > 104.5e3 || high < 104.5e3 || low < 100e3 || high > 110e3 {
		t.Errorf("agreed with %g to %g; R12 reads 120 k beside 200 k in series with the rest, 104.5 k", low, high)
	}
	a := v.get("/tickets/1/bench")
	if got := a.part("tape"); !strings.Contains(got, "R12 agrees") || !strings.Contains(got, "R13 cannot be made") {
		t.Errorf("the tape says %q", got)
	}
	if got := a.part("table"); !strings.Contains(got, "R13 resistance, cold") {
		t.Errorf("a check that cannot be made has gone from the table: %q", got)
	}
}

func TestATabletsReadingIsNeverRefused(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench() // the gate is closed: what was taken all the same is evidence
	v := h.as(tobin)
	ids := make([]string, 5)
	for i := range ids {
		ids[i] = uuid.Must(uuid.NewV7()).String()
	}
	batch := fmt.Sprintf(`{"readings": [
		{"id": %q, "check": "r17", "typed": "6.78k", "taken_at": "2027-01-12T14:02:00Z", "offset": 60, "seq": 1},
		{"id": %q, "check": "r12", "agrees": true, "band": {"low": 117000, "high": 121000}, "taken_at": "2027-01-12T14:03:00Z", "seq": 2},
		{"id": %q, "check": "r13", "typed": "12x", "taken_at": "2027-01-12T14:04:00Z", "seq": 3},
		{"id": %q, "check": "gone", "typed": "12k", "taken_at": "2027-01-12T14:05:00Z", "seq": 4},
		{"id": %q, "check": "r13", "typed": 12, "taken_at": "soon", "seq": 5}]}`, ids[0], ids[1], ids[2], ids[3], ids[4])
	want := []string{"stored", "stored", "kept", "kept", "kept"}
	for round := range 2 {
		a := v.postJSON("/tickets/1/readings", batch).wants(http.StatusOK)
		var got struct {
			Receipts []struct{ ID, Outcome, Text string }
		}
		if err := json.Unmarshal([]byte(a.body), &got); err != nil || len(got.Receipts) != 5 {
			t.Fatalf("%v: %s", err, a.body)
		}
		for i, r := range got.Receipts {
			if r.ID != ids[i] || r.Outcome != want[i] || (want[i] == "kept") != (r.Text != "") {
				t.Errorf("round %d, reading %d: %+v, want %s", round, i, r, want[i])
			}
		}
		want = []string{"already", "already", "kept", "kept", "kept"}
	}
	rs := h.story(k).Readings
	if len(rs) != 2 || rs[0].TakenOffset != 60 || rs[0].DeviceSeq != 1 || *rs[1].BandHigh != 121000 {
		t.Errorf("stored: %+v", rs)
	}
	v.postJSON("/tickets/1/readings", `{"readings": [{"id": "seven", "typed": "1"}]}`).wants(http.StatusUnprocessableEntity)
	v.postJSON("/tickets/1/readings", `not JSON`).wants(http.StatusUnprocessableEntity)
	h.stranger().postJSON("/tickets/1/readings", batch).wants(http.StatusUnauthorized)
	h.as(mirela).postJSON("/tickets/1/readings", batch).wants(http.StatusForbidden)
}

func TestAStruckReadingStays(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	form := benchForm(v.get("/tickets/1/bench?check=r13"), "r13", "OL")
	v.post("/tickets/1/readings", form).wants(http.StatusSeeOther)
	at := "/tickets/1/readings/" + form.Get("id") + "/strike"
	v.post(at, url.Values{"reason": {" "}}).wants(http.StatusUnprocessableEntity)
	v.post(at, url.Values{"reason": {"probe slipped"}}).leadsTo("/tickets/1/bench#tape")
	v.post(at, url.Values{"reason": {"again"}}).wants(http.StatusConflict).says("This reading is struck out already.")
	a := v.get("/tickets/1/bench")
	if got := a.part("tape"); !strings.Contains(got, "R13 OL") || !strings.Contains(got, "struck out by Tobin: probe slipped") {
		t.Errorf("the tape says %q", got)
	}
	if got := a.part("table"); strings.Contains(got, "OL bad") || strings.Contains(got, "bad probe") {
		t.Errorf("a struck reading still counts: %q", got)
	}
	v.post("/tickets/1/readings/"+uuid.NewString()+"/strike", url.Values{"reason": {"x"}}).wants(http.StatusNotFound)
}

func TestProveDead(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	v := h.as(tobin)
	dead := func(before, after, volts, swapped string) *answer {
		return v.post("/tickets/1/bench/dead", url.Values{"before_at": {before}, "after_at": {after}, "volts:C1": {volts}, "swapped:C1": {swapped}})
	}
	for _, c := range []struct{ before, after, volts, swapped, field, message string }{
		{"", "14:09", "0.02", "0.02", "before_at", "before you read"},
		{"14:08", "", "0.02", "0.02", "after_at", "nothing is proven"},
		{"14:09", "14:08", "0.02", "0.02", "after_at", "before the first"},
		{"13:40", "14:09", "0.02", "0.02", "before_at", "last 10 minutes"},
		{"14:08", "half", "0.02", "0.02", "after_at", "such as 14:05"},
		{"14:08", "14:09", "0.02", "", "swapped:C1", "this way round too"},
		{"14:08", "14:09", "dead", "0.02", "volts:C1", "Type volts"},
		{"14:08", "14:09", "", "", "volts:C1", "both ways round"},
	} {
		a := dead(c.before, c.after, c.volts, c.swapped).wants(http.StatusUnprocessableEntity)
		if got := a.problem(c.field); !strings.Contains(got, c.message) {
			t.Errorf("%+v: the field says %q", c, got)
		}
		for field, typed := range map[string]string{"before_at": c.before, "after_at": c.after, "volts:C1": c.volts, "swapped:C1": c.swapped} {
			if got := a.value(field); got != typed {
				t.Errorf("%+v: %s came back as %q", c, field, got)
			}
		}
	}
	// Above the resistance limit it may be handled, and no cold check be made.
	dead("14:08", "14:09", "1.2", "-1.2").leadsTo("/tickets/1/bench#now")
	v.get("/tickets/1/bench?check=r17").says("READ 1.20 V, 2 min ago", "May be handled", "Prove it dead")
	// High volts need no proof of the meter to be believed.
	dead("", "", "34", "-34").leadsTo("/tickets/1/bench#now")
	v.get("/tickets/1/bench").says("LOW VOLTS", "34 V was read.")
	h.at(h.now().Add(time.Second))
	dead("", "", "310", "-310").leadsTo("/tickets/1/bench#now")
	v.get("/tickets/1/bench").says("LIVE", "310 V was read.")
	h.at(h.now().Add(time.Second))
	dead("14:10:01", "14:10:02", "0.02", "0.01").leadsTo("/tickets/1/bench#now")
	if n := len(h.story(k).DeadProofs); n != 4 {
		t.Errorf("%d proofs are stored, want 4", n)
	}
	a := v.get("/tickets/1/bench?check=r17")
	if a.hidden("reading", "id") == "" {
		t.Errorf("proven, and yet no form: %s", a.part("now"))
	}
}

func TestPowerUpAndOff(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	h.at(h.now().Add(time.Minute))
	v := h.as(tobin)
	a := v.get("/tickets/1/bench?check=tp3").wants(http.StatusOK).says("Power it up first.", "The common is live", "one hand", "series limiter", "CAT III 600 V")
	if a.hidden("reading", "id") != "" {
		t.Error("a hot reading is offered on the unpowered board")
	}
	v.post("/tickets/1/bench/power", url.Values{"on": {"yes"}, "state": {"cold"}}).wants(http.StatusUnprocessableEntity)
	v.post("/tickets/1/bench/power", url.Values{"on": {"yes"}, "state": {"live"}, "check": {"tp3"}}).leadsTo("/tickets/1/bench?check=tp3#now")
	a = v.get("/tickets/1/bench?check=tp3").says("LIVE", "since 14:11", "Power is off")
	v.post("/tickets/1/readings", benchForm(a, "tp3", "3.03")).wants(http.StatusSeeOther)
	v.get("/tickets/1/bench?check=r17").says("The board is powered. Switch it off and prove it dead")
	cold := url.Values{"id": {uuid.Must(uuid.NewV7()).String()}, "check": {"r17"}, "typed": {"6.78k"}}
	v.post("/tickets/1/readings", cold).wants(http.StatusUnprocessableEntity).says("The board is powered")
	h.at(h.now().Add(time.Minute))
	v.post("/tickets/1/bench/power", url.Values{"on": {"no"}}).leadsTo("/tickets/1/bench#now")
	v.get("/tickets/1/bench").says("UNPROVEN") // the proof from before counts no more
	h.at(h.now().Add(time.Second))
	v.post("/tickets/1/bench/power", url.Values{"on": {"yes"}, "state": {"injected"}}).wants(http.StatusSeeOther)
	v.get("/tickets/1/bench?check=tp3i").says("LOW VOLTS", "30 V from a current-limited supply")
	state := v.get("/tickets/1/bench/state").wants(http.StatusOK)
	if !strings.Contains(state.body, `"kind":"low"`) || !strings.Contains(state.body, `"words":"LOW VOLTS"`) {
		t.Errorf("the state is given as %s", state.body)
	}
}

func TestSeenFoundFitted(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.as(tobin)
	bench := "/tickets/1/bench"
	a := v.post(bench+"/seen", url.Values{"seen_part": {""}, "seen_what": {"burnt"}, "seen_note": {"smells"}}).wants(http.StatusUnprocessableEntity)
	if a.problem("seen_part") == "" || a.value("seen_note") != "smells" {
		t.Error("no message at the part, or the note is lost")
	}
	v.post(bench+"/seen", url.Values{"seen_part": {"R13"}, "seen_what": {"cracked"}}).leadsTo(bench + "#seen")
	v.post(bench+"/findings", url.Values{"findings_words": {""}, "findings_part": {"R13"}}).wants(http.StatusUnprocessableEntity)
	v.post(bench+"/findings", url.Values{"findings_part": {"R13"}, "findings_mode": {"open"}, "findings_words": {"cracked across"}}).leadsTo(bench + "#findings")
	h.at(h.now().Add(time.Minute))
	v.post(bench+"/fitted", url.Values{"fitted_part": {"R13"}, "fitted_what": {"120 k 1 % 500 V"}}).leadsTo(bench + "?check=r13#now")
	h.at(h.now().Add(time.Minute))
	v.post("/tickets/1/readings", benchForm(v.get(bench+"?check=r13"), "r13", "119k")).wants(http.StatusSeeOther)
	st := h.story(k)
	if len(st.Seen) != 1 || len(st.Findings) != 1 || len(st.Fitted) != 1 || len(st.Readings) != 1 || st.Readings[0].Stage != evidence.StageAfter {
		t.Fatalf("stored: %+v %+v %+v %+v", st.Seen, st.Findings, st.Fitted, st.Readings)
	}
	v.get(bench).says("R13 fitted new: 120 k 1 % 500 V", "R13 cracked", "cracked across")
	at := bench + "/findings/" + st.Findings[0].ID.String() + "/withdraw"
	v.post(at, url.Values{"reason": {""}}).wants(http.StatusUnprocessableEntity)
	v.post(at, url.Values{"reason": {"it was the joint"}}).leadsTo(bench + "#findings")
	v.get(bench).says("withdrawn: it was the joint")
}

func TestABoardWithoutProfile(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.pumpOnBench() // makes PUMP A known
	k, err := h.store.TakeIn(t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Orla Fenn", Phone: "061 777 0155", Complaint: "dead", AskFirst: true})
	if err != nil {
		t.Fatal(err)
	}
	v := h.as(tobin)
	a := v.get("/tickets/2/bench").wants(http.StatusOK).says("Which board is this?", "The family of this board is not known", "A reading of your own", "The supply terminals")
	form := url.Values{"id": {a.hidden("reading", "id")}, "state": {"cold"}, "measure": {"resistance"}, "across": {"R5"}, "typed": {"4k7"}}
	v.post("/tickets/2/readings", form).wants(http.StatusUnprocessableEntity).says("Nothing proves the board dead now.")
	v.post("/tickets/2/bench/dead", url.Values{"before_at": {"14:09"}, "after_at": {"14:10"}, "volts:supply": {"0"}, "swapped:supply": {"0"}}).wants(http.StatusSeeOther)
	form.Set("across", "")
	a = v.post("/tickets/2/readings", form).wants(http.StatusUnprocessableEntity)
	if a.problem("red") == "" || a.value("typed") != "4k7" {
		t.Errorf("red says %q, typed is %q", a.problem("red"), a.value("typed"))
	}
	form.Set("across", "R5")
	v.post("/tickets/2/readings", form).wants(http.StatusSeeOther)
	st := h.story(k)
	if len(st.Readings) != 1 || *st.Readings[0].Value != 4700 || st.Readings[0].CheckKey != "R5" {
		t.Fatalf("stored: %+v", st.Readings)
	}
	if got := v.get("/tickets/2/bench").part("tape"); !strings.Contains(got, "R5 4.7 kΩ") {
		t.Errorf("the tape says %q", got)
	}
	v.post("/tickets/2/bench/revision", url.Values{"revision": {""}, "reason": {"printed"}}).wants(http.StatusUnprocessableEntity).says("Choose a board.")
	v.post("/tickets/2/bench/revision", url.Values{"revision": {h.revision("PUMP", "A").ID.String()}, "reason": {"printed on it"}}).leadsTo("/tickets/2/bench#now")
	v.get("/tickets/2/bench").says("PUMP A", "Expected and read").neverSays("Which board is this?")
}

// The meter in hand decides what a good board reads, and stands with the reading.
func TestTheMeterInHand(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	src, err := meter.ShippedSource("handheld-low-ohms")
	if err != nil {
		t.Fatal(err)
	}
	by := h.people[tobin].Actor()
	version, err := h.store.AddMeter(t.Context(), by, "second make", src)
	if err != nil {
		t.Fatal(err)
	}
	until := time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC)
	in, err := h.store.SaveInstrument(t.Context(), by, "M-2", version, &until)
	if err != nil {
		t.Fatal(err)
	}
	v := h.as(tobin)
	before := v.get("/tickets/1/bench?check=r17").says("M-2, second make").part("check-head")
	v.post("/tickets/1/bench/meter", url.Values{"meter": {uuid.NewString()}}).wants(http.StatusNotFound)
	v.post("/tickets/1/bench/meter", url.Values{"meter": {in.ID.String()}, "check": {"r17"}}).leadsTo("/tickets/1/bench?check=r17#now")
	a := v.get("/tickets/1/bench?check=r17").says("The calibration of M-2 ran out on")
	if after := a.part("check-head"); after == before {
		t.Errorf("another meter, and a good board reads the same: %s", after)
	}
	v.post("/tickets/1/readings", benchForm(a, "r17", "6.72k")).wants(http.StatusSeeOther)
	r := h.story(k).Readings[0]
	if r.MeterVersionID == nil || *r.MeterVersionID != version {
		t.Errorf("the reading was taken with %v, want %s", r.MeterVersionID, version)
	}
	// Somebody with another meter sees its verdict, and that it is not weighed.
	h.as(ansa).get("/tickets/1/bench").says("with M-2").neverSays("Not weighed")
}

func TestBenchAddressesThatLeadNowhere(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.pumpOnBench()
	v := h.as(tobin)
	for _, path := range []string{"/tickets/99/bench", "/tickets/x/bench", "/tickets/0/bench", "/tickets/-1/bench/state", "/tickets/99/bench/state"} {
		v.get(path).wants(http.StatusNotFound)
	}
	for _, path := range []string{"/readings", "/bench/dead", "/bench/power", "/bench/seen", "/bench/findings", "/bench/fitted", "/bench/revision", "/bench/meter"} {
		v.post("/tickets/99"+path, url.Values{}).wants(http.StatusNotFound)
	}
	v.post("/tickets/1/bench/findings/none/withdraw", url.Values{"reason": {"x"}}).wants(http.StatusNotFound)
	v.post("/tickets/1/readings/none/strike", url.Values{"reason": {"x"}}).wants(http.StatusNotFound)
	// A check or a block that the profile does not have: the page goes on with the next.
	a := v.get("/tickets/1/bench?check=no-such&block=no-such").wants(http.StatusOK).says("Bus voltage sensing")
	if a.part("check-head") == "" {
		t.Error("no check is at hand")
	}
}

func TestBatchesHaveLimits(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	v := h.as(tobin)
	a := v.postJSON("/tickets/1/readings", `{"readings": []}`).wants(http.StatusOK)
	if !strings.Contains(a.body, `"receipts":[]`) {
		t.Errorf("nothing was sent, and the answer is %s", a.body)
	}
	var many []string
	for range 501 {
		many = append(many, fmt.Sprintf(`{"id": %q, "check": "r17", "typed": "5.66k", "taken_at": "2027-01-12T14:02:00Z"}`, uuid.Must(uuid.NewV7())))
	}
	v.postJSON("/tickets/1/readings", `{"readings": [`+strings.Join(many, ",")+`]}`).wants(http.StatusUnprocessableEntity)
	if n := len(h.story(k).Readings); n != 0 {
		t.Errorf("%d readings of a batch that was sent back are stored", n)
	}
	v.postJSON("/tickets/1/readings", `{"readings": [`+strings.Join(many[:400], ",")+`]}`).wants(http.StatusOK)
	if n := len(h.story(k).Readings); n != 400 {
		t.Errorf("%d readings are stored, want 400", n)
	}
}

// A form that was sent twice, as browsers do, is stored once.
func TestSmallFormsAreStoredOnce(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	v := h.as(tobin)
	id := func() []string { return []string{uuid.Must(uuid.NewV7()).String()} }
	for path, form := range map[string]url.Values{
		"/bench/seen":     {"id": id(), "check": {"r17"}, "seen_part": {"C1"}, "seen_what": {"bulged"}},
		"/bench/findings": {"id": id(), "check": {"r17"}, "findings_part": {"C1"}, "findings_mode": {"tired"}},
		"/bench/fitted":   {"id": id(), "check": {"r17"}, "fitted_part": {"C1"}, "fitted_what": {"330 µF 400 V"}},
		"/bench/power":    {"id": id(), "check": {"r17"}, "on": {"yes"}, "state": {"injected"}},
	} {
		for range 2 {
			a := v.post("/tickets/1"+path, form).wants(http.StatusSeeOther)
			atHand := "r17"
			if path == "/bench/power" {
				atHand = "tp3i" // the first that can be made with 30 V on
			}
			if !strings.HasPrefix(a.header.Get("Location"), "/tickets/1/bench?check="+atHand+"#") {
				t.Errorf("%s leads to %s, want the check %s at hand", path, a.header.Get("Location"), atHand)
			}
		}
	}
	st := h.story(k)
	if len(st.Seen) != 1 || len(st.Findings) != 1 || len(st.Fitted) != 1 || len(st.Power) != 1 {
		t.Errorf("stored %d, %d, %d, %d times", len(st.Seen), len(st.Findings), len(st.Fitted), len(st.Power))
	}
}

// A part of the stores is no proof: what is left out stays to be proven.
func TestEveryStoreMustBeProven(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.pumpOnBench()
	two := strings.Replace(pumpText(t), "stored_energy: [C1]", "stored_energy: [C1, C18]", 1)
	h.know("pump-two", "PUMP", "B", strings.Replace(two, "id: pump-sense", "id: pump-two", 1))
	rev := h.revision("PUMP", "B")
	v := h.as(tobin)
	v.post("/tickets/1/bench/revision", url.Values{"revision": {rev.ID.String()}, "reason": {"printed B"}}).wants(http.StatusSeeOther)
	dead := func(form url.Values) {
		t.Helper()
		form.Set("before_at", "14:09")
		form.Set("after_at", "14:10")
		v.post("/tickets/1/bench/dead", form).wants(http.StatusSeeOther)
	}
	dead(url.Values{"volts:C1": {"0.02"}, "swapped:C1": {"-0.02"}})
	a := v.get("/tickets/1/bench?check=r17").says("UNPROVEN", "Still to be proven dead: C18.", "read 0.02 V at 14:09")
	if a.hidden("reading", "id") != "" {
		t.Error("one of two stores is proven, and the cold check is offered")
	}
	dead(url.Values{"volts:C18": {"0.01"}, "swapped:C18": {"0.01"}})
	if a = v.get("/tickets/1/bench?check=r17").says("READ 0.02 V"); a.hidden("reading", "id") == "" {
		t.Error("both are proven, and nothing is offered")
	}
}

func pumpText(t *testing.T) string {
	t.Helper()
	src, err := os.ReadFile("../testdata/bench/pump-sense.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

// A profile that can no longer be read does not stop anybody from measuring.
func TestAProfileThatCannotBeRead(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.pumpOnBench()
	h.know("broken", "PUMP", "X", "format: ohmstead/board-profile/1\nid: broken\ntitle: [\n")
	v := h.as(tobin)
	v.post("/tickets/1/bench/revision", url.Values{"revision": {h.revision("PUMP", "X").ID.String()}, "reason": {"printed X"}}).wants(http.StatusSeeOther)
	v.get("/tickets/1/bench").wants(http.StatusOK).says("The profile broken cannot be read any more.", "A reading of your own")
}

// While the readings go in, the engine's conclusion and the next check follow.
func TestTheBenchFindsAnOpenChip(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench() // two blinks: the bus is believed too low
	h.proven(k)
	v := h.as(tobin)
	// With R12 open, R12 reads the rest of its loop: 5 × 120 k + 6.8 k + 200 k.
	for _, c := range [][2]string{{"r12", "807k"}, {"r13", "104.5k"}} {
		v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check="+c[0]), c[0], c[1])).wants(http.StatusSeeOther)
	}
	if got := v.suspects(); !strings.Contains(got, "R12 open") && !strings.Contains(got, "R12 high") {
		t.Errorf("R12 reads 807 k where it should read 104.5 k, and the suspects are %q", got)
	}
	if got := v.get("/tickets/1/bench").part("strip"); !strings.Contains(got, "807 kΩ") {
		t.Errorf("the strip does not show what was read: %q", got)
	}
}
