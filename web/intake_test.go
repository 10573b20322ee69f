package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"golang.org/x/net/html"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// newCustomersForm is the form as somebody fills it in for a new customer.
func newCustomersForm() url.Values {
	return url.Values{
		"do": {"take-in"}, "form": {uuid.Must(uuid.NewV7()).String()}, "who": {""}, "customer": {"new"},
		"name": {"Brook Farm"}, "phone": {"061 555 0134"}, "email": {"farm@example.org"},
		"complaint": {"The pump does not start; two blinks"}, "kind": {""}, "serial": {"SD-0417"}, "own_tag": {"T-17"},
		"indication": {"two blinks"}, "when_happens": {"at once"}, "touched_before": {"nobody"},
		"accessories": {"connector"}, "condition": {"clean"}, "limit": {"120.50"}, "ask_first": {""},
		"promised_on": {"2026-12-04"}, "if_not_repaired": {"scrap"}, "bay": {"B3"},
	}
}

// november is when the boards of these tests come in: a Friday afternoon.
var november = time.Date(2026, 11, 27, 15, 0, 0, 0, time.UTC)

// kept fails for every field of the form that does not hold what was typed.
func (a *answer) kept(form url.Values) {
	a.t.Helper()
	for field, typed := range form {
		if field == "do" || field == "seen" {
			continue
		}
		if got := a.value(field); got != typed[0] {
			a.t.Errorf("%s: %q was typed, %q stands there now", field, typed[0], got)
		}
	}
}

func with(form url.Values, pairs ...string) url.Values {
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

func TestTakeInStoresEveryField(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	form := newCustomersForm()
	a := v.post("/take-in", form).leadsTo("/tickets/1?done=taken-in")
	v.get(a.header.Get("Location")).wants(http.StatusOK).says("Ticket 1: board not known yet, two blinks, taken in.", "The board is taken in.")

	st, err := h.store.TicketByNumber(t.Context(), h.people[mirela].Actor(), 1)
	if err != nil {
		t.Fatal(err)
	}
	k := st.Ticket
	if k.ID.String() != form.Get("form") {
		t.Error("the ticket does not carry the form's key")
	}
	got := url.Values{
		"name": {st.Customer.Name}, "phone": {st.Customer.Phone}, "email": {st.Customer.Email}, "complaint": {k.Complaint},
		"serial": {st.Board.Serial}, "own_tag": {st.Board.OwnTag}, "indication": {k.Indication}, "when_happens": {k.WhenHappens},
		"touched_before": {k.TouchedBefore}, "accessories": {k.Accessories}, "condition": {k.Condition},
		"if_not_repaired": {k.IfNotRepaired}, "bay": {k.Bay}, "promised_on": {k.PromisedOn.Format(time.DateOnly)}, "limit": {k.Limit.Plain()},
	}
	for field := range got {
		if got.Get(field) != form.Get(field) {
			t.Errorf("%s: %q was stored of %q", field, got.Get(field), form.Get(field))
		}
	}
}

func TestTakeInKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	long := strings.Repeat("x", 4001)
	cases := []struct{ field, typed, message string }{
		{"name", " ", "Enter the customer’s name."},
		{"name", strings.Repeat("n", 201), "at most 200 characters"},
		{"phone", "12", "3 to 15 digits"},
		{"phone", "call me", "3 to 15 digits"},
		{"email", "not an address", "such as name@example.org"},
		{"complaint", "", "what the customer says is wrong"},
		{"complaint", long, "at most 4000 characters"},
		{"kind", "rev:gone", "Choose a family and revision"},
		{"kind", "rev:" + uuid.NewString(), "no such revision"},
		{"kind", "fam:" + uuid.NewString(), "no such family"},
		{"serial", "---", "as printed"},
		{"serial", strings.Repeat("7", 201), "at most 200"},
		{"own_tag", "--", "letters or digits"},
		{"indication", long, "at most 4000"},
		{"when_happens", long, "at most 4000"},
		{"touched_before", long, "at most 4000"},
		{"accessories", long, "at most 4000"},
		{"condition", long, "at most 4000"},
		{"bay", strings.Repeat("b", 201), "at most 200"},
		{"limit", "plenty", "in digits"},
		{"limit", "-5", "without a minus"},
		{"limit", "1,250.00", "without separators"},
		{"limit", "12.505", "at most 2 decimals"},
		{"promised_on", "tomorrow", "year-month-day"},
		{"promised_on", "2026-11-26", "has passed"},
		{"promised_on", "2062-12-04", "Check the year"},
	}
	for _, c := range cases {
		form := with(newCustomersForm(), c.field, c.typed)
		a := v.post("/take-in", form).wants(http.StatusUnprocessableEntity)
		if got := a.problem(c.field); !strings.Contains(got, c.message) {
			t.Errorf("%s = %.20q: the field says %q, want %q", c.field, c.typed, got, c.message)
		}
		delete(form, "kind") // a select cannot hold what it does not offer
		a.kept(form)
	}
	if list, _, err := h.store.OpenTickets(t.Context(), h.people[mirela].Actor()); err != nil || len(list) != 0 {
		t.Errorf("%d tickets were stored of refused forms; %v", len(list), err)
	}
}

