package page

import (
	"testing"
	"time"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

func TestTheAnswerFormProposesWhatToReadAloud(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), true)
	st.Ticket.State = shop.WaitingForYes
	in := quoteInput(st)
	in.By.Role = staff.FrontDesk
	doc := drawn(t, Quote(NewQuote(quayFrame(), in)))
	reads(t, doc, "textarea#f-text_shown",
		"Quote 17: repair of SEDGE D, serial SD-0417, €49.32, tax included. Without the repair the examination fee of €30.00 is charged.")
	reads(t, doc, "select#f-then option", "leave it where it is", "on the shelf", "to be handed over", "scrapped with consent")
	if at, _ := attribute(pick(doc, "#f-answered_at")[0], "value"); at != "2026-03-04T12:30" {
		t.Errorf("when is %q", at)
	}
}

func TestWithoutASentQuoteNothingIsProposed(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(withQuote(sedge(), false)))))
	reads(t, doc, "textarea#f-text_shown", "")
	reads(t, doc, "select#f-then")
}

func TestAnswersSayWhoSaidWhatAndWhoWroteItDown(t *testing.T) {
	t.Parallel()
	st := withQuote(sedge(), true)
	st.Consents = []quote.Consent{
		{About: quote.AboutRepair, TextShown: "Quote 17, €49.32.", Who: "Mrs Brook", Answer: quote.NewLimit, Limit: euros(12000),
			Way: "phone", AnsweredAt: noon, PersonID: mirelaID, RecordedAt: noon.Add(time.Minute), QuoteID: &st.Quotes[0].ID},
		{About: quote.AboutScrap, TextShown: "Scrap it?", Who: "Mr Brook", Answer: quote.No, Way: "in person", AnsweredAt: noon.Add(time.Hour), RecordedAt: noon.Add(time.Hour)},
	}
	doc := drawn(t, Quote(NewQuote(quayFrame(), quoteInput(st))))
	reads(t, doc, ".history li",
		"4 Mar 2026, 13:30 No to scrapping the board, Mr Brook, in person “Scrap it?” recorded 4 Mar 2026, 13:30",
		"4 Mar 2026, 12:30 Yes up to a new limit of €120.00, Mrs Brook, by phone “Quote 17, €49.32.” To version 1, recorded by Mirela, 4 Mar 2026, 12:31")
}

func TestInputTimeIsTheShopsClock(t *testing.T) {
	t.Parallel()
	l := NewLocale("de-DE", "Europe/Berlin")
	at := time.Date(2026, 7, 1, 22, 30, 0, 0, time.UTC)
	typed := l.InputTime(at)
	if typed != "2026-07-02T00:30" {
		t.Errorf("InputTime = %q", typed)
	}
	if back, err := l.ReadInputTime(typed); err != nil || !back.Equal(at) {
		t.Errorf("read back as %v, %v", back, err)
	}
	if back, err := l.ReadInputTime("2026-07-02T00:30:15"); err != nil || back.Second() != 15 {
		t.Errorf("with seconds: %v, %v", back, err)
	}
	for _, bad := range []string{"", "tomorrow", "2026-07-02", "02.07.2026 00:30"} {
		if _, err := l.ReadInputTime(bad); err == nil {
			t.Errorf("%q was read as a time", bad)
		}
	}
}

// A yes to the version that counts ends the asking; a no or a new limit that is
// still too low does not.
func TestAYesEndsTheAsking(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		answer quote.Answer
		want   []string
	}{
		{quote.Yes, []string{"The customer said yes to the repair (Mrs Brook, by phone, 4 Mar 2026, 12:30)."}},
		{quote.No, []string{"The customer said no to the repair (Mrs Brook, by phone, 4 Mar 2026, 12:30).",
			"The total, €49.32, is €9.32 above the limit of €40.00: ask the customer."}},
	} {
		st := withQuote(sedge(), true)
		st.Ticket.Limit = euros(4000)
		st.Consents = []quote.Consent{{About: quote.AboutRepair, Who: "Mrs Brook", Answer: c.answer, Way: "phone", AnsweredAt: noon, QuoteID: &st.Quotes[0].ID}}
		reads(t, drawn(t, Quote(NewQuote(quayFrame(), quoteInput(st)))), ".against-limit", c.want...)
	}
}
