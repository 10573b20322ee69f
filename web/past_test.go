package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	atbench "ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/web"
)

// thinking is a house whose engine can be held up: until goOn is closed no
// suspects are worked out.
type thinking struct {
	*house
	goOn  chan struct{}
	begun atomic.Int32
	last  atomic.Pointer[analysis.Case] // what the engine was asked last
}

// holdUp lets every question of suspects wait.
func (h *house) holdUp() *thinking {
	h.t.Helper()
	s := &thinking{house: h, goOn: make(chan struct{})}
	h.t.Cleanup(s.release)
	models := atbench.NewModels(8)
	models.Weigh = func(m *analysis.Model, c analysis.Case) (*analysis.Result, error) {
		s.begun.Add(1)
		s.last.Store(&c)
		<-s.goOn
		return m.Weigh(c)
	}
	h.server.Close()
	h.server = httptest.NewServer(web.New(h.store, web.Options{Now: h.now, Models: models}))
	h.t.Cleanup(h.server.Close)
	return s
}

func (s *thinking) release() {
	select {
	case <-s.goOn:
	default:
		close(s.goOn)
	}
}

// hasty is a browser that waits for no answer longer than a test may take.
func (h *house) hasty(name string) *visitor {
	v := h.as(name)
	v.client.Timeout = 30 * time.Second
	return v
}

// pending asks the bench whether suspects are still to come.
func (v *visitor) pending(path string) bool {
	v.h.t.Helper()
	var state struct{ Pending bool }
	if err := json.Unmarshal([]byte(v.get(path).wants(http.StatusOK).body), &state); err != nil {
		v.h.t.Fatal(err)
	}
	return state.Pending
}

const beingWorkedOut = "still being worked out"

// Storing never waits for suspects, nor does the page that comes after it: the table
// with the verdict is there at once, and says that suspects are to come. As long as
// the engine is held up, anything here that waited for it would never answer.
func TestStoringWaitsForNoSuspects(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	s := h.holdUp()
	k := h.pumpOnBench()
	h.proven(k)
	v := h.hasty(tobin)
	page := v.get("/tickets/1/bench?check=r13").wants(http.StatusOK).says(beingWorkedOut)
	to := v.post("/tickets/1/readings", benchForm(page, "r13", "OL")).wants(http.StatusSeeOther).header.Get("Location")
	page = v.get(to).wants(http.StatusOK).says("Stored: R13, resistance, cold, OL, bad.", beingWorkedOut)
	if got := page.hidden("reading", "check"); got != "r14" {
		t.Errorf("without suspects the list is walked, and %q comes after r13", got)
	}
	if !strings.Contains(page.part("table"), "R13") || page.part("tape") == "" {
		t.Error("there is no table, or no tape")
	}
	body := fmt.Sprintf(`{"readings":[{"id":%q,"check":"r14","typed":"104.5k"}]}`, uuid.Must(uuid.NewV7()))
	if a := v.postJSON("/tickets/1/readings", body).wants(http.StatusOK); !strings.Contains(a.body, `"stored"`) {
		t.Errorf("a tablet is answered %s", a.body)
	}
	v.get("/tickets/1/bench").wants(http.StatusOK).says(beingWorkedOut)
	if !v.pending("/tickets/1/bench/state") {
		t.Error("the bench says that suspects are there")
	}

	s.release()
	for began := time.Now(); v.pending("/tickets/1/bench/state"); time.Sleep(20 * time.Millisecond) {
		if time.Since(began) > 20*time.Second {
			t.Fatal("suspects never come")
		}
	}
	page = v.get("/tickets/1/bench").wants(http.StatusOK).neverSays(beingWorkedOut)
	if got := page.part("suspects"); !strings.Contains(got, "R13") {
		t.Errorf("the suspects are: %s", got)
	}
}

// The hand-over shows the table alone; no suspects are worked out for it.
func TestTheHandOverNeedsNoSuspects(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.hasty(tobin)
	v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check=r13"), "r13", "OL")).wants(http.StatusSeeOther)
	h.moved(k, shop.ToHandOver, "")
	s := h.holdUp()
	v.get("/tickets/1/hand-over").wants(http.StatusOK).says("R13", "bad")
	if n := s.begun.Load(); n != 0 {
		t.Errorf("suspects were asked for %d times", n)
	}
}

// pumpFound is one more pump board, on which something was found.
func (h *house) pumpFound(serial, shows, part, mode string) shop.Ticket {
	h.t.Helper()
	rev := h.revision("PUMP", "A")
	k, err := h.store.TakeIn(h.t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Ide Marram", Phone: "061 777 0133",
		Complaint: "does not start", FamilyID: &rev.FamilyID, RevisionID: &rev.ID, Serial: serial, Indication: shows, AskFirst: true})
	if err != nil {
		h.t.Fatal(err)
	}
	h.moved(k, shop.OnBench, "")
	if part != "" {
		if _, err := h.store.AddFinding(h.t.Context(), h.people[tobin].Actor(), evidence.Finding{TicketID: k.ID, Part: part, Mode: mode}); err != nil {
			h.t.Fatal(err)
		}
	}
	return k
}

