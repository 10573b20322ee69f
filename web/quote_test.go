package web_test

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// sedgeOnBench takes in a board with a limit of 60.00, puts it on the bench and
// writes down that R13 is open.
func (h *house) sedgeOnBench() shop.Ticket {
	h.t.Helper()
	ctx := h.t.Context()
	family, err := h.store.SaveFamily(ctx, h.people[ansa].Actor(), shop.Family{Name: "SEDGE", Title: "drive for borehole pumps",
		NewBoard: &quote.Money{Minor: 31000, Currency: "EUR"}})
	if err != nil {
		h.t.Fatal(err)
	}
	k, err := h.store.TakeIn(ctx, h.people[mirela].Actor(), shop.Intake{Name: "Brook Farm", Phone: "061 555 0134", FamilyID: &family.ID,
		Serial: "SD-0417", Complaint: "Two blinks, pump does not start", Limit: &quote.Money{Minor: 6000, Currency: "EUR"}})
	if err != nil {
		h.t.Fatal(err)
	}
	h.moved(k, shop.OnBench, "")
	_, err = h.store.AddFinding(ctx, h.people[tobin].Actor(), evidence.Finding{TicketID: k.ID, Part: "R13", Mode: "open", TakenAt: h.now()})
	if err != nil {
		h.t.Fatal(err)
	}
	return k
}

// moved takes a ticket to another state as the owner.
func (h *house) moved(k shop.Ticket, to shop.State, reason string) {
	h.t.Helper()
	by := h.people[ansa].Actor()
	st, err := h.store.TicketByID(h.t.Context(), by, k.ID)
	if err == nil {
		_, err = h.store.Move(h.t.Context(), by, k.ID, st.Ticket.Version, to, reason)
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

// story is what is stored of a ticket.
func (h *house) story(k shop.Ticket) shop.Story {
	h.t.Helper()
	st, err := h.store.TicketByID(h.t.Context(), h.people[ansa].Actor(), k.ID)
	if err != nil {
		h.t.Fatal(err)
	}
	return st
}

func quoteAt(k shop.Ticket) string {
	return "/tickets/" + strconv.FormatInt(k.Number, 10) + "/quote"
}

// typedQuote is a form as the page sends it; each row is kind, text, quantity,
// price, tax.
func typedQuote(seen int64, do string, rows ...[5]string) url.Values {
	f := url.Values{"seen": {strconv.FormatInt(seen, 10)}, "do": {do}, "rows": {strconv.Itoa(len(rows))}, "note": {"Two years\r\nsecond line"}}
	for i, r := range rows {
		for j, name := range []string{"kind", "text", "quantity", "price", "tax"} {
			f.Set(name+"-"+strconv.Itoa(i), r[j])
		}
	}
	return f
}

var (
	chips  = [5]string{"part", "six chips 120k", "6", "0.10", "S 20"}
	labour = [5]string{"labour", "Replace R13 (open)", "0.75", "54", "S 20"}
)

func TestOneTapPutsTheWorkIntoTheQuote(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	v := h.as(tobin)
	v.get(quoteAt(k)).wants(http.StatusOK).says("Nothing is quoted yet.", "Replace R13 (open)", "Examination fee €25.00, credited on repair")

	seen := h.story(k).Ticket.Version
	v.post(quoteAt(k), typedQuote(seen, "add-R13")).leadsTo(quoteAt(k) + "?done=stored")
	page := v.get(quoteAt(k)).wants(http.StatusOK)
	page.says("Replace R13 (open): in the lines", "no price yet", "This is a draft; nothing was sent yet.")
	for field, want := range map[string]string{"kind-0": "part", "text-0": "Part for R13", "price-0": "0.00", "kind-1": "labour",
		"text-1": "Replace R13 (open)", "quantity-1": "0.2", "price-1": "54.00"} {
		if got := page.value(field); got != want {
			t.Errorf("%s is %q, want %q", field, got, want)
		}
	}
	v.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "fee", labour)).leadsTo(quoteAt(k) + "?done=stored")
	v.get(quoteAt(k)).says("Without tax 40.50", "Tax 20 % on 40.50 8.10", "Total EUR, tax included 48.60",
		"€11.40 under the limit of €60.00.", "That is 15 % of a new board fitted (€310.00); we ask above 55 %.")
}

