package web_test

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"golang.org/x/net/html"

	"ohmstead/internal/password"
	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/postgres"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web"
)

// house is a whole shop on a real Postgres, served over HTTP: an owner (Ansa),
// a front desk (Mirela) and a technician (Tobin), nobody signed in.
type house struct {
	t      *testing.T
	pool   *pgxpool.Pool
	store  *postgres.Store
	server *httptest.Server
	site   shop.Site
	people map[string]staff.Person
	clock  atomic.Int64 // unix nanoseconds; 0: the clock on the wall
}

// The people of the house.
const (
	ansa   = "Ansa"   // owner
	mirela = "Mirela" // front desk
	tobin  = "Tobin"  // bench
)

// nobodysHash is the hash of a password that nobody knows: hashing takes long,
// and most tests begin behind the door.
const nobodysHash = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

func newHouse(t *testing.T) *house {
	t.Helper()
	h := &house{t: t, pool: pgtest.DB(t), people: map[string]staff.Person{}}
	h.store = postgres.New(h.pool).WithClock(h.now)
	h.server = httptest.NewServer(web.New(h.store, web.Options{Now: h.now}))
	t.Cleanup(h.server.Close)
	return h
}

// openHouse is a house with its shop opened and its people entered.
func openHouse(t *testing.T) *house {
	t.Helper()
	h := newHouse(t)
	ctx := t.Context()
	owner, err := h.store.FirstOwner(ctx, shop.Site{Name: "Lantern Quay Board Works", Address: "Quernhithe",
		TZ: "Europe/Dublin", Locale: "en-IE", Currency: "EUR"}, termsOfTheHouse(), ansa, nobodysHash)
	if err != nil {
		t.Fatal(err)
	}
	h.people[ansa] = owner
	for name, role := range map[string]staff.Role{mirela: staff.FrontDesk, tobin: staff.Bench} {
		p, err := h.store.AddPerson(ctx, owner.Actor(), name, role, nobodysHash)
		if err != nil {
			t.Fatal(err)
		}
		// A password of one's own, so that nobody is sent to set one.
		if err := h.store.SetPassword(ctx, p.Actor(), p.ID, nobodysHash, nil); err != nil {
			t.Fatal(err)
		}
		h.people[name] = p
	}
	if h.site, err = h.store.Site(ctx, owner.SiteID); err != nil {
		t.Fatal(err)
	}
	return h
}

func termsOfTheHouse() shop.Settings {
	return shop.Settings{
		Taxes:      []quote.Tax{{Category: "S", Rate: quote.Whole(20)}},
		LabourRate: quote.Whole(54), ExaminationFee: quote.Whole(25), CreditFee: true,
		GuaranteeDays: 180, AskPercent: 55, HandlingVolts: 5, ResistanceVolts: 0.1,
		DangerMinutes: quote.Whole(shop.UsualDanger), LiftedMinutes: quote.Whole(shop.UsualLifted),
	}
}

func (h *house) now() time.Time {
	if n := h.clock.Load(); n != 0 {
		return time.Unix(0, n)
	}
	return time.Now()
}

// at sets the clock of the house.
func (h *house) at(t time.Time) { h.clock.Store(t.UnixNano()) }

// visitor is a browser; follow tells whether it follows redirects.
type visitor struct {
	h      *house
	client *http.Client
}

