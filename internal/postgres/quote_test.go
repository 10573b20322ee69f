package postgres

import (
	"encoding/json"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// texts gives the lines' texts.
func texts(v quote.Version) (out []string) {
	for _, l := range v.Lines {
		out = append(out, l.Text)
	}
	return out
}

func named(text, price string) quote.Line {
	l := line("1", price)
	l.Text = text
	return l
}

// addLine saves the ticket's quote as it stands with one more line.
func (w *world) addLine(by staff.Actor, ticket uuid.UUID, l quote.Line) (quote.Version, error) {
	w.t.Helper()
	st, err := w.TicketByID(w.t.Context(), by, ticket)
	if err != nil {
		return quote.Version{}, err
	}
	var lines []quote.Line
	if q := st.Quote(); q != nil {
		lines = q.Lines
	}
	return w.SaveQuote(w.t.Context(), by, ticket, st.Ticket.Version, "", append(lines, l))
}

func TestADraftIsEdited(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	v := must(w.addLine(w.bench, k.ID, named("module", "48")))
	v = must(w.addLine(w.bench, k.ID, named("labour", "54")))
	if diff := cmp.Diff([]string{"module", "labour"}, texts(v)); diff != "" || v.Number != 1 || v.Currency != "EUR" || v.SentAt != nil {
		t.Errorf("%+v\n%s", v, diff)
	}
	st := w.story(k)
	if diff := cmp.Diff(v, *st.Quote()); diff != "" {
		t.Errorf("given and stored differ:\n%s", diff)
	}
	kept := v.Lines[1]
	v = must(w.SaveQuote(t.Context(), w.desk, k.ID, st.Ticket.Version, "", v.Lines[1:]))
	if diff := cmp.Diff([]quote.Line{kept}, v.Lines); diff != "" {
		t.Errorf("a line that stays is another now:\n%s", diff)
	}

	seen := w.story(k).Ticket.Version
	exact := named("capacitors", "9.123456")
	exact.Quantity = must(quote.DecimalFrom("-2.5"))
	v = must(w.SaveQuote(t.Context(), w.bench, k.ID, seen, "as told on the phone", []quote.Line{exact, v.Lines[0]}))
	if st := w.story(k); st.Quote().Note != "as told on the phone" || st.Quote().Lines[0].UnitPrice != exact.UnitPrice || st.Quote().Lines[0].Quantity != exact.Quantity {
		t.Errorf("%+v", st.Quote())
	}
	_, err := w.SaveQuote(t.Context(), w.desk, k.ID, seen, "", nil)
	wantKind(t, "saved over somebody's change", err, fault.Conflict)
	bad := named("", "1")
	_, err = w.SaveQuote(t.Context(), w.desk, k.ID, seen+1, "", []quote.Line{v.Lines[0], bad})
	wantField(t, "a line without a text", err, "lines.1.text")
	_, err = w.addLine(staff.Actor{Site: w.desk.Site, Role: "guest"}, k.ID, exact)
	wantKind(t, "by a guest", err, fault.Forbidden)
}

func TestASentQuoteIsFrozen(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	_, err := w.SendQuote(t.Context(), w.desk, k.ID, k.Version)
	wantKind(t, "nothing to send", err, fault.Conflict)
	first := must(w.addLine(w.bench, k.ID, named("module", "48")))
	_, err = w.SendQuote(t.Context(), w.desk, k.ID, k.Version)
	wantKind(t, "sent without having seen the last change", err, fault.Conflict)
	sent := must(w.SendQuote(t.Context(), w.desk, k.ID, w.story(k).Ticket.Version))
	if sent.SentAt == nil || !sent.SentAt.Equal(w.clock.now()) || *sent.SentBy != w.desk.Person {
		t.Errorf("%+v", sent)
	}
	_, err = w.SendQuote(t.Context(), w.desk, k.ID, w.story(k).Ticket.Version)
	wantKind(t, "sent twice", err, fault.Conflict)

	w.clock.pass(time.Hour)
	next := must(w.addLine(w.bench, k.ID, named("relay", "4.50")))
	if diff := cmp.Diff([]string{"module", "relay"}, texts(next)); diff != "" || next.Number != 2 || next.ID == sent.ID || next.Lines[0].ID == first.Lines[0].ID {
		t.Errorf("%+v\n%s", next, diff)
	}
	st := w.story(k)
	if diff := cmp.Diff(sent, st.Quotes[1]); diff != "" || len(st.Quotes) != 2 {
		t.Errorf("the sent version changed:\n%s", diff)
	}
	doc := must(w.Document(t.Context(), w.desk, "quote", 1))
	var paper quote.Offer
	if err := json.Unmarshal(doc.Content, &paper); err != nil || paper.Totals.Gross.Plain() != "59.04" || paper.Version.ID != sent.ID {
		t.Errorf("paper %+v, %v", paper, err) // 48 + 23 %
	}
	if len(st.Documents) != 1 || st.Documents[0].ID != doc.ID {
		t.Errorf("%+v", st.Documents)
	}
	_, err = w.Document(t.Context(), w.desk, "quote", 2)
	wantKind(t, "a paper that does not exist", err, fault.NotFound)
}

func TestConsents(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(func(in *shop.Intake) { in.Limit = &quote.Money{Minor: 5000, Currency: "EUR"} }), shop.OnBench)
	must(w.addLine(w.bench, k.ID, named("module", "48")))
	st := w.story(k)
	draft := st.Quote().ID
	c := quote.Consent{TicketID: k.ID, QuoteID: &draft, About: quote.AboutRepair, TextShown: "59.04 in all", Who: "Orla Fenwick", Answer: quote.Yes, Way: "phone"}
	_, err := w.RecordConsent(t.Context(), w.desk, c)
	wantKind(t, "a yes to a draft", err, fault.Conflict)
	must(w.SendQuote(t.Context(), w.desk, k.ID, w.story(k).Ticket.Version))
	unknown := uuid.New()
	c.QuoteID = &unknown
	_, err = w.RecordConsent(t.Context(), w.desk, c)
	wantKind(t, "a yes to no quote", err, fault.NotFound)
	c.QuoteID = &draft
	c.AnsweredAt = w.clock.now().Add(time.Hour)
	_, err = w.RecordConsent(t.Context(), w.desk, c)
	wantField(t, "answered tomorrow", err, "answered_at")
	c.AnsweredAt = w.clock.now().Add(-time.Hour)
	got := must(w.RecordConsent(t.Context(), w.desk, c))
	st = w.story(k)
	if diff := cmp.Diff(got, st.Consents[0]); diff != "" {
		t.Errorf("given and stored differ:\n%s", diff)
	}
	if got.PersonID != w.desk.Person || st.Ticket.Limit.Minor != 5904 {
		t.Errorf("a yes to 59.04 left the limit at %v", st.Ticket.Limit)
	}
	c.Answer, c.Limit, c.AnsweredAt = quote.NewLimit, &quote.Money{Minor: 8000, Currency: "EUR"}, time.Time{}
	must(w.RecordConsent(t.Context(), w.desk, c))
	c.Answer, c.Limit = quote.Yes, nil // a yes to less than the limit lowers nothing
	must(w.RecordConsent(t.Context(), w.desk, c))
	c.Answer = quote.No
	must(w.RecordConsent(t.Context(), w.desk, c))
	if st := w.story(k); st.Ticket.Limit.Minor != 8000 || len(st.Consents) != 4 {
		t.Errorf("limit %v, %d consents", st.Ticket.Limit, len(st.Consents))
	}
	c.AnsweredAt = k.TakenInAt.Add(-2 * answerReach)
	_, err = w.RecordConsent(t.Context(), w.desk, c)
	wantField(t, "in another year", err, "answered_at")
	c.Who = ""
	_, err = w.RecordConsent(t.Context(), w.desk, c)
	wantField(t, "by nobody", err, "who")
}