// What was found on other boards of the family counts on an open bench from the next
// look on, and the page says so; the ticket's own finding does not.
func TestWhatWasFoundOnTheFamilyCounts(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.pumpOnBench()
	h.proven(k)
	v := h.hasty(tobin)
	v.post("/tickets/1/readings", benchForm(v.get("/tickets/1/bench?check=r17"), "r17", "5.66k")).wants(http.StatusSeeOther)
	before := v.suspects()
	if strings.Contains(before, "boards of this family") {
		t.Errorf("nothing was found on the family: %s", before)
	}
	for i := range 6 {
		h.pumpFound(fmt.Sprintf("PA-1%d", i), "two blinks", "R14", "open")
	}
	h.pumpFound("PA-20", "two blinks", "C1", "tired")
	after := v.suspects()
	if !strings.Contains(after, "6 of the last 7 boards of this family with a confirmed cause: R14") {
		t.Errorf("the page says: %s", after)
	}
	if at, was := strings.Index(after, "R14"), strings.Index(before, "R14"); at < 0 || was >= 0 && at >= was {
		t.Errorf("R14 stands no higher.\nbefore: %s\nafter: %s", before, after)
	}
	if _, err := h.store.AddFinding(t.Context(), h.people[tobin].Actor(), evidence.Finding{TicketID: k.ID, Part: "R14", Mode: "open"}); err != nil {
		t.Fatal(err)
	}
	if own := v.suspects(); !strings.Contains(own, "6 of the last 7") {
		t.Errorf("a ticket's own finding counts for itself: %s", own)
	}
}

// The owner's prices reach the engine with the next look at a bench.
func TestPricesCountAtOnce(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	s := h.holdUp()
	h.pumpOnBench()
	tech, owner := h.hasty(tobin), h.hasty(ansa)
	asked := func() analysis.Prices {
		t.Helper()
		n := s.begun.Load()
		tech.get("/tickets/1/bench").wants(http.StatusOK)
		for began := time.Now(); s.begun.Load() == n; time.Sleep(time.Millisecond) {
			if time.Since(began) > 20*time.Second {
				t.Fatal("the engine is not asked anew")
			}
		}
		return *s.last.Load().Prices
	}
	s.release()
	if got := asked(); got != (analysis.Prices{Hazardous: 5, Lifted: 2}) {
		t.Errorf("a new shop's: %+v", got)
	}
	form := termsForm(owner.get("/shop").wants(http.StatusOK))
	if form.Get("danger_minutes") != "5" || form.Get("lifted_minutes") != "2" {
		t.Errorf("the form begins with %q and %q", form.Get("danger_minutes"), form.Get("lifted_minutes"))
	}
	form.Set("danger_minutes", "12.5")
	form.Set("lifted_minutes", "0")
	owner.post("/shop", form).leadsTo("/shop?saved=yes")
	if got := asked(); got != (analysis.Prices{Hazardous: 12.5}) {
		t.Errorf("after the owner's change: %+v", got)
	}
	a := owner.get("/shop")
	if a.value("danger_minutes") != "12.5" || a.value("lifted_minutes") != "0" {
		t.Errorf("stored terms come back as %q and %q", a.value("danger_minutes"), a.value("lifted_minutes"))
	}
	form = termsForm(a)
	form.Set("danger_minutes", "60.5")
	form.Set("lifted_minutes", "two")
	a = owner.post("/shop", form).wants(http.StatusUnprocessableEntity)
	if a.problem("danger_minutes") == "" || a.problem("lifted_minutes") == "" || a.value("lifted_minutes") != "two" || a.value("danger_minutes") != "60.5" {
		t.Errorf("refused: %q, %q, with %q and %q", a.problem("danger_minutes"), a.problem("lifted_minutes"), a.value("danger_minutes"), a.value("lifted_minutes"))
	}
}

// termsForm is the owner's form as the page carries it.
func termsForm(a *answer) url.Values {
	f := url.Values{}
	for _, name := range []string{"seen", "site_name", "address", "tz", "locale", "currency", "taxes", "labour_rate", "examination_fee", "credit_fee",
		"guarantee_days", "ask_percent", "handling_volts", "resistance_volts", "danger_minutes", "lifted_minutes"} {
		f.Set(name, a.value(name))
	}
	return f
}

// Minutes are typed as the shop writes numbers.
func TestMinutesByLocale(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(ansa)
	form := termsForm(v.get("/shop"))
	form.Set("locale", "de-DE")
	for _, f := range []string{"taxes", "labour_rate", "examination_fee"} {
		form.Set(f, "20")
	}
	form.Set("danger_minutes", "7,5")
	v.post("/shop", form).leadsTo("/shop?saved=yes")
	if got := v.get("/shop").value("danger_minutes"); got != "7,5" {
		t.Errorf("7,5 minutes come back as %q", got)
	}
}

