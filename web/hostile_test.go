package web_test

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"golang.org/x/net/html"

	"ohmstead/internal/evidence"
	"ohmstead/internal/shop"
	"ohmstead/web"
)

// trouble keeps what the server logs as an error.
type trouble struct {
	mu  sync.Mutex
	log bytes.Buffer
}

func (b *trouble) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.log.Write(p)
}

func (b *trouble) take() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	defer b.log.Reset()
	return b.log.String()
}

// troubled makes the house's server log to what it gives back.
func (h *house) troubled() *trouble {
	log := &trouble{}
	h.server.Close()
	h.server = httptest.NewServer(web.New(h.store, web.Options{Now: h.now,
		Log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelError}))}))
	h.t.Cleanup(h.server.Close)
	return log
}

// clean fails when something that was typed has become part of the page's own
// markup: an element or attribute called evil, a script or address of its own.
func (a *answer) clean(where string) {
	a.t.Helper()
	each(a.doc, func(n *html.Node) {
		if n.Data == "evil" || n.Data == "script" && attr(n, "type") != "application/json" && !strings.HasPrefix(attr(n, "src"), "/static/") {
			a.t.Errorf("%s: <%s> got into the page", where, n.Data)
		}
		for _, at := range n.Attr {
			if strings.Contains(at.Key, "evil") || strings.HasPrefix(at.Key, "on") || strings.HasPrefix(strings.ToLower(at.Val), "javascript:") {
				a.t.Errorf("%s: <%s %s=%q> got into the page", where, n.Data, at.Key, at.Val)
			}
		}
	})
}

// evil would become markup in a text, in an attribute, in a text area and in the
// data that a page gives its script, wherever one of these is not escaped.
const evil = `"'></textarea></script><evil evil=1>`

// Text that everybody in the shop can type, and the texts of a board profile, on
// every page that shows them (ASVS 5.0 V1.2.1 to V1.2.3).
func TestNothingTypedBecomesMarkup(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	h.know("evil", "E "+evil, "R "+evil, evilProfile)
	v, rev := h.as(ansa), h.revision("E "+evil, "R "+evil)
	v.post("/shop", with(shopOpening(), "seen", v.get("/shop").value("seen"), "site_name", "S "+evil, "address", evil)).leadsTo("/shop?saved=yes")
	v.post("/people", url.Values{"name": {"P " + evil}, "role": {"bench"}}).wants(http.StatusOK).clean("/people")
	intake := newCustomersForm()
	for _, field := range []string{"name", "complaint", "serial", "own_tag", "indication", "when_happens", "touched_before", "accessories", "condition", "bay"} {
		intake.Set(field, field+" "+evil)
	}
	v.post("/take-in", with(intake, "kind", "rev:"+rev.ID.String(), "promised_on", "", "limit", "")).wants(http.StatusUnprocessableEntity).clean("/take-in")
	v.post("/take-in", with(intake, "limit", "9")).leadsTo("/tickets/1?done=taken-in")
	k := h.story(shop.Ticket{ID: uuid.MustParse(intake.Get("form"))}).Ticket
	h.moved(k, shop.OnBench, "")
	at := ticketAt(k)
	for path, form := range map[string]url.Values{
		"/bench/seen":     {"seen_part": {"C1 " + evil}, "seen_what": {evil}, "seen_note": {evil}},
		"/bench/findings": {"findings_part": {"R1 " + evil}, "findings_mode": {evil}, "findings_words": {evil}},
		"/bench/overrule": {"part": {"R2 " + evil}, "reason": {evil}},
		"/bench/fitted":   {"fitted_part": {"R1 " + evil}, "fitted_what": {evil}, "fitted_note": {evil}},
		"/readings":       {"id": {uuid.Must(uuid.NewV7()).String()}, "typed": {"OL"}, "check": {"k " + evil}},
	} {
		h.deadNow(k)
		v.post(at+path, form).wants(http.StatusSeeOther)
	}
	v.post(at+"/move", url.Values{"seen": {"99"}, "to": {"waiting_for_a_part"}, "reason": {evil}}).wants(http.StatusSeeOther)
	v.post(at+"/correct", url.Values{"seen": {"99"}, "field": {"complaint"}, "new": {"c " + evil}, "reason": {evil}}).wants(http.StatusSeeOther)
	v.post(at+"/quote", with(typedQuote(99, "send", [5]string{"part", evil, "1", "5", "S 20"}), "note", evil)).leadsTo(at + "/quote?done=sent")
	v.post(at+"/quote/answer", with(typedAnswer(h), "who", evil, "text_shown", evil)).leadsTo(at + "/quote?done=answered")
	q := url.QueryEscape(evil)
	for _, path := range []string{at, at + "/quote", at + "/quote/1", at + "/hand-over", at + "/correct?field=complaint", at + "/void", at + "/bench",
		at + "/bench?free=1", at + "/bench?check=" + q, at + "/bench?block=" + q, at + "?done=" + q, at + "/correct?field=" + q,
		"/counter", "/bench", "/take-in", "/families", "/families/" + rev.ID.String(), "/people", "/shop", "/me",
		"/find?q=" + q, "/find?list=1&q=name", "/customers?q=name", "/boards?serial=" + q, "/take-in?who=" + q, "/tickets/" + url.PathEscape(evil)} {
		v.get(path).clean(path)
	}
	h.stranger().get("/sign-in?then=" + q).clean("/sign-in")
	h.stranger().post("/sign-in", url.Values{"name": {evil}, "password": {evil}, "then": {evil}}).clean("/sign-in")
	v.post(at+"/move", url.Values{"seen": {"99"}, "to": {"on_the_bench"}, "reason": {evil}}).wants(http.StatusSeeOther)
	v.post(at+"/move", url.Values{"seen": {"99"}, "to": {"to_be_handed_over"}, "reason": {evil}}).wants(http.StatusSeeOther)
	slip := v.post(at+"/hand-over", url.Values{"seen": {"99"}, "as": {"returned_unrepaired"}, "to": {evil}, "text": {evil}, "advice": {evil}}).
		wants(http.StatusSeeOther).header.Get("Location")
	v.get(slip).wants(http.StatusOK).clean(slip)
	v.get(at).wants(http.StatusOK).clean(at)
}