// Two clicks of one finger, two tabs, a browser that repeats: one answer.
func TestOneAnswerSentManyTimesIsOnRecordOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	c := quote.Consent{TicketID: k.ID, About: quote.AboutRepair, TextShown: "up to 80", Who: "Orla Fenwick", Answer: quote.NewLimit,
		Limit: &quote.Money{Minor: 8000, Currency: "EUR"}, Way: "phone", AnsweredAt: w.clock.now().Add(-time.Minute)}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if _, err := w.RecordConsent(t.Context(), w.desk, c); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if st := w.story(k); len(st.Consents) != 1 || st.Ticket.Version != k.Version+2 {
		t.Errorf("%d consents, version %d after %d", len(st.Consents), st.Ticket.Version, k.Version)
	}
}

// The front desk has read version 1 aloud while the bench sends version 2: the yes
// is not one to a price that the customer never heard.
func TestAYesIsToTheVersionSentLast(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	send := func(price string) *uuid.UUID {
		must(w.addLine(w.bench, k.ID, named("module", price)))
		id := must(w.SendQuote(t.Context(), w.desk, k.ID, w.story(k).Ticket.Version)).ID
		return &id
	}
	first, second := send("48"), send("400")
	yes := quote.Consent{TicketID: k.ID, QuoteID: first, About: quote.AboutRepair, TextShown: "59.04", Who: "Orla", Answer: quote.Yes, Way: "phone"}
	_, err := w.RecordConsent(t.Context(), w.desk, yes)
	wantKind(t, "a yes to the version before", err, fault.Conflict)
	yes.QuoteID = second
	must(w.RecordConsent(t.Context(), w.desk, yes))
}