func TestTakeInWantsALimitOrToAsk(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	a := v.post("/take-in", with(newCustomersForm(), "limit", "")).wants(http.StatusUnprocessableEntity)
	if !strings.Contains(a.problem("limit"), "ask first") {
		t.Errorf("neither limit nor asking: %q", a.problem("limit"))
	}
	a = v.post("/take-in", with(newCustomersForm(), "ask_first", "yes")).wants(http.StatusUnprocessableEntity)
	if !strings.Contains(a.problem("limit"), "not both") || a.value("ask_first") != "yes" {
		t.Errorf("limit and asking: %q, box %q", a.problem("limit"), a.value("ask_first"))
	}
	v.post("/take-in", with(newCustomersForm(), "limit", "", "ask_first", "yes")).wants(http.StatusSeeOther)
	v.get("/tickets/1").says("none: ask before any work is charged")
}

// knownPumps enters a trader with a standing limit of 120.00.
func (h *house) knownPumps() shop.Customer {
	h.t.Helper()
	ctx, by := h.t.Context(), h.people[ansa].Actor()
	k, err := h.store.TakeIn(ctx, by, shop.Intake{Name: "Brackenholm Pumps", Phone: "+353 1 555 0133", Complaint: "dead", Serial: "SD-1", AskFirst: true})
	if err != nil {
		h.t.Fatal(err)
	}
	c, err := h.store.Customer(ctx, k.CustomerID)
	if err != nil {
		h.t.Fatal(err)
	}
	c.StandingLimit = &quote.Money{Minor: 12000, Currency: "EUR"}
	if c, err = h.store.SaveCustomer(ctx, by, c); err != nil {
		h.t.Fatal(err)
	}
	return c
}

func TestTakeInFindsACustomerWithoutScript(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	c := h.knownPumps()
	v := h.as(mirela)
	form := url.Values{"do": {"look-up"}, "form": {uuid.NewString()}, "who": {"0133"}, "complaint": {"hums"}, "limit": {""}, "serial": {"SD-9"}}
	a := v.post("/take-in", form).wants(http.StatusOK).says("One customer found.", "Brackenholm Pumps", "standing limit €120.00")
	if a.value("customer") != c.ID.String() || a.value("limit") != "120.00" || a.value("complaint") != "hums" || a.value("serial") != "SD-9" {
		t.Errorf("after looking up: customer %q, limit %q, complaint %q, serial %q", a.value("customer"), a.value("limit"), a.value("complaint"), a.value("serial"))
	}
	if a.value("form") != form.Get("form") {
		t.Error("looking up made another form")
	}
	form = with(form, "do", "take-in", "customer", c.ID.String(), "limit", "")
	v.post("/take-in", form).leadsTo("/tickets/2?done=taken-in")
	st := h.story(shop.Ticket{ID: uuid.MustParse(form.Get("form"))})
	if st.Customer.ID != c.ID || st.Ticket.Limit == nil || st.Ticket.Limit.Minor != 12000 {
		t.Errorf("stored for %s with limit %v, want the standing limit", st.Customer.Name, st.Ticket.Limit)
	}
}