func TestLinesAreStoredMovedAndRemoved(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	v := h.as(mirela)
	order := func() string {
		var texts []string
		st := h.story(k)
		for _, l := range st.Quote().Lines {
			texts = append(texts, l.Text)
		}
		return strings.Join(texts, " | ")
	}
	steps := []struct{ do, want string }{
		{"save", "six chips 120k | Replace R13 (open)"},
		{"up-1", "Replace R13 (open) | six chips 120k"},
		{"up-0", "six chips 120k | Replace R13 (open)"},
		{"down-0", "Replace R13 (open) | six chips 120k"},
		{"down-1", "six chips 120k | Replace R13 (open)"},
		{"remove-0", "Replace R13 (open)"},
		{"remove-7", "six chips 120k | Replace R13 (open)"},
		{"remove-x", "six chips 120k | Replace R13 (open)"},
	}
	for _, s := range steps {
		v.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, s.do, chips, labour)).wants(http.StatusSeeOther)
		if got := order(); got != s.want {
			t.Errorf("%s: %s, want %s", s.do, got, s.want)
		}
	}
	if st := h.story(k); st.Quote().Note != "Two years\nsecond line" {
		t.Errorf("note %q", st.Quote().Note)
	}
	before := h.story(k).Ticket.Version
	v.post(quoteAt(k), typedQuote(before, "save", chips, labour)).leadsTo(quoteAt(k) + "?done=same")
	if after := h.story(k).Ticket.Version; after != before {
		t.Errorf("storing the same made version %d of %d", after, before)
	}
}

func TestBadLinesComeBackAsTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	v := h.as(mirela)
	good := [5]string{"part", "fuse", "2", "3.20", "S 20"}
	cases := []struct {
		column         int
		typed, message string
	}{
		{0, "gift", "Choose part, labour, fee or other."},
		{1, "", "Say what this line is for."},
		{1, strings.Repeat("x", 401), "at most 400 characters"},
		{2, "", "Type a quantity, such as 12.50."},
		{2, "two", "Type a quantity in digits"},
		{2, "0", "other than 0"},
		{2, "1.2345678", "at most 6 decimals"},
		{3, "", "Type a price, such as 12.50."},
		{3, "1,000.50", "without separators for thousands"},
		{3, "12,500", "could mean two things"},
		{3, "-4", "price of 0 or more"},
		{4, "S 0", "above 0"},
		{4, "Q 7", "Choose a tax category"},
		{4, "", "Choose a tax category"},
	}
	names := []string{"kind", "text", "quantity", "price", "tax"}
	for _, c := range cases {
		row := good
		row[c.column] = c.typed
		a := v.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "save", labour, row)).wants(http.StatusUnprocessableEntity)
		field := names[c.column] + "-1"
		if got := a.problem(field); !strings.Contains(got, c.message) {
			t.Errorf("%s = %q: the message beside it is %q, want %q", field, c.typed, got, c.message)
		}
		for i, name := range names {
			if name == "kind" && c.column == 0 || name == "tax" && c.column == 4 {
				continue // a select cannot hold what it does not offer
			}
			if got := a.value(name + "-1"); got != row[i] {
				t.Errorf("%s = %q: %s came back as %q, typed %q", field, c.typed, name, got, row[i])
			}
		}
		if got := a.value("text-0"); got != labour[1] {
			t.Errorf("%s = %q: the good line came back as %q", field, c.typed, got)
		}
		if got := a.value("note"); got != "Two years\nsecond line" {
			t.Errorf("the note came back as %q", got)
		}
	}
	if st := h.story(k); st.Quote() != nil {
		t.Error("something was stored")
	}
	long := typedQuote(h.story(k).Ticket.Version, "save", labour)
	long.Set("note", strings.Repeat("n", 2001))
	if got := v.post(quoteAt(k), long).wants(http.StatusUnprocessableEntity).problem("note"); !strings.Contains(got, "2000") {
		t.Errorf("a note that is too long: %q", got)
	}
	var many [][5]string
	for range quote.MaxLines + 1 {
		many = append(many, labour)
	}
	v.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "save", many...)).wants(http.StatusUnprocessableEntity).says("at most 200 lines")
	v.post(quoteAt(k), url.Values{"seen": {"x"}, "do": {"save"}, "rows": {"1"}, "kind-0": {"part"}, "text-0": {"a"}, "quantity-0": {"1"}, "price-0": {"1"}, "tax-0": {"S 20"}}).
		wants(http.StatusUnprocessableEntity).says("Open the quote again.")
}

