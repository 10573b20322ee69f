package web_test

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/net/html"

	"ohmstead/web"
)

func shopOpening() url.Values {
	return url.Values{
		"name": {ansa}, "password": {"four copper cats"}, "again": {"four copper cats"},
		"site_name": {"Lantern Quay Board Works"}, "address": {"Quernhithe"},
		"tz": {"Europe/Dublin"}, "locale": {"en-IE"}, "currency": {"EUR"}, "taxes": {"20"}, "labour_rate": {"54"},
		"examination_fee": {"25"}, "credit_fee": {"yes"}, "guarantee_days": {"180"}, "ask_percent": {"55"},
		"handling_volts": {"5 V"}, "resistance_volts": {"0.1 V"}, "danger_minutes": {"5"}, "lifted_minutes": {"2"},
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
	other.post("/first-start", shopOpening()).wants(http.StatusConflict)
	// Refused before anything is looked at: hashing for strangers is too dear.
	other.post("/first-start", url.Values{}).wants(http.StatusConflict).says("set up already")
}

func TestFirstStartKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	cases := []struct{ field, typed, message string }{
		{"name", "", "Enter a name."},
		{"password", "short", "at least 8 characters"},
		{"password", "password1", "guessed first"},
		{"again", "four copper dogs", "not the same"},
		{"site_name", "", "shop’s name"},
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
		{"danger_minutes", "61", "between 0 and 60"},
		{"danger_minutes", "long", "minutes"},
		{"lifted_minutes", "-1", "between 0 and 60"},
		{"lifted_minutes", "", "minutes"},
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
	h.setPassword("four copper cats", mirela)
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

// Chromium and others send Sec-Fetch-Site over HTTPS and to this machine; over the
// plain HTTP of a shop's network only Origin tells where a form came from.
func TestForeignFormsAreRefused(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(ansa)
	send := func(header, value string) int {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, h.server.URL+"/people",
			strings.NewReader(url.Values{"name": {""}}.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set(header, value)
		resp, err := v.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close() //nolint:errcheck // nothing read
		return resp.StatusCode
	}
	const refused, reached = http.StatusForbidden, http.StatusUnprocessableEntity
	for _, c := range []struct {
		header, value string
		want          int
	}{
		{"Origin", "https://elsewhere.example", refused}, {"Origin", "null", refused}, {"Origin", "http://127.0.0.1:1", refused},
		{"Sec-Fetch-Site", "cross-site", refused}, {"Sec-Fetch-Site", "same-site", refused},
		{"Origin", h.server.URL, reached}, {"Sec-Fetch-Site", "same-origin", reached}, {"Sec-Fetch-Site", "none", reached},
	} {
		if got := send(c.header, c.value); got != c.want {
			t.Errorf("%s: %s: status %d, want %d", c.header, c.value, got, c.want)
		}
	}
	r := httptest.NewRequest(http.MethodPost, "/sign-out", nil)
	r.Header.Set("Origin", "https://elsewhere.example")
	if a := h.straight(r); a.header.Get("Content-Type") != "text/html; charset=utf-8" || a.header.Get("Cache-Control") != "no-store" {
		t.Errorf("a refusal is no page like the others: %v", a.header)
	} else {
		a.says("page of another site")
	}
}

// ASVS 5.0 V3.3.1, V3.3.3, V3.4.1: behind a proxy that speaks HTTPS the cookie goes
// nowhere else. The proxy asks under a name of its own.
func TestBehindAProxyCookiesAreSecure(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.setPassword("four copper cats", mirela)
	h.server.Config.Handler = web.New(h.store, web.Options{Origin: "https://shop.example"})
	ask := func(method, path, origin string, form url.Values, cookies ...*http.Cookie) *answer {
		r := httptest.NewRequest(method, "http://10.0.0.7:8080"+path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", origin)
		for _, c := range cookies {
			r.AddCookie(c)
		}
		return h.straight(r)
	}
	form := url.Values{"name": {mirela}, "password": {"four copper cats"}}
	ask(http.MethodPost, "/sign-in", "https://elsewhere.example", form).wants(http.StatusForbidden)
	a := ask(http.MethodPost, "/sign-in", "https://shop.example", form).leadsTo("/")
	c, err := http.ParseSetCookie(a.header.Get("Set-Cookie"))
	if err != nil || c.Name != "__Host-ohmstead" || !c.Secure || !c.HttpOnly || c.Path != "/" || c.Domain != "" {
		t.Errorf("cookie %v, %v", c, err)
	}
	if hsts := a.header.Get("Strict-Transport-Security"); !strings.HasPrefix(hsts, "max-age=31536000") {
		t.Errorf("HSTS %q", hsts)
	}
	ask(http.MethodGet, "/me", "", nil, c).wants(http.StatusOK).says(mirela)
	ask(http.MethodGet, "/me", "", nil, &http.Cookie{Name: "ohmstead", Value: c.Value}).leadsTo("/sign-in?then=%2Fme")
}

// straight gives a request to the server without a network, so that it may come
// from anywhere.
func (h *house) straight(r *http.Request) *answer {
	h.t.Helper()
	w := httptest.NewRecorder()
	h.server.Config.Handler.ServeHTTP(w, r)
	a := &answer{t: h.t, status: w.Code, header: w.Header(), body: w.Body.String()}
	var err error
	if a.doc, err = html.Parse(strings.NewReader(a.body)); err != nil {
		h.t.Fatal(err)
	}
	return a
}

// tryFrom tries a wrong password from an address and gives the status.
func (h *house) tryFrom(address, name string) int {
	h.t.Helper()
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(url.Values{"name": {name}, "password": {"wrong wrong"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Forwarded-For", "192.0.2."+strconv.Itoa(rand.IntN(250))) // anybody can write this
	r.RemoteAddr = address
	return h.straight(r).status
}

func TestGuessingIsCountedWhateverTheWriting(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC))
	for i, name := range []string{"Tobin", "TOBIN", " tobin ", "Ｔｏｂｉｎ", "To\u200bbin"} {
		if got := h.tryFrom("192.0.2.7:"+strconv.Itoa(4000+i), name); got != http.StatusUnprocessableEntity {
			t.Fatalf("%q: status %d", name, got)
		}
	}
	if got := h.tryFrom("192.0.2.7:4100", "tObIn"); got != http.StatusServiceUnavailable {
		t.Errorf("the sixth writing of one name: status %d", got)
	}
	if got := h.tryFrom("192.0.2.8:4100", "Tobin"); got != http.StatusUnprocessableEntity {
		t.Errorf("a stranger locks others out: status %d", got)
	}
}

// Whoever has an IPv6 network has 2^64 addresses.
func TestGuessingFromAllAddressesOfANetwork(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC))
	for i := range 5 {
		if got := h.tryFrom(fmt.Sprintf("[2001:db8:0:1::%x]:4000", i), tobin); got != http.StatusUnprocessableEntity {
			t.Fatalf("try %d: status %d", i+1, got)
		}
	}
	if got := h.tryFrom("[2001:db8:0:1:ffff::1]:4000", tobin); got != http.StatusServiceUnavailable {
		t.Errorf("a sixth address of the network: status %d", got)
	}
	if got := h.tryFrom("[2001:db8:0:2::1]:4000", tobin); got != http.StatusUnprocessableEntity {
		t.Errorf("another network: status %d", got)
	}
}

func TestGuessesAtTheSameMomentAreCounted(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC))
	var tried atomic.Int32
	var all sync.WaitGroup
	for range 12 {
		all.Go(func() {
			if h.tryFrom("192.0.2.7:4000", tobin) == http.StatusUnprocessableEntity {
				tried.Add(1)
			}
		})
	}
	all.Wait()
	if n := tried.Load(); n != 5 {
		t.Errorf("%d of 12 passwords were tried at once, want 5", n)
	}
}

// Text that no database holds is nobody's name: an unknown one like any other.
func TestSignInWithWhatIsNoName(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	for _, name := range []string{"Ansa\x00", "\xff", strings.Repeat("n", 5000), ""} {
		h.stranger().post("/sign-in", url.Values{"name": {name}, "password": {"x"}}).
			wants(http.StatusUnprocessableEntity).says("do not belong together")
	}
}

// ASVS 5.0 V7.2.4: a token that somebody put into the browser before is not the
// one that counts afterwards.
func TestSignInMakesANewToken(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.setPassword("four copper cats", mirela)
	v, planted := h.stranger(), []*http.Cookie{{Name: "ohmstead", Value: "planted", Path: "/"}}
	home := mustURL(t, h.server.URL)
	v.client.Jar.SetCookies(home, planted)
	a := v.post("/sign-in", url.Values{"name": {mirela}, "password": {"four copper cats"}}).leadsTo("/")
	if c := a.header.Get("Set-Cookie"); !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "SameSite=Lax") {
		t.Errorf("the cookie: %s", c)
	}
	if got := v.client.Jar.Cookies(home)[0].Value; got == "planted" || len(got) != 43 {
		t.Errorf("signed in with the token %q", got)
	}
	other := h.stranger()
	other.client.Jar.SetCookies(home, planted)
	other.get("/me").leadsTo("/sign-in?then=%2Fme")
}