// The enter key in the first field asks for the customer; it does not complain
// about a form that nobody has filled in yet.
func TestEnterInTheFirstFieldLooksUp(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knownPumps()
	v := h.as(mirela)
	v.post("/take-in", url.Values{"do": {"enter"}, "who": {"brack"}}).wants(http.StatusOK).says("One customer found.").neverSays("cannot")
	v.post("/take-in", url.Values{"do": {"look-up"}, "who": {"nobody"}}).wants(http.StatusOK).says("Nobody is known by that.")
	a := v.post("/take-in", url.Values{"do": {"enter"}, "who": {"brack"}, "complaint": {"hums"}}).wants(http.StatusUnprocessableEntity)
	a.says("Look the customer up and choose")
	a.kept(url.Values{"who": {"brack"}, "complaint": {"hums"}})
}

func TestTakeInKeepsTheChosenCustomer(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	c := h.knownPumps()
	v := h.as(mirela)
	form := url.Values{"do": {"take-in"}, "who": {"0133"}, "customer": {c.ID.String()}, "complaint": {""}, "if_not_repaired": {"return"}}
	a := v.post("/take-in", form).wants(http.StatusUnprocessableEntity)
	a.kept(form)
	cases := []struct {
		name  string
		pairs []string
		says  string
	}{
		{"a known customer and a new name", []string{"name", "Brook Farm", "complaint", "hums"}, "Keep one of the two."},
		{"a known customer and a new phone number", []string{"phone", "061 555 0199", "complaint", "hums"}, "Keep one of the two."},
		{"a customer who is not on record", []string{"customer", uuid.NewString(), "complaint", "hums"}, "no longer on record"},
		{"a choice that was not offered", []string{"customer", "somebody", "complaint", "hums"}, "Choose one of the customers."},
	}
	for _, c := range cases {
		t.Log(c.name)
		a := v.post("/take-in", with(url.Values{"do": {"take-in"}, "who": {"0133"}, "customer": {form.Get("customer")}}, c.pairs...))
		a.wants(http.StatusUnprocessableEntity).says(c.says)
		if a.value("complaint") != "hums" {
			t.Errorf("%s: the complaint is lost", c.name)
		}
	}
}

func TestANumberOfSomebodyKnownIsNotEnteredTwiceUnseen(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	h.knownPumps()
	v := h.as(mirela)
	form := with(newCustomersForm(), "customer", "", "phone", "00353 1 5550133")
	a := v.post("/take-in", form).wants(http.StatusUnprocessableEntity).says("This number is that of Brackenholm Pumps.", "somebody else: a new customer")
	if a.value("name") != "Brook Farm" {
		t.Error("the new name is lost")
	}
	v.post("/take-in", with(form, "customer", "new")).leadsTo("/tickets/2?done=taken-in")
}

func TestOneFormMakesOneTicket(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	form := with(newCustomersForm(), "serial", "", "own_tag", "")
	var wg sync.WaitGroup
	for range 4 {
		v := h.as(mirela)
		wg.Go(func() { v.post("/take-in", form).leadsTo("/tickets/1?done=taken-in") })
	}
	wg.Wait()
	list, _, err := h.store.OpenTickets(t.Context(), h.people[mirela].Actor())
	if err != nil || len(list) != 1 {
		t.Fatalf("%d tickets of one form, want 1; %v", len(list), err)
	}
	found, err := h.store.FindCustomers(t.Context(), "Brook")
	if err != nil || len(found) != 1 {
		t.Errorf("%d customers of one form, want 1; %v", len(found), err)
	}
	h.as(mirela).post("/take-in", with(newCustomersForm(), "serial", "", "own_tag", "", "name", "Other", "phone", "061 555 0199")).leadsTo("/tickets/2?done=taken-in")
}

func TestABoardThatWasHereBefore(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	v.post("/take-in", newCustomersForm()).leadsTo("/tickets/1?done=taken-in")

	v.get("/boards?serial=sd0417").wants(http.StatusOK).says("This board is in the shop now:", "ticket 1")
	v.get("/boards?serial=SD-0").wants(http.StatusOK).neverSays("ticket")
	a := v.post("/take-in", with(newCustomersForm(), "phone", "061 555 0999")).wants(http.StatusConflict)
	a.says("This board is here already, as ticket 1")
	if a.value("serial") != "SD-0417" {
		t.Error("the serial is lost")
	}

	h.ended(1)
	a = v.post("/take-in", url.Values{"do": {"look-up"}, "serial": {"SD-0417"}}).wants(http.StatusOK)
	a.says("This board was here before:", "returned unrepaired today")
	v.post("/take-in", with(newCustomersForm(), "phone", "061 555 0999")).leadsTo("/tickets/2?done=taken-in")
	v.get("/tickets/2").says("Comeback of", "ticket 1", "This board’s other stays")
	h.ended(2)
	v.post("/take-in", with(newCustomersForm(), "phone", "061 555 0998", "not_a_comeback", "yes")).leadsTo("/tickets/3?done=taken-in")
	v.get("/tickets/3").neverSays("Comeback of").says("This board’s other stays")
}