// evilProfile has the mark in every text that a profile may hold.
var evilProfile = strings.ReplaceAll(`format: ohmstead/board-profile/1
id: evil
title: EVIL
revision: R
ground: com
stored_energy: [C1]
parts:
  C1: {kind: capacitor, pins: {plus: p, minus: com}, value: 330u, where: EVIL, package: EVIL, marking: EVIL, note: EVIL}
  R1: {kind: resistor, pins: [p, "n EVIL"], value: 10k}
  "R2 EVIL": {kind: resistor, pins: ["n EVIL", com], value: 10k}
points:
  "TP EVIL": {node: "n EVIL", where: EVIL}
states:
  live: {title: EVIL, sources: [{name: EVIL, plus: p, minus: com, volts: 30 V}]}
checks:
  - {id: "k EVIL", state: cold, measure: resistance, across: "R2 EVIL"}
  - {id: k2, state: live, measure: dc_volts, red: "TP EVIL"}
blocks:
  "b EVIL": {title: EVIL, path: [p, R1, "n EVIL", "R2 EVIL", com], parts: [R1, "R2 EVIL"], safety: true}
indications:
  - {code: "EVIL", shows: EVIL, meaning: EVIL, blocks: ["b EVIL"]}
`, "EVIL", `\"'></textarea></script><evil evil=1>`)

// deadNow switches the board off and proves it dead.
func (h *house) deadNow(k shop.Ticket) {
	h.t.Helper()
	h.at(h.now().Add(time.Second))
	if err := h.store.StorePowerEvent(h.t.Context(), h.people[tobin].Actor(), evidence.PowerEvent{TicketID: k.ID}); err != nil {
		h.t.Fatal(err)
	}
	h.at(h.now().Add(time.Second))
	h.proven(k)
}

