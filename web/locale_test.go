package web_test

import (
	"net/http"
	"testing"
	"time"

	"ohmstead/internal/shop"
)

// From what is typed at the counter to the paper that goes out, in four places.
// Seven chips at 0.105 are 0.735, which rounds half up to 0.74; 20 % of that is
// 0.148, 0.15 (EN 16931: the line, then the tax once). The yen has no decimals
// (ISO 4217): seven at 120.5 are 843.5, 844, and the tax 168.8, 169. Marks as CLDR
// has them; fr-CH writes amounts with a point and other numbers with a comma.
func TestMoneyAsFourCountriesWriteIt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ locale, zone, currency, limit, price, unit, net, tax, gross, agreed string }{
		{"de-DE", "Europe/Berlin", "EUR", "120,50", "0,105", "0,105", "0,74", "0,15", "0,89", "120,50 €"},
		{"fr-CH", "Europe/Zurich", "CHF", "120.50", "0.105", "0.105", "0.74", "0.15", "0.89", "120.50 CHF"},
		{"en-US", "America/New_York", "USD", "$120.50", "0.105", "0.105", "0.74", "0.15", "0.89", "$120.50"},
		{"ja-JP", "Asia/Tokyo", "JPY", "￥１２０５０", "120.5", "120.5", "844", "169", "1013", "￥12,050"},
	} {
		t.Run(c.locale, func(t *testing.T) {
			t.Parallel()
			h := openHouse(t)
			h.at(november)
			site := h.site
			site.Locale, site.TZ, site.Currency = c.locale, c.zone, c.currency
			if err := h.store.SaveShop(t.Context(), h.people[ansa].Actor(), site, termsOfTheHouse()); err != nil {
				t.Fatal(err)
			}
			v, k := h.as(ansa), shop.Ticket{Number: 1}
			v.post("/take-in", with(newCustomersForm(), "limit", c.limit)).leadsTo("/tickets/1?done=taken-in")
			v.get("/tickets/1").says(c.agreed)
			chips := [5]string{"part", "seven chips", "7", c.price, "S 20"}
			v.post(quoteAt(k), typedQuote(1, "save", chips)).leadsTo(quoteAt(k) + "?done=stored")
			a := v.get(quoteAt(k))
			if got := a.value("price-0"); got != c.unit {
				t.Errorf("the price came back as %q", got)
			}
			again := typedQuote(2, "send", [5]string{"part", "seven chips", a.value("quantity-0"), a.value("price-0"), a.value("tax-0")})
			v.post(quoteAt(k), again).leadsTo(quoteAt(k) + "?done=sent")
			v.get(quoteAt(k)+"/1").wants(http.StatusOK).says("seven chips 7 "+c.unit+" 20 % "+c.net,
				"Tax 20 % on "+c.net+" "+c.tax, "Total "+c.currency+", tax included "+c.gross)
		})
	}
}

// The days on which the clock is changed, and midnight: a promised day is the shop's
// calendar day, whatever UTC says. Dublin: 29 March and 25 October 2026, EU rules.
func TestDaysAreTheShopsAroundDST(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	v := h.as(mirela)
	for _, c := range []struct {
		at       time.Time
		today    string
		tomorrow string
	}{
		{time.Date(2026, 3, 28, 23, 59, 0, 0, time.UTC), "2026-03-28", "2026-03-29"}, // still winter time
		{time.Date(2026, 3, 29, 22, 59, 0, 0, time.UTC), "2026-03-29", "2026-03-30"}, // 23:59 in Dublin
		{time.Date(2026, 3, 29, 23, 0, 0, 0, time.UTC), "2026-03-30", "2026-03-31"},  // midnight there
		{time.Date(2026, 10, 24, 23, 0, 0, 0, time.UTC), "2026-10-25", "2026-10-26"},
		{time.Date(2026, 10, 25, 23, 59, 0, 0, time.UTC), "2026-10-25", "2026-10-26"}, // a day of 25 hours
	} {
		h.at(c.at)
		yesterday := mustDay(t, c.today).AddDate(0, 0, -1).Format(time.DateOnly)
		take := func(day string) *answer {
			form := newCustomersForm()
			form.Del("serial")
			form.Del("own_tag")
			return v.post("/take-in", with(form, "promised_on", day))
		}
		take(yesterday).wants(http.StatusUnprocessableEntity).says("has passed")
		for _, day := range []string{c.today, c.tomorrow} {
			at := take(day).wants(http.StatusSeeOther).header.Get("Location")
			v.get(at).says(mustDay(t, day).Format("Mon 2 Jan"))
		}
	}
}

func mustDay(t *testing.T, s string) time.Time {
	t.Helper()
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