// ended gives a board back as it came.
func (h *house) ended(number int64) {
	h.t.Helper()
	by := h.people[ansa].Actor()
	st, err := h.store.TicketByNumber(h.t.Context(), by, number)
	if err == nil {
		_, err = h.store.HandOver(h.t.Context(), by, st.Ticket.ID, st.Ticket.Version, shop.HandOver{As: shop.ReturnedUnrepaired, To: "Orla", Text: "not worth it"})
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

func TestCustomersFragment(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	c := h.knownPumps()
	a := h.as(tobin).get("/customers?q=0133").wants(http.StatusOK)
	limit := ""
	each(a.doc, func(n *html.Node) {
		if attr(n, "value") == c.ID.String() {
			limit = attr(n, "data-limit")
		}
	})
	if limit != "120.00" || strings.Contains(a.body, "<main") {
		t.Errorf("the fragment gives the limit %q; whole page: %v", limit, strings.Contains(a.body, "<main"))
	}
	h.as(tobin).get("/customers?q=%3Cscript%3E").wants(http.StatusOK).says("Nobody is known by that.")
}

func TestMoneyIsReadAsTheShopWritesIt(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	site := h.site
	site.Locale = "de-DE"
	if err := h.store.SaveShop(t.Context(), h.people[ansa].Actor(), site, termsOfTheHouse()); err != nil {
		t.Fatal(err)
	}
	v := h.as(mirela)
	v.post("/take-in", with(newCustomersForm(), "limit", "1.250")).wants(http.StatusUnprocessableEntity).says("could mean two things")
	v.post("/take-in", with(newCustomersForm(), "limit", "120,50")).leadsTo("/tickets/1?done=taken-in")
	st, err := h.store.TicketByNumber(t.Context(), h.people[mirela].Actor(), 1)
	if err != nil || st.Ticket.Limit == nil || st.Ticket.Limit.Minor != 12050 {
		t.Errorf("120,50 in Berlin was stored as %v; %v", st.Ticket.Limit, err)
	}
}

// The next board of the same customer, entered by going back in the browser: it is
// not taken for the first one, and sending once more stores it.
func TestGoingBackToAStoredFormTakesInAnotherBoard(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	form := newCustomersForm()
	v.post("/take-in", form).leadsTo("/tickets/1?done=taken-in")
	v.post("/take-in", form).leadsTo("/tickets/1?done=taken-in") // a second click
	next := with(form, "serial", "SD-0418", "own_tag", "T-18", "complaint", "It hums")
	a := v.post("/take-in", next).wants(http.StatusConflict).says("stored ticket 1 already", "was not stored")
	fresh := a.value("form")
	if fresh == next.Get("form") {
		t.Fatal("the form comes back with the key that is used up")
	}
	a.kept(with(next, "form", fresh))
	v.post("/take-in", with(next, "form", fresh)).leadsTo("/tickets/2?done=taken-in")
}

// A number copied from a telephone comes wrapped in signs that nobody sees; a text
// may hold one that turns the rest of its line around.
func TestSignsThatTurnTextAroundAreTakenOut(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	form := with(newCustomersForm(), "phone", "\u202a+353 61 555 0134\u202c", "complaint", "it \u202edaed si", "name", "\u2068Brook Farm\u2069")
	v.post("/take-in", form).leadsTo("/tickets/1?done=taken-in")
	st := h.story(shop.Ticket{ID: uuid.MustParse(form.Get("form"))})
	if st.Customer.Phone != "+353 61 555 0134" || st.Customer.Name != "Brook Farm" || st.Ticket.Complaint != "it daed si" {
		t.Errorf("stored %q, %q, %q", st.Customer.Phone, st.Customer.Name, st.Ticket.Complaint)
	}
	v.get("/find?q=" + url.QueryEscape("\u202a0134\u202c")).wants(http.StatusOK).says("Brook Farm")
}