// filled is a form as somebody would send it, made anew for each try. Sent as it
// is, it is accepted.
type filled struct {
	path string // as in the table of routes
	who  string // "" for a stranger
	form func() (address string, values url.Values)
	only string // the one field to try; "" for every one
}

// Whatever stands in a field, hidden ones too, it is taken or refused with a
// reason: never a fault of ours (ASVS 5.0 V2.2.1, V16.5.1).
func TestNothingTypedIsAFault(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	log := h.troubled()
	nasty := []string{"", "a\x00b", "\xff\xfe", strings.Repeat("x", 70_000), "9223372036854775808", "-1", "9999-12-31T23:59", evil}
	covered := map[string]bool{"/first-start": true, "/sign-out": true, "/people/{person}/password": true}
	for _, f := range formsOf(h) {
		covered[f.path] = true
		at, values := f.form()
		h.visitor(f.who).post(at, values).sent(t, f.path, log)
		for field := range values {
			if f.only != "" && f.only != field {
				continue
			}
			for _, bad := range nasty {
				at, values := f.form()
				a := h.visitor(f.who).post(at, with(values, field, bad))
				if out := log.take(); a.status == http.StatusInternalServerError || out != "" {
					t.Errorf("%s, %s = %.40q: status %d\n%s", f.path, field, bad, a.status, out)
				}
				a.clean(f.path + ", " + field)
			}
		}
		double := url.Values{} // every field twice
		_, values = f.form()
		for field, v := range values {
			double[field] = []string{v[0], "again"}
		}
		if a := h.visitor(f.who).post(at, double); a.status == http.StatusInternalServerError {
			t.Errorf("%s, every field twice: status %d", f.path, a.status)
		}
	}
	for _, l := range web.RouteLines() {
		if l.Method == http.MethodPost && !covered[l.Path] {
			t.Errorf("%s is not tried; give this test a form for it", l.Path)
		}
	}
}

// sent fails unless a form that is all right was accepted.
func (a *answer) sent(t *testing.T, path string, log *trouble) {
	t.Helper()
	if a.status != http.StatusSeeOther && a.status != http.StatusOK {
		t.Errorf("%s: a form that is all right gets status %d: %s", path, a.status, a.text())
	}
	if out := log.take(); out != "" {
		t.Errorf("%s: %s", path, out)
	}
}

func (h *house) visitor(name string) *visitor {
	if name == "" {
		return h.stranger()
	}
	return h.as(name)
}

// formsOf gives a form for every address that takes one.
func formsOf(h *house) []filled {
	k := h.pumpOnBench()
	h.setPassword("four copper cats", tobin, mirela)
	return slices.Concat(deskForms(h, k), benchForms(h, k), undoForms(h, k), correctForms(h))
}

func newKey() string { return uuid.Must(uuid.NewV7()).String() }

// later moves the clock of the house on.
func (h *house) later(d time.Duration) { h.at(h.now().Add(d)) }

// fresh takes in another board.
func (h *house) fresh() shop.Ticket {
	h.t.Helper()
	h.later(time.Second)
	k, err := h.store.TakeIn(h.t.Context(), h.people[mirela].Actor(), shop.Intake{Name: "Ide Marram", Phone: "061 777 0133", Complaint: "hums", AskFirst: true})
	if err != nil {
		h.t.Fatal(err)
	}
	return k
}