// A new password shuts out whoever knew the old one, not the person's own browser.
func TestANewPasswordEndsTheOtherSessions(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.setPassword("four copper cats", mirela)
	here, there := h.as(mirela), h.as(mirela)
	here.post("/me", url.Values{"now": {"four copper cats"}, "password": {"kettle wire seven"}, "again": {"kettle wire seven"}}).
		leadsTo("/me?changed=yes")
	here.get("/me").wants(http.StatusOK)
	there.get("/me").leadsTo("/sign-in?then=%2Fme")

	h.as(ansa).post("/people/"+h.people[mirela].ID.String()+"/password", nil).wants(http.StatusOK)
	here.get("/me").leadsTo("/sign-in?then=%2Fme")
}

func TestTheWayBackStaysInTheShop(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(mirela)
	for then, want := range map[string]string{
		"/find?q=7#top": "/find?q=7#top", "//elsewhere.example": "/", "/\\elsewhere.example": "/", "https://elsewhere.example": "/",
		"/\t/elsewhere.example": "/", "javascript:alert(1)": "/", "": "/", "counter": "/", "/\r\nSet-Cookie: a=b": "/", "/a/..//elsewhere.example": "/elsewhere.example",
	} {
		if got := v.get("/sign-in?then=" + url.QueryEscape(then)).header.Get("Location"); got != want {
			t.Errorf("%q leads to %q, want %q", then, got, want)
		}
	}
}