// stranger is a browser without a session.
func (h *house) stranger() *visitor {
	jar, err := cookiejar.New(nil)
	if err != nil {
		h.t.Fatal(err)
	}
	return &visitor{h: h, client: &http.Client{
		Jar:           jar,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// as is a browser in which somebody has signed in.
func (h *house) as(name string) *visitor {
	h.t.Helper()
	p, ok := h.people[name]
	if !ok {
		h.t.Fatalf("nobody called %s works here", name)
	}
	token := staff.NewToken()
	if _, err := h.store.StartSession(h.t.Context(), p.ID, staff.TokenHash(token), nil); err != nil {
		h.t.Fatal(err)
	}
	v := h.stranger()
	u, err := url.Parse(h.server.URL)
	if err != nil {
		h.t.Fatal(err)
	}
	v.client.Jar.SetCookies(u, []*http.Cookie{{Name: "ohmstead", Value: token, Path: "/"}})
	return v
}

// setPassword gives people a password that can be typed at the door.
func (h *house) setPassword(text string, names ...string) {
	h.t.Helper()
	hash, err := password.Hash(h.t.Context(), text)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, name := range names {
		p := h.people[name]
		if err := h.store.SetPassword(h.t.Context(), p.Actor(), p.ID, hash, nil); err != nil {
			h.t.Fatal(err)
		}
	}
}

// answer is what came back.
type answer struct {
	t      *testing.T
	status int
	header http.Header
	body   string
	doc    *html.Node
}

func (v *visitor) get(path string) *answer { return v.send(http.MethodGet, path, "", nil) }

func (v *visitor) post(path string, form url.Values) *answer {
	return v.send(http.MethodPost, path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

func (v *visitor) postJSON(path, body string) *answer {
	return v.send(http.MethodPost, path, "application/json", strings.NewReader(body))
}

func (v *visitor) send(method, path, contentType string, body io.Reader) *answer {
	t := v.h.t
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, v.h.server.URL+path, body)
	if err != nil {
		t.Fatal(err)
	}
	if contentType != "" {
		r.Header.Set("Content-Type", contentType)
	}
	resp, err := v.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close() //nolint:errcheck // read whole
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	a := &answer{t: t, status: resp.StatusCode, header: resp.Header, body: string(b)}
	if strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") {
		if a.doc, err = html.Parse(strings.NewReader(a.body)); err != nil {
			t.Fatal(err)
		}
	}
	return a
}

// wants fails unless the answer has this status.
func (a *answer) wants(status int) *answer {
	a.t.Helper()
	if a.status != status {
		a.t.Fatalf("status %d, want %d; %s %s", a.status, status, a.header.Get("Location"), a.text())
	}
	return a
}

// leadsTo fails unless the answer is a redirect after a form to this address.
func (a *answer) leadsTo(path string) *answer {
	a.t.Helper()
	a.wants(http.StatusSeeOther)
	if got := a.header.Get("Location"); got != path {
		a.t.Fatalf("leads to %q, want %q", got, path)
	}
	return a
}

// says fails unless every text stands on the page.
func (a *answer) says(texts ...string) *answer {
	a.t.Helper()
	whole := a.text()
	for _, want := range texts {
		if !strings.Contains(whole, want) {
			a.t.Errorf("the page does not say %q; it says:\n%s", want, whole)
		}
	}
	return a
}

// neverSays fails when one of the texts stands on the page.
func (a *answer) neverSays(texts ...string) *answer {
	a.t.Helper()
	whole := a.text()
	for _, bad := range texts {
		if strings.Contains(whole, bad) {
			a.t.Errorf("the page says %q", bad)
		}
	}
	return a
}

// text is what a person reads: all text of the body, white space folded.
func (a *answer) text() string {
	if a.doc == nil {
		return a.body
	}
	var b strings.Builder
	each(a.doc, func(n *html.Node) {
		if n.Type == html.TextNode && n.Parent != nil && n.Parent.Data != "script" && n.Parent.Data != "style" {
			b.WriteString(n.Data)
			b.WriteByte(' ')
		}
	})
	return strings.Join(strings.Fields(b.String()), " ")
}

// problem is the message beside a field, empty when there is none.
func (a *answer) problem(field string) string {
	var out string
	each(a.doc, func(n *html.Node) {
		if attr(n, "id") == "f-"+field+"-problem" {
			out = textOf(n)
		}
	})
	return out
}

// value is what stands in a field of the page: an input's value, a text area's
// text, the chosen option or button.
func (a *answer) value(field string) string {
	out := ""
	each(a.doc, func(n *html.Node) {
		if n.Type != html.ElementNode || attr(n, "name") != field {
			return
		}
		switch n.Data {
		case "textarea":
			out = textOf(n)
		case "select":
			each(n, func(o *html.Node) {
				if o.Data == "option" && has(o, "selected") {
					out = attr(o, "value")
				}
			})
		case "input":
			kind := attr(n, "type")
			if (kind == "radio" || kind == "checkbox") && !has(n, "checked") {
				return
			}
			out = attr(n, "value")
		}
	})
	return out
}

func each(n *html.Node, do func(*html.Node)) {
	if n == nil {
		return
	}
	do(n)
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		each(c, do)
	}
}

func textOf(n *html.Node) string {
	var b strings.Builder
	each(n, func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		}
	})
	return strings.TrimSpace(b.String())
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, name string) bool {
	for _, a := range n.Attr {
		if a.Key == name {
			return true
		}
	}
	return false
}