func deskForms(h *house, k shop.Ticket) []filled {
	return []filled{
		{"/sign-in", "", func() (string, url.Values) {
			h.later(time.Hour) // so that no try has to wait
			return "/sign-in", url.Values{"name": {tobin}, "password": {"four copper cats"}, "then": {"/bench"}}
		}, ""},
		{"/me", mirela, func() (string, url.Values) {
			h.later(time.Hour)
			return "/me", url.Values{"now": {"four copper cats"}, "password": {"four copper cats"}, "again": {"four copper cats"}}
		}, ""},
		{"/take-in", mirela, func() (string, url.Values) {
			n := newKey()
			return "/take-in", with(newCustomersForm(), "promised_on", h.now().Format(time.DateOnly), "serial", n, "own_tag", n)
		}, ""},
		{"/families", tobin, func() (string, url.Values) {
			return "/families", url.Values{"id": {""}, "name": {newKey()}, "title": {"a family"}, "new_board": {"120"}}
		}, ""},
		{"/people", ansa, func() (string, url.Values) { return "/people", url.Values{"name": {newKey()}, "role": {"bench"}} }, ""},
		{"/people/{person}/role", ansa, func() (string, url.Values) {
			return "/people/" + h.people[tobin].ID.String() + "/role", url.Values{"role": {"bench"}}
		}, ""},
		{"/people/{person}/active", ansa, func() (string, url.Values) {
			return "/people/" + h.people[tobin].ID.String() + "/active", url.Values{"active": {"yes"}}
		}, ""},
		{"/shop", ansa, func() (string, url.Values) {
			h.later(time.Second)
			return "/shop", with(shopOpening(), "seen", h.as(ansa).get("/shop").value("seen"))
		}, ""},
		{"/tickets/{number}/move", tobin, func() (string, url.Values) {
			return ticketAt(h.fresh()) + "/move", url.Values{"seen": {"1"}, "to": {"on_the_bench"}, "reason": {"now"}}
		}, ""},
		{"/tickets/{number}/void", mirela, func() (string, url.Values) {
			return ticketAt(h.fresh()) + "/void", url.Values{"seen": {"1"}, "reason": {"twice"}}
		}, ""},
		{"/tickets/{number}/hand-over", mirela, func() (string, url.Values) {
			return ticketAt(h.fresh()) + "/hand-over", url.Values{"seen": {"1"}, "as": {"returned_unrepaired"}, "to": {"him"}, "text": {"no"}, "advice": {"none"}, "block:x": {"read"}}
		}, ""},
		{"/tickets/{number}/quote", tobin, func() (string, url.Values) {
			h.later(time.Second)
			return quoteAt(k), with(typedQuote(h.story(k).Ticket.Version, "save", chips), "free", "", "wait", "", "id-0", newKey())
		}, ""},
		{"/tickets/{number}/quote/answer", mirela, func() (string, url.Values) {
			return quoteAt(k) + "/answer", with(typedAnswer(h), "to_version", "", "answer", "new_limit", "limit", "120")
		}, ""},
	}
}

func benchForms(h *house, k shop.Ticket) []filled {
	on := func(what string, values url.Values) func() (string, url.Values) {
		return func() (string, url.Values) {
			h.later(time.Second)
			v := url.Values{"id": {newKey()}, "check": {"r17"}}
			for name, x := range values {
				v[name] = x
			}
			return ticketAt(k) + what, v
		}
	}
	return []filled{
		{"/tickets/{number}/bench/seen", tobin, on("/bench/seen", url.Values{"seen_part": {"C1"}, "seen_what": {"burnt"}, "seen_note": {"dark"}}), ""},
		{"/tickets/{number}/bench/findings", tobin, on("/bench/findings", url.Values{"findings_part": {"R13"}, "findings_mode": {"open"}, "findings_words": {"cap"}}), ""},
		{"/tickets/{number}/bench/fitted", tobin, on("/bench/fitted", url.Values{"fitted_part": {"R13"}, "fitted_what": {"120k"}, "fitted_note": {"1206"}}), ""},
		{"/tickets/{number}/bench/overrule", tobin, func() (string, url.Values) {
			h.later(time.Second)
			return ticketAt(k) + "/bench/overrule", url.Values{"id": {newKey()}, "check": {"r17"}, "key": {""}, "part": {"R" + newKey()}, "reason": {"lifted"}}
		}, ""},
		{"/tickets/{number}/bench/power", tobin, on("/bench/power", url.Values{"on": {"yes"}, "state": {"live"}}), ""},
		{"/tickets/{number}/bench/meter", tobin, on("/bench/meter", url.Values{"meter": {""}}), ""},
		{"/tickets/{number}/bench/revision", tobin, func() (string, url.Values) {
			return ticketAt(h.fresh()) + "/bench/revision", url.Values{"revision": {h.revision("PUMP", "A").ID.String()}, "reason": {"read"}}
		}, ""},
		{"/tickets/{number}/bench/dead", tobin, func() (string, url.Values) {
			h.later(time.Minute)
			now := h.now().UTC().Format("15:04:05")
			return ticketAt(k) + "/bench/dead", url.Values{"id:C1": {newKey()}, "check": {"r17"}, "volts:C1": {"12"}, "swapped:C1": {"12"}, "before_at": {now}, "after_at": {now}}
		}, ""},
		{"/tickets/{number}/readings", tobin, func() (string, url.Values) {
			h.deadNow(k)
			return ticketAt(k) + "/readings", url.Values{"id": {newKey()}, "check": {""}, "typed": {"6.78k"}, "state": {"cold"}, "measure": {"resistance"},
				"red": {"vb"}, "black": {"com"}, "across": {""}, "residue": {"0.02"}, "lifted": {""}, "swapped": {"yes"}, "up": {"yes"}, "new": {""}}
		}, ""},
	}
}