func TestNumbersAreReadAsTheShopWritesThem(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	site := h.site
	site.Locale = "de-DE"
	if err := h.store.SaveShop(t.Context(), h.people[ansa].Actor(), site, termsOfTheHouse()); err != nil {
		t.Fatal(err)
	}
	v := h.as(mirela)
	v.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "save", [5]string{"labour", "test", "0,75", "54,5", "S 20"})).wants(http.StatusSeeOther)
	a := v.get(quoteAt(k)).wants(http.StatusOK)
	a.says("40,88", "49,06") // 0.75 × 54.50 = 40.875; 20 % of 40.88 is 8.18
	if a.value("price-0") != "54,50" || a.value("quantity-0") != "0,75" {
		t.Errorf("shown as %q at %q", a.value("quantity-0"), a.value("price-0"))
	}
}

func TestTwoWhoChangeTheQuoteLoseNothing(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	seen := h.story(k).Ticket.Version
	h.as(mirela).post(quoteAt(k), typedQuote(seen, "save", chips)).wants(http.StatusSeeOther)

	late := h.as(tobin)
	a := late.post(quoteAt(k), typedQuote(seen, "save", labour)).wants(http.StatusConflict)
	a.says("What is stored now (Mirela", "six chips 120k", "Your lines stand below as you typed them.", "Store my lines instead", "Keep what is stored")
	if a.value("text-0") != labour[1] || a.value("price-0") != labour[3] {
		t.Errorf("typed lines came back as %q at %q", a.value("text-0"), a.value("price-0"))
	}
	again, err := strconv.ParseInt(a.value("seen"), 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	late.post(quoteAt(k), typedQuote(again, "save", labour)).leadsTo(quoteAt(k) + "?done=stored")
	if st := h.story(k); len(st.Quote().Lines) != 1 || st.Quote().Lines[0].Text != labour[1] {
		t.Errorf("stored: %+v", st.Quote().Lines)
	}
}

func TestSendingFreezesAndAChangeBeginsTheNextVersion(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	v := h.as(tobin)
	form := typedQuote(h.story(k).Ticket.Version, "send", chips, labour)
	form.Set("wait", "yes")
	v.post(quoteAt(k), form).leadsTo(quoteAt(k) + "?done=waiting")
	st := h.story(k)
	if st.Ticket.State != shop.WaitingForYes || len(st.Quotes) != 1 || st.Quotes[0].SentAt == nil {
		t.Fatalf("state %s, %d versions", st.Ticket.State, len(st.Quotes))
	}
	v.get(quoteAt(k)+"?done=waiting").says("Version 1 counts: sent", "by Tobin as quote 1", "The ticket waits for a yes.", "Change it: begin the next version")

	v.post(quoteAt(k), typedQuote(st.Ticket.Version, "save", labour)).leadsTo(quoteAt(k) + "?done=stored")
	st = h.story(k)
	if len(st.Quotes) != 2 || st.Quotes[0].Number != 2 || st.Quotes[0].SentAt != nil || len(st.Quotes[1].Lines) != 2 {
		t.Fatalf("versions %+v", st.Quotes)
	}
	v.get(quoteAt(k)).says("This is the draft of version 2; the customer has version 1.")
	v.get(quoteAt(k)+"/1").wants(http.StatusOK).says("Quote 1", "six chips 120k", "Total EUR, tax included 49.32").neverSays("Draft", "Sign out")
	v.get(quoteAt(k) + "/2").wants(http.StatusOK).says("Draft: not sent, not binding.").neverSays("six chips")
	v.get(quoteAt(k) + "/3").wants(http.StatusNotFound)
	v.get(quoteAt(k) + "/one").wants(http.StatusNotFound)
	v.get("/tickets/999/quote").wants(http.StatusNotFound)
}

func TestNothingGoesOutEmptyOrByMistakeForNothing(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	v := h.as(tobin)
	seen := h.story(k).Ticket.Version
	v.post(quoteAt(k), typedQuote(seen, "send")).wants(http.StatusUnprocessableEntity).says("the quote has no lines")
	free := [5]string{"part", "one chip", "1", "0", "S 20"}
	a := v.post(quoteAt(k), typedQuote(seen, "send", free)).wants(http.StatusUnprocessableEntity)
	if got := a.problem("free"); !strings.Contains(got, "Enter the missing price") {
		t.Errorf("beside the tick: %q", got)
	}
	form := typedQuote(seen, "send", free)
	form.Set("free", "yes")
	v.post(quoteAt(k), form).leadsTo(quoteAt(k) + "?done=sent")
}

// typedAnswer is an answer that is all right.
func typedAnswer(h *house) url.Values {
	return url.Values{"to_version": {"1"}, "about": {"repair"}, "text_shown": {"Quote 1: €49.32."}, "who": {"Mrs Brook"}, "answer": {"yes"}, "way": {"phone"},
		"answered_at": {h.now().In(time.FixedZone("", 0)).Format("2006-01-02T15:04")}, "limit": {""}, "then": {""}}
}

func TestAnAnswerIsRecordedOnceAndMayMoveTheBoard(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(time.Date(2040, 1, 12, 10, 30, 0, 0, time.UTC)) // winter: the shop's clock is UTC
	k := h.sedgeOnBench()
	v := h.as(mirela)
	form := typedQuote(h.story(k).Ticket.Version, "send", chips, labour)
	h.as(tobin).post(quoteAt(k), form).leadsTo(quoteAt(k) + "?done=sent")
	h.moved(k, shop.WaitingForYes, "quote sent")

	yes := typedAnswer(h)
	yes.Set("answer", "new_limit")
	yes.Set("limit", "120")
	yes.Set("then", "on_the_shelf")
	v.post(quoteAt(k)+"/answer", yes).leadsTo(quoteAt(k) + "?done=moved")
	st := h.story(k)
	if st.Ticket.State != shop.OnShelf || st.Ticket.Limit == nil || st.Ticket.Limit.Minor != 12000 {
		t.Fatalf("state %s, limit %v", st.Ticket.State, st.Ticket.Limit)
	}
	if c := st.Consents[0]; c.QuoteID == nil || *c.QuoteID != st.Quotes[0].ID || c.Who != "Mrs Brook" || c.Way != "phone" {
		t.Errorf("consent %+v", c)
	}
	yes.Set("then", "")
	v.post(quoteAt(k)+"/answer", yes).leadsTo(quoteAt(k) + "?done=answered")
	if n := len(h.story(k).Consents); n != 1 {
		t.Errorf("the same answer is on record %d times", n)
	}
	v.get(quoteAt(k)).says("Yes up to a new limit of €120.00", "Mrs Brook", "by phone", "To version 1,", "recorded by Mirela, 12 Jan 2040, 10:30")
}

func TestAnAnswerStaysOnRecordWhenTheBoardCannotMove(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench() // on the bench: nothing to wait for
	form := with(typedAnswer(h), "then", "handed_over", "to_version", "")
	a := h.as(mirela).post(quoteAt(k)+"/answer", form)
	if a.status < 400 {
		t.Fatalf("status %d", a.status)
	}
	a.says("The answer is on record, but the board was not moved.")
	if st := h.story(k); len(st.Consents) != 1 || st.Ticket.State != shop.OnBench {
		t.Errorf("%d consents, state %s", len(st.Consents), st.Ticket.State)
	}
}

func TestBadAnswersComeBackAsTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	v := h.as(mirela)
	cases := []struct{ field, typed, message string }{
		{"about", "lunch", "Choose what was asked"},
		{"text_shown", " ", "Write down what the customer was told"},
		{"text_shown", strings.Repeat("t", 4001), "4000"},
		{"who", "", "who answered"},
		{"answer", "", "Choose yes, no or a new limit."},
		{"answer", "perhaps", "Choose yes, no or a new limit."},
		{"answer", "new_limit", ""},
		{"limit", "120", "Leave the limit empty"},
		{"limit", "hundred", "Type an amount in digits"},
		{"limit", "1,200.00", "without separators for thousands"},
		{"way", "", "by which way"},
		{"way", "pigeon", "by which way"},
		{"answered_at", "", "Enter day and time."},
		{"answered_at", "yesterday", "Enter day and time."},
		{"answered_at", "2999-01-01T10:00", "has not come yet"},
		{"then", "away", "Choose where the board goes."},
	}
	for _, c := range cases {
		form := with(typedAnswer(h), "to_version", "", c.field, c.typed)
		a := v.post(quoteAt(k)+"/answer", form).wants(http.StatusUnprocessableEntity)
		at := c.field
		if c.typed == "new_limit" {
			at, c.message = "limit", "Enter the new limit."
		}
		if got := a.problem(at); at != "then" && !strings.Contains(got, c.message) {
			t.Errorf("%s = %q: the message beside it is %q, want %q", c.field, c.typed, got, c.message)
		}
		if got := a.value("text_shown"); c.field != "text_shown" && got != "Quote 1: €49.32." {
			t.Errorf("%s = %q: what was told came back as %q", c.field, c.typed, got)
		}
		if got := a.value(c.field); (c.field == "limit" || c.field == "who" || c.field == "answered_at") && got != c.typed {
			t.Errorf("%s came back as %q, typed %q", c.field, got, c.typed)
		}
	}
	if n := len(h.story(k).Consents); n != 0 {
		t.Errorf("%d answers were stored", n)
	}
}