func TestNothingIsQuotedAfterTheEnd(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	w.end(k)
	_, err := w.addLine(w.bench, k.ID, named("module", "48"))
	wantKind(t, "a line", err, fault.Conflict)
	_, err = w.SendQuote(t.Context(), w.bench, k.ID, 99)
	wantKind(t, "sending", err, fault.Conflict)
	_, err = w.RecordConsent(t.Context(), w.desk, quote.Consent{TicketID: k.ID, About: quote.AboutRepair, TextShown: "x", Who: "y", Answer: quote.Yes, Way: "phone"})
	wantKind(t, "an answer", err, fault.Conflict)
}

func TestHandOverFreezesTheSlip(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(everything(w), shop.ToHandOver)
	h := shop.HandOver{As: shop.HandedOver, To: "Orla Fenwick", Text: "R12 replaced", Blocks: []shop.SafetyBlock{{Name: "contact", Title: "Pressure contact"}}}
	_, err := w.HandOver(t.Context(), w.desk, k.ID, k.Version, h)
	wantField(t, "a safety function without proof", err, "block:contact")
	h.Blocks[0].Proof = "5.00 V open, 0.02 V closed"
	_, err = w.HandOver(t.Context(), w.desk, k.ID, 1, h)
	wantKind(t, "moved since", err, fault.Conflict)
	doc := must(w.HandOver(t.Context(), w.desk, k.ID, k.Version, h))
	var slip shop.Slip
	if err := json.Unmarshal(doc.Content, &slip); err != nil {
		t.Fatal(err)
	}
	if slip.Number != 1 || slip.Ticket != k.Number || len(slip.Readings) != 1 || len(slip.Findings) != 1 || len(slip.Fitted) != 1 ||
		slip.Totals.Gross.Plain() != "0.74" || slip.GuaranteeUntil != "2026-08-31" || slip.Blocks[0].Proof == "" {
		t.Errorf("%+v", slip)
	}
	st := w.story(k)
	if st.Ticket.State != shop.HandedOver || len(st.Documents) != 2 || string(st.Documents[1].Content) != string(doc.Content) {
		t.Errorf("%s with %d documents", st.Ticket.State, len(st.Documents))
	}
	_, err = w.HandOver(t.Context(), w.desk, k.ID, st.Ticket.Version, h)
	wantKind(t, "twice", err, fault.Conflict)
	if again := must(w.Document(t.Context(), w.bench, "slip", 1)); string(again.Content) != string(doc.Content) {
		t.Error("the frozen slip reads otherwise later")
	}
}

func TestHandOverIsAllOrNothing(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	_, err := w.HandOver(t.Context(), w.owner, k.ID, k.Version, shop.HandOver{As: shop.HandedOver, To: "Orla", Text: "done"})
	wantKind(t, "straight from the bench", err, fault.Conflict)
	st := w.story(k)
	if st.Ticket.State != shop.OnBench || len(st.Documents) != 0 || st.Ticket.Version != k.Version {
		t.Errorf("%s, %d documents", st.Ticket.State, len(st.Documents))
	}
	k = w.move(k, shop.ToHandOver)
	if doc := must(w.HandOver(t.Context(), w.desk, k.ID, k.Version, shop.HandOver{As: shop.ReturnedUnrepaired, To: "Orla", Text: "too dear"})); doc.Number != 1 {
		t.Errorf("the refused hand-over used slip number 1; this is %d", doc.Number)
	}
}