// undoForms take back what was stored before.
func undoForms(h *house, k shop.Ticket) []filled {
	stored := func() (reading, finding uuid.UUID) {
		reading, finding = uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())
		volts, by := 3.3, h.people[tobin].Actor()
		_, err := h.store.StoreReadings(h.t.Context(), by, k.ID, []evidence.Reading{{ID: reading, CheckKey: "tp3", State: "live", Measure: "dc_volts",
			Red: "TP3", Typed: "3.3", Value: &volts, TakenAt: h.now()}})
		if err == nil {
			_, err = h.store.AddFinding(h.t.Context(), by, evidence.Finding{ID: finding, TicketID: k.ID, Words: "cracked"})
		}
		if err != nil {
			h.t.Fatal(err)
		}
		return reading, finding
	}
	return []filled{
		{"/tickets/{number}/readings/{reading}/strike", tobin, func() (string, url.Values) {
			reading, _ := stored()
			return ticketAt(k) + "/readings/" + reading.String() + "/strike", url.Values{"reason": {"the probe slipped"}}
		}, ""},
		{"/tickets/{number}/readings/{reading}/overrule", tobin, func() (string, url.Values) {
			reading, _ := stored()
			return ticketAt(k) + "/readings/" + reading.String() + "/overrule", url.Values{"id": {newKey()}, "verdict": {"not_bad"}, "reason": {"a later type"}}
		}, ""},
		{"/tickets/{number}/bench/overrules/{overrule}/withdraw", tobin, func() (string, url.Values) {
			reading, _ := stored()
			o, err := h.store.AddOverrule(h.t.Context(), h.people[tobin].Actor(), evidence.Overrule{TicketID: k.ID, ReadingID: &reading, Verdict: evidence.RuledBad, Reason: "x"})
			if err != nil {
				h.t.Fatal(err)
			}
			return ticketAt(k) + "/bench/overrules/" + o.ID.String() + "/withdraw", url.Values{"reason": {"it was right"}}
		}, ""},
		{"/tickets/{number}/bench/findings/{finding}/withdraw", tobin, func() (string, url.Values) {
			_, finding := stored()
			return ticketAt(k) + "/bench/findings/" + finding.String() + "/withdraw", url.Values{"reason": {"it was the probe"}}
		}, ""},
	}
}

func correctForms(h *house) (list []filled) {
	for i, field := range shop.CorrectableFields() {
		only := "new"
		if i == 0 || field == "customer" {
			only = ""
		}
		list = append(list, filled{"/tickets/{number}/correct", mirela, func() (string, url.Values) {
			n := h.fresh()
			value := map[string]string{"promised_on": h.now().Format(time.DateOnly), "limit": "50", "state": "on_the_bench", "if_not_repaired": "scrap"}[field]
			if value == "" {
				value = "SD-9"
			}
			return ticketAt(n) + "/correct", url.Values{"seen": {"1"}, "field": {field}, "new": {value}, "customer": {n.CustomerID.String()}, "reason": {"misread"}}
		}, only})
	}
	return list
}