// The ticket and its bench show what boards like it turned out to be.
func TestWhatSuchBoardsTurnedOutToBe(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.pumpOnBench()
	desk, tech := h.hasty(mirela), h.hasty(tobin)
	for _, v := range []*visitor{desk, tech} {
		v.get("/tickets/1").wants(http.StatusOK).says("No other board of this family with this indication yet.")
	}
	tech.get("/tickets/1/bench").says("No other board of this family with this indication yet.")

	first := h.pumpFound("PA-8", "2: Two blinks", "R14", "open") // ticket 2
	lines := []quote.Line{{Kind: quote.Part, Text: "R14", Quantity: quote.Whole(1), UnitPrice: quote.Whole(50), Tax: quote.Tax{Category: "S", Rate: quote.Whole(20)}}}
	if _, err := h.store.SaveQuote(t.Context(), h.people[tobin].Actor(), first.ID, h.story(first).Ticket.Version, "", lines); err != nil {
		t.Fatal(err)
	}
	sent, err := h.store.SendQuote(t.Context(), h.people[tobin].Actor(), first.ID, h.story(first).Ticket.Version)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.store.RecordConsent(t.Context(), h.people[mirela].Actor(), quote.Consent{TicketID: first.ID, QuoteID: &sent.ID, About: quote.AboutRepair,
		TextShown: "60 in all", Who: "Ide Marram", Answer: quote.Yes, Way: "phone"}); err != nil {
		t.Fatal(err)
	}
	h.pumpFound("PA-9", "three blinks", "R17", "open") // ticket 3: shows another thing
	h.pumpFound("PA-10", "two blinks", "", "")         // ticket 4: not found out yet
	for _, path := range []string{"/tickets/1", "/tickets/1/bench"} {
		got := tech.get(path).wants(http.StatusOK).part("past")
		for _, want := range []string{"1 other board of this family with this indication.", "2 R14 open still here revision A 0 min €60.00 back: no"} {
			if !strings.Contains(got, want) {
				t.Errorf("%s does not say %q: %s", path, want, got)
			}
		}
		if strings.Contains(got, "R17 open") || strings.Contains(got, "no finding recorded") {
			t.Errorf("%s lists boards that showed otherwise, or are not found out: %s", path, got)
		}
	}
	h.pumpFound("PA-11", "", "", "")
	tech.get("/tickets/5").says("2 other boards of this family, whatever they showed", "showed 2: Two blinks", "R17 open")
}

// A board of which no family is known is like no other.
func TestNoFamilyNoPast(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.takenIn()
	h.as(mirela).get("/tickets/1").wants(http.StatusOK).neverSays("turned out to be")
}

// Before the gate, too, what stands at hand stays so when suspects come in.
func TestTheCheckAtHandStaysBeforeTheGate(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	s := h.holdUp()
	k := h.pumpOnBench()
	r := 5660.0
	if _, err := h.store.StoreReadings(t.Context(), h.people[tobin].Actor(), k.ID, []evidence.Reading{{ID: uuid.Must(uuid.NewV7()), TicketID: k.ID,
		CheckKey: "r17", State: "cold", Measure: "resistance", Across: "R17", Stage: evidence.StageBefore, Typed: "5.66k", Value: &r,
		ProfileVersionID: k.ProfileVersionID, TakenAt: h.now()}}); err != nil {
		t.Fatal(err)
	}
	b := h.browserAs(tobin, 1280)
	b.open("/tickets/1/bench")
	b.until(`document.documentElement.dataset.queue === "ready" && !!document.getElementById("pending")`)
	was := b.is(`document.getElementById("f-check").value`)
	s.release()
	b.until(`!document.getElementById("pending") && document.querySelectorAll("[data-card]").length > 0`)
	shown := `[...document.querySelectorAll("[data-card] .taken:not([hidden])")].map((t) => t.closest("[data-card]").dataset.card).join(" ")`
	if got := b.is(shown); got != "" && got != was {
		t.Errorf("%q is said to be at hand, and %q stands there", got, was)
	}
}

// With script the page shows the table at once and fetches suspects by itself when
// they are there; what is being typed stays.
func TestSuspectsFollowByThemselves(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	s := h.holdUp()
	k := h.pumpOnBench()
	h.clock.Store(0) // the browser goes by the clock on the wall
	h.proven(k)
	b := h.browserAs(tobin, 1280)
	b.open("/tickets/1/bench?check=r13")
	b.until(`document.documentElement.dataset.queue === "ready" && !!document.getElementById("pending")`)
	b.keyed("OL")
	b.do(`document.querySelector("[data-store]").click()`)
	b.until(`document.querySelector("#tape .tape-verdict").textContent.includes("bad") && document.getElementById("queue").hidden`)
	b.until(`[...document.querySelectorAll("#table tr")].some((r) => r.textContent.includes("R13") && r.textContent.includes("OL"))`)
	if b.is(`String(!!document.getElementById("pending"))`) != "true" {
		t.Error("suspects are said to be there, though nobody could work them out")
	}
	b.keyed("1", "0", "4")
	s.release()
	b.until(`!document.getElementById("pending") && document.getElementById("suspects").textContent.includes("R13")`)
	if got := b.is(`document.getElementById("f-typed").value`); got != "104" {
		t.Errorf("while suspects came in, what was being typed became %q", got)
	}
}