// RFC 9110, 9.3.2: whoever may GET may ask for the head only, as monitors do.
func TestTheHeadOfAPage(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	if a := h.stranger().send(http.MethodHead, "/healthz", "", nil).wants(http.StatusOK); a.body != "" {
		t.Errorf("a head with a body: %q", a.body)
	}
	h.stranger().send(http.MethodHead, "/counter", "", nil).leadsTo("/sign-in")
	h.as(mirela).send(http.MethodHead, "/people", "", nil).wants(http.StatusForbidden)
}

// Half a form must not be taken for a whole one: without its last field this one
// would send Tobin home.
func TestHalfAFormDoesNothing(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v, to := h.as(ansa), "/people/"+h.people[tobin].ID.String()+"/active"
	const asForm = "application/x-www-form-urlencoded"
	long := strings.Repeat("x", 2<<20)
	v.send(http.MethodPost, to, asForm, strings.NewReader("fill="+long+"&active=no")).wants(http.StatusUnprocessableEntity).says("more than a form may hold")
	v.send(http.MethodPost, to, asForm, strings.NewReader("active=no&fill=%z")).wants(http.StatusUnprocessableEntity).says("in one piece")
	v.send(http.MethodPost, to, "text/plain", strings.NewReader("active=no")).wants(http.StatusUnprocessableEntity)
	v.send(http.MethodPost, to, asForm, strings.NewReader("")).wants(http.StatusUnprocessableEntity)
	v.post("/take-in", url.Values{"complaint": {long}}).wants(http.StatusUnprocessableEntity).says("Nothing was stored")
	h.as(tobin).get("/me").wants(http.StatusOK)
}

func mustURL(t *testing.T, s string) *url.URL {
	t.Helper()
	u, err := url.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return u
}
