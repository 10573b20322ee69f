package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

var firstPasswordText = regexp.MustCompile(`[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}`)

func TestTheOwnerEntersSomebodyWhoSetsAPassword(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	a := h.as(ansa).post("/people", url.Values{"name": {"Pell"}, "role": {"bench"}}).wants(http.StatusOK)
	first := firstPasswordText.FindString(a.body)
	if first == "" {
		t.Fatal("no first password is shown")
	}
	h.as(ansa).get("/people").says("Pell", "has not set a password yet").neverSays(first)

	v := h.stranger()
	v.post("/sign-in", url.Values{"name": {"pell"}, "password": {first}}).leadsTo("/")
	v.get("/bench").leadsTo("/me")
	v.get("/me").says("Set one that only you know")
	change := func(now, text, again string) *answer {
		return v.post("/me", url.Values{"now": {now}, "password": {text}, "again": {again}})
	}
	if p := change("not it", "kettle wire seven", "kettle wire seven").wants(http.StatusUnprocessableEntity).problem("now"); p == "" {
		t.Error("a wrong present password gets no message at its field")
	}
	if p := change(first, "kettle", "kettle").wants(http.StatusUnprocessableEntity).problem("password"); p == "" {
		t.Error("a short password gets no message at its field")
	}
	change(first, "kettle wire seven", "kettle wire seven").leadsTo("/me?changed=yes")
	v.get("/bench").wants(http.StatusOK)
}

func TestPeopleKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(ansa)
	a := v.post("/people", url.Values{"name": {"tobin"}, "role": {"bench"}}).wants(http.StatusUnprocessableEntity)
	if a.problem("name") == "" || a.value("name") != "tobin" || a.value("role") != "bench" {
		t.Errorf("a taken name: problem %q, name %q, role %q", a.problem("name"), a.value("name"), a.value("role"))
	}
	a = v.post("/people", url.Values{"name": {"Pell"}, "role": {"king"}}).wants(http.StatusUnprocessableEntity)
	if a.problem("role") == "" || a.value("name") != "Pell" {
		t.Errorf("an unknown role: problem %q, name %q", a.problem("role"), a.value("name"))
	}
	v.post("/people", url.Values{"name": {strings.Repeat("n", 81)}, "role": {"bench"}}).wants(http.StatusUnprocessableEntity)
}

func TestWhoIsDeactivatedIsOutAtOnce(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v, at := h.as(tobin), h.people[tobin].ID.String()
	v.get("/me").wants(http.StatusOK)
	h.as(ansa).post("/people/"+at+"/active", url.Values{"active": {"no"}}).leadsTo("/people")
	v.get("/me").leadsTo("/sign-in?then=%2Fme")
	h.as(ansa).get("/people").says("no longer works here")
	h.as(ansa).post("/people/"+at+"/active", url.Values{"active": {"yes"}}).leadsTo("/people")
	h.as(tobin).get("/me").wants(http.StatusOK)
}

func TestTheLastOwnerStays(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	me := h.people[ansa].ID.String()
	h.as(ansa).post("/people/"+me+"/role", url.Values{"role": {"bench"}}).wants(http.StatusConflict)
	h.as(ansa).post("/people/"+me+"/active", url.Values{"active": {"no"}}).wants(http.StatusConflict)
	h.as(ansa).get("/people").wants(http.StatusOK)
}

func TestShopTermsAreStoredAndRefused(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(ansa)
	form := shopOpening()
	form.Set("labour_rate", "61.50")
	form.Set("handling_volts", "2.5 V")
	v.post("/shop", form).wants(http.StatusUnprocessableEntity) // without the terms that were seen
	seen := v.get("/shop").value("seen")
	v.post("/shop", with(form, "seen", seen)).leadsTo("/shop?saved=yes")
	a := v.get("/shop").wants(http.StatusOK)
	if a.value("labour_rate") != "61.5" || a.value("handling_volts") != "2.5 V" {
		t.Errorf("stored terms come back as %q and %q", a.value("labour_rate"), a.value("handling_volts"))
	}
	form.Set("handling_volts", "24 V")
	a = v.post("/shop", form).wants(http.StatusUnprocessableEntity)
	if a.problem("handling_volts") == "" || a.value("labour_rate") != "61.50" {
		t.Errorf("a widened limit: problem %q, labour came back as %q", a.problem("handling_volts"), a.value("labour_rate"))
	}

	// Two owners with the page open: the second is told, and keeps what was typed.
	form.Set("handling_volts", "1 V")
	form.Set("seen", seen)
	a = v.post("/shop", form).wants(http.StatusConflict).says("Somebody stored other terms")
	if got := v.get("/shop").value("handling_volts"); got != "2.5 V" || a.value("handling_volts") != "1 V" {
		t.Errorf("stored %q, typed %q", got, a.value("handling_volts"))
	}
	v.post("/shop", with(form, "seen", a.value("seen"))).leadsTo("/shop?saved=yes")
}
