package page

import (
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/fault"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// ShopForm is the shop and its terms as typed.
type ShopForm struct {
	Seen                                string // which terms the person saw, see SeenTerms
	Name, Address, TZ, Locale, Currency string
	TaxRate, LabourRate, Fee, CreditFee string
	Guarantee, AskPercent               string
	Handling, Resistance                string
	Danger, Lifted                      string // minutes
}

// ShopFields lists the form's fields in the order of the page.
var ShopFields = []string{"site_name", "address", "tz", "locale", "currency", "taxes", "labour_rate",
	"examination_fee", "credit_fee", "guarantee_days", "ask_percent", "handling_volts", "resistance_volts",
	"danger_minutes", "lifted_minutes"}

// ShopPage is the owner's page of terms.
type ShopPage struct {
	Frame   Frame
	Form    ShopForm
	Refusal Refusal
}

// NewShopForm is what the first start proposes.
func NewShopForm() ShopForm {
	return ShopForm{
		TZ: "Europe/Dublin", Locale: "en-IE", Currency: "EUR", TaxRate: "0", LabourRate: "50", Fee: "25",
		CreditFee: "yes", Guarantee: "180", AskPercent: "55", Handling: "5 V", Resistance: "0.1 V",
		Danger: strconv.Itoa(shop.UsualDanger), Lifted: strconv.Itoa(shop.UsualLifted),
	}
}

// ShopFormOf writes a shop's terms as its people would type them.
func ShopFormOf(site shop.Site, set shop.Settings) ShopForm {
	l := NewLocale(site.Locale, site.TZ)
	f := ShopForm{
		Seen: SeenTerms(set), Name: site.Name, Address: site.Address, TZ: site.TZ, Locale: site.Locale, Currency: site.Currency,
		LabourRate: set.LabourRate.Field(site.Locale), Fee: set.ExaminationFee.Field(site.Locale),
		Guarantee: strconv.Itoa(set.GuaranteeDays), AskPercent: strconv.Itoa(set.AskPercent),
		Handling: volts(l, set.HandlingVolts), Resistance: volts(l, set.ResistanceVolts),
		Danger: set.DangerMinutes.Field(site.Locale), Lifted: set.LiftedMinutes.Field(site.Locale),
	}
	if len(set.Taxes) > 0 {
		f.TaxRate = set.Taxes[0].Rate.Field(site.Locale)
	}
	if set.CreditFee {
		f.CreditFee = "yes"
	}
	return f
}

func volts(l Locale, v float64) string {
	return l.Decimal(strings.TrimSpace(quantity.Format(v, 0, quantity.Volt)))
}

// SeenTerms names the terms that a form was made from.
func SeenTerms(set shop.Settings) string { return set.ValidFrom.UTC().Format(time.RFC3339Nano) }

// ReadSeenTerms reads what SeenTerms wrote.
func ReadSeenTerms(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil || t.IsZero() {
		return t, fault.New(fault.Invalid, "This form is incomplete. Load the page again.")
	}
	return t, nil
}
