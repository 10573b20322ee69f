package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quantity"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// shopBook is what the owner's settings need of storage.
type shopBook interface {
	Site(ctx context.Context, site uuid.UUID) (shop.Site, error)
	Settings(ctx context.Context, site uuid.UUID) (shop.Settings, error)
	SaveShop(ctx context.Context, by staff.Actor, site shop.Site, set shop.Settings) error
}

func (s *Server) shopSettings(w http.ResponseWriter, r *http.Request, v *visit) error {
	set, err := s.store.Settings(r.Context(), v.site.ID)
	if err != nil {
		return err
	}
	p := page.ShopPage{Frame: s.frame(v, "The terms of "+v.site.Name, placeShop), Form: page.ShopFormOf(v.site, set)}
	switch {
	case r.URL.Query().Get("opened") == "yes":
		p.Frame.Notice = "The shop is open. Look through its terms once, then enter the people who work here."
	case r.URL.Query().Get("saved") == "yes":
		p.Frame.Notice = "Stored. The new terms count from now on; papers already given away keep theirs."
	}
	return render(w, r, http.StatusOK, page.Shop(p))
}

func (s *Server) saveShopSettings(w http.ResponseWriter, r *http.Request, v *visit) error {
	form := shopForm(r)
	set, err := s.store.Settings(r.Context(), v.site.ID)
	if err != nil {
		return err
	}
	now := page.SeenTerms(set)
	site, set, err := readShop(form, v.site, set)
	if err == nil {
		if set.ValidFrom, err = page.ReadSeenTerms(form.Seen); err == nil {
			err = s.store.SaveShop(r.Context(), v.actor(), site, set)
		}
	}
	k := fault.KindOf(err)
	switch {
	case err == nil:
		http.Redirect(w, r, "/shop?saved=yes", http.StatusSeeOther)
		return nil
	case k == fault.Conflict:
		form.Seen = now // stored once more it replaces theirs, knowingly
	case k != fault.Invalid:
		return err
	}
	return render(w, r, statusOf[k], page.Shop(page.ShopPage{
		Frame: s.frame(v, "The terms of "+v.site.Name, placeShop), Form: form,
		Refusal: page.RefusalOf(err, page.ShopFields...),
	}))
}

// shopForm takes the form as it was typed.
func shopForm(r *http.Request) page.ShopForm {
	get := func(name string) string { return r.PostFormValue(name) }
	return page.ShopForm{
		Seen: get("seen"), Name: get("site_name"), Address: get("address"), TZ: get("tz"), Locale: get("locale"), Currency: get("currency"),
		TaxRate: get("taxes"), LabourRate: get("labour_rate"), Fee: get("examination_fee"), CreditFee: get("credit_fee"),
		Guarantee: get("guarantee_days"), AskPercent: get("ask_percent"), Handling: get("handling_volts"), Resistance: get("resistance_volts"),
		Danger: get("danger_minutes"), Lifted: get("lifted_minutes"),
	}
}

// readShop turns what was typed into a site and its terms; every field that
// cannot be read or accepted is named in the error.
func readShop(f page.ShopForm, site shop.Site, set shop.Settings) (shop.Site, shop.Settings, error) {
	problems := map[string]string{}
	site.Name, site.Address = trim(f.Name), trim(f.Address)
	site.TZ, site.Locale, site.Currency = trim(f.TZ), trim(f.Locale), strings.ToUpper(trim(f.Currency))
	rate, err := quote.ParseDecimal(f.TaxRate, site.Locale, "a rate in per cent")
	note(problems, "taxes", err)
	set.Taxes = []quote.Tax{taxOf(rate)}
	set.LabourRate = price(problems, "labour_rate", f.LabourRate, site.Locale)
	set.ExaminationFee = price(problems, "examination_fee", f.Fee, site.Locale)
	set.CreditFee = f.CreditFee == "yes"
	set.GuaranteeDays = whole(problems, "guarantee_days", f.Guarantee)
	set.AskPercent = whole(problems, "ask_percent", f.AskPercent)
	set.HandlingVolts = limitVolts(problems, "handling_volts", f.Handling)
	set.ResistanceVolts = limitVolts(problems, "resistance_volts", f.Resistance)
	set.DangerMinutes = minutes(problems, "danger_minutes", f.Danger, site.Locale)
	set.LiftedMinutes = minutes(problems, "lifted_minutes", f.Lifted, site.Locale)
	addFields(problems, site.Check())
	addFields(problems, set.Check())
	return site, set, fault.Form(problems)
}

func taxOf(rate quote.Decimal) quote.Tax {
	if rate == 0 {
		return quote.Tax{Category: "Z"}
	}
	return quote.Tax{Category: "S", Rate: rate}
}

func price(problems map[string]string, field, typed, locale string) quote.Decimal {
	d, err := quote.ParseDecimal(typed, locale, "an amount")
	note(problems, field, err)
	return d
}

func minutes(problems map[string]string, field, typed, locale string) quote.Decimal {
	d, err := quote.ParseDecimal(typed, locale, "a number of minutes")
	note(problems, field, err)
	return d
}

func whole(problems map[string]string, field, typed string) int {
	n, err := strconv.Atoi(trim(typed))
	if err != nil {
		problems[field] = "Enter a whole number."
	}
	return n
}

// limitVolts reads a limit of the gate.
func limitVolts(problems map[string]string, field, typed string) float64 {
	v, err := quantity.Parse(typed, quantity.Volt)
	if err != nil {
		problems[field] = "Enter volts, such as 0.1 V."
	}
	return v.Number
}
