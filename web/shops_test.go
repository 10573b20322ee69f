package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// fern is the owner of the company's other shop.
const fern = "Fern"

// branch opens a second shop of the company, with Fern as its owner.
func (h *house) branch() {
	h.t.Helper()
	ctx, site, person := h.t.Context(), uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())
	for _, x := range []struct {
		sql  string
		args []any
	}{
		{`INSERT INTO site (id, name, address, tz, locale, currency, created_at)
			SELECT $1, 'Fernmill Board Works', address, tz, locale, currency, created_at FROM site WHERE id = $2`, []any{site, h.site.ID}},
		{`INSERT INTO setting SELECT $1, valid_from, taxes, labour_rate, examination_fee, credit_fee, guarantee_days,
			ask_percent, handling_volts, resistance_volts, danger_minutes, lifted_minutes FROM setting WHERE site_id = $2`, []any{site, h.site.ID}},
		{`INSERT INTO person (id, site_id, name, name_key, role, password_hash, must_change_password, created_at)
			VALUES ($1, $2, $3, 'fern', 'owner', $4, false, now())`, []any{person, site, fern, nobodysHash}},
	} {
		if _, err := h.pool.Exec(ctx, x.sql, x.args...); err != nil {
			h.t.Fatal(err)
		}
	}
	h.people[fern] = staff.Person{ID: person, SiteID: site, Name: fern, Role: staff.Owner}
}

// ASVS 5.0 V8.2.2: an owner of another shop, who may do everything there, reaches
// nothing here by guessing numbers and keys, and changes nothing.
func TestAnotherShopsTicketsCannotBeReached(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	h.branch()
	ours := h.divider()
	h.repaired(ours)
	h.quoted(ours)
	st := h.story(ours)
	v := h.as(fern)
	for _, path := range []string{"", "/correct?field=complaint", "/void", "/quote", "/quote/1", "/hand-over", "/slip/1", "/bench", "/bench/state"} {
		v.get(ticketAt(ours) + path).wants(http.StatusNotFound)
	}
	mine, err := h.store.TakeIn(t.Context(), h.people[fern].Actor(), shop.Intake{Name: "Orla", Phone: "061 555 0199", Complaint: "dead", AskFirst: true})
	if err != nil || mine.Number != ours.Number {
		t.Fatalf("ticket %d, %v: both shops have to have the same number for this", mine.Number, err)
	}
	v.get(ticketAt(mine)).wants(http.StatusOK).says("Orla").neverSays("Brook Farm")
	v.get(ticketAt(mine) + "/quote/1").wants(http.StatusNotFound)
	v.get(ticketAt(mine) + "/slip/1").wants(http.StatusNotFound)

	reason := url.Values{"reason": {"because"}}
	v.post(ticketAt(mine)+"/readings/"+st.Readings[0].ID.String()+"/strike", reason).wants(http.StatusNotFound)
	v.post(ticketAt(mine)+"/bench/findings/"+st.Findings[0].ID.String()+"/withdraw", reason).wants(http.StatusNotFound)
	for _, name := range []string{ansa, tobin} {
		at := "/people/" + h.people[name].ID.String()
		v.post(at+"/password", nil).wants(http.StatusNotFound)
		v.post(at+"/role", url.Values{"role": {"bench"}}).wants(http.StatusNotFound)
		v.post(at+"/active", url.Values{"active": {"no"}}).wants(http.StatusNotFound)
	}
	v.get("/people").neverSays(ansa, tobin)
	// A key of ours in a form of theirs makes nothing of ours theirs.
	line := typedQuote(mine.Version, "save", chips)
	v.post(quoteAt(mine), with(line, "id-0", st.Quotes[0].Lines[0].ID.String())).leadsTo(quoteAt(mine) + "?done=stored")
	v.post(ticketAt(mine)+"/bench/findings", url.Values{"id": {st.Findings[0].ID.String()}, "findings_words": {"mine now"}}).wants(http.StatusConflict)
	v.post("/take-in", with(newCustomersForm(), "form", ours.ID.String(), "promised_on", "")).wants(http.StatusConflict)
	v.postJSON(ticketAt(mine)+"/readings", `{"readings": [{"id": "`+st.Readings[0].ID.String()+`", "state": "cold", "measure": "resistance", "across": "R1", "typed": "1k"}]}`).
		wants(http.StatusOK).says(`"outcome":"kept"`)
	after := h.story(ours)
	if after.Ticket.Version != st.Ticket.Version || len(after.Readings) != len(st.Readings) || after.Readings[0].Struck != nil ||
		after.Findings[0].WithdrawnAt != nil || after.Quotes[0].Lines[0] != st.Quotes[0].Lines[0] {
		t.Errorf("our ticket is not what it was: version %d, then %d", st.Ticket.Version, after.Ticket.Version)
	}
}

// The same shop, another ticket: a paper and a reading belong to one ticket only.
func TestAKeyOfAnotherTicketIsNotTaken(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2027, 1, 12, 14, 10, 0, 0, time.UTC))
	k := h.divider()
	h.repaired(k)
	h.moved(k, shop.ToHandOver, "")
	v := h.as(ansa)
	slip := v.post(handOverAt(k), typedHandOver(h, k)).wants(http.StatusSeeOther).header.Get("Location")
	other := h.takenIn()
	v.get(slip).wants(http.StatusOK)
	v.get(strings.Replace(slip, ticketAt(k)+"/", ticketAt(other)+"/", 1)).wants(http.StatusNotFound)
	reading := h.story(k).Readings[0]
	v.post(ticketAt(other)+"/readings/"+reading.ID.String()+"/strike", url.Values{"reason": {"x"}}).wants(http.StatusNotFound)
	if got := h.story(k).Readings[0].Struck; got != (*evidence.Strike)(nil) {
		t.Errorf("struck by another ticket: %+v", got)
	}
}
