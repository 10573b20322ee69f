package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"ohmstead/internal/password"
)

func shopOpening() url.Values {
	return url.Values{
		"name": {ansa}, "password": {"four copper cats"}, "again": {"four copper cats"},
		"site_name": {"Lantern Quay Board Works"}, "address": {"Quernhithe"},
		"tz": {"Europe/Dublin"}, "locale": {"en-IE"}, "currency": {"EUR"}, "taxes": {"20"}, "labour_rate": {"54"},
		"examination_fee": {"25"}, "credit_fee": {"yes"}, "guarantee_days": {"180"}, "ask_percent": {"55"},
		"handling_volts": {"5 V"}, "resistance_volts": {"0.1 V"},
	}
}

func TestFirstStartOpensTheShopOnce(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	v := h.stranger()
	v.get("/").leadsTo("/first-start")
	v.get("/first-start").wants(http.StatusOK).says("Open your shop")
	v.post("/first-start", shopOpening()).leadsTo("/shop?opened=yes")
	v.get("/shop").wants(http.StatusOK).says("The terms of Lantern Quay Board Works")

	other := h.stranger()
	other.get("/first-start").leadsTo("/sign-in")
	if a := other.post("/first-start", shopOpening()); a.status < 400 && a.header.Get("Location") != "/sign-in" {
		t.Errorf("the shop was opened twice: status %d to %q", a.status, a.header.Get("Location"))
	}
}

func TestFirstStartKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	cases := []struct{ field, typed, message string }{
		{"name", "", "Enter a name."},
		{"password", "short", "at least 8 characters"},
		{"password", "password1", "guessed first"},
		{"again", "four copper dogs", "not the same"},
		{"site_name", "", "shop's name"},
		{"tz", "Mars/Olympus", "time zone"},
		{"locale", "klingon!", "en-IE"},
		{"currency", "EURO", "three letters"},
		{"taxes", "twenty", "such as"},
		{"labour_rate", "1.2.3", "thousands"},
		{"examination_fee", "-3", "between 0"},
		{"guarantee_days", "x", "whole number"},
		{"ask_percent", "0", "between 1 and 100"},
		{"handling_volts", "60 V", "not loosened"},
		{"resistance_volts", "1", "not loosened"},
	}
	for _, c := range cases {
		form := shopOpening()
		form.Set(c.field, c.typed)
		if c.field == "password" {
			form.Set("again", c.typed)
		}
		a := h.stranger().post("/first-start", form).wants(http.StatusUnprocessableEntity)
		if got := a.problem(c.field); !strings.Contains(got, c.message) {
			t.Errorf("%s %q: the field says %q, want %q", c.field, c.typed, got, c.message)
		}
		for field := range form {
			if field == "password" || field == "again" {
				continue // never sent back
			}
			if got := a.value(field); got != form.Get(field) {
				t.Errorf("%s %q: %s came back as %q, was typed as %q", c.field, c.typed, field, got, form.Get(field))
			}
		}
	}
}

func TestSignIn(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	ctx := t.Context()
	hash, err := password.Hash(ctx, "four copper cats")
	if err != nil {
		t.Fatal(err)
	}
	m := h.people[mirela]
	if err := h.store.SetPassword(ctx, m.Actor(), m.ID, hash, nil); err != nil {
		t.Fatal(err)
	}
	v := h.stranger()
	v.get("/counter").leadsTo("/sign-in?then=%2Fcounter")
	in := func(name, text, then string) *answer {
		return v.post("/sign-in", url.Values{"name": {name}, "password": {text}, "then": {then}})
	}
	wrong := in(mirela, "four copper dogs", "").wants(http.StatusUnprocessableEntity).says("do not belong together")
	unknown := in("Nobody", "four copper cats", "").wants(http.StatusUnprocessableEntity)
	if wrong.value("name") != mirela {
		t.Error("the name that was typed is lost")
	}
	if strings.ReplaceAll(unknown.text(), "Nobody", mirela) != wrong.text() {
		t.Error("an unknown name can be told from a wrong password")
	}
	in(mirela, "four copper cats", "https://elsewhere.example/").leadsTo("/")
	in("MIRELA", "four copper cats", "/find?q=7").leadsTo("/find?q=7")
	v.get("/me").wants(http.StatusOK).says(mirela)

	before := v.client.Jar.Cookies(mustURL(t, h.server.URL))
	v.post("/sign-out", nil).leadsTo("/sign-in")
	v.client.Jar.SetCookies(mustURL(t, h.server.URL), before)
	v.get("/me").leadsTo("/sign-in?then=%2Fme") // the old token is dead on the server too
}

func TestGuessingGetsSlower(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC))
	v := h.stranger()
	form := url.Values{"name": {tobin}, "password": {"wrong wrong"}}
	for i := range 5 {
		if a := v.post("/sign-in", form); a.status != http.StatusUnprocessableEntity {
			t.Fatalf("try %d: status %d", i+1, a.status)
		}
	}
	v.post("/sign-in", form).wants(http.StatusServiceUnavailable).says("Too many wrong passwords")
	v.post("/sign-in", url.Values{"name": {ansa}, "password": {"wrong wrong"}}).wants(http.StatusUnprocessableEntity)
	h.at(h.now().Add(time.Minute))
	v.post("/sign-in", form).wants(http.StatusUnprocessableEntity)
}

func TestForeignFormsAreRefused(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(ansa)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, h.server.URL+"/sign-out", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", "https://elsewhere.example")
	resp, err := v.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close() //nolint:errcheck // nothing read
	if resp.StatusCode != http.StatusForbidden {
		t.Errorf("a form of another site: status %d, want 403", resp.StatusCode)
	}
	v.get("/people").wants(http.StatusOK)
}

func mustURL(t *testing.T, s string) *url.URL {
	t.Helper()
	u, err := url.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return u
}