// A quote typed while somebody handed the board over is refused and still there.
func TestAQuoteTypedTooLateIsNotLost(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	form := typedQuote(h.story(k).Ticket.Version, "save", labour)
	h.moved(k, shop.OnShelf, "")
	back := typedHandOver(h, k)
	back.Set("as", "returned_unrepaired")
	h.as(mirela).post(handOverAt(k), back).wants(http.StatusSeeOther)
	a := h.as(tobin).post(quoteAt(k), form).wants(http.StatusConflict)
	if a.value("text-0") != labour[1] {
		t.Errorf("the line came back as %q", a.value("text-0"))
	}
	a.neverSays("Storing them now replaces")
}

// A yes goes to the version that was read aloud, never to one that a colleague has
// sent meanwhile.
func TestAnAnswerDoesNotSlipToANewerVersion(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	k := h.sedgeOnBench()
	desk, bench := h.as(mirela), h.as(tobin)
	bench.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "send", chips, labour)).leadsTo(quoteAt(k) + "?done=sent")
	form := desk.get(quoteAt(k))
	yes := with(typedAnswer(h), "to_version", form.value("to_version"))
	dear := [5]string{"part", "power module", "1", "400", "S 20"}
	bench.post(quoteAt(k), typedQuote(h.story(k).Ticket.Version, "send", dear)).leadsTo(quoteAt(k) + "?done=sent")

	a := desk.post(quoteAt(k)+"/answer", yes).wants(http.StatusConflict).says("Another version of the quote was sent")
	if st := h.story(k); len(st.Consents) != 0 || st.Ticket.Limit.Minor != 6000 {
		t.Errorf("%d consents, limit %v", len(st.Consents), st.Ticket.Limit)
	}
	if a.value("to_version") != "2" || a.value("who") != yes.Get("who") || a.value("text_shown") != yes.Get("text_shown") {
		t.Errorf("version %q, who %q, told %q", a.value("to_version"), a.value("who"), a.value("text_shown"))
	}
	desk.post(quoteAt(k)+"/answer", with(yes, "to_version", "2")).leadsTo(quoteAt(k) + "?done=answered")
	if got := h.story(k).Ticket.Limit; got == nil || got.Minor != 48000 {
		t.Errorf("limit %v after a yes to 480.00", got)
	}
}
