package shop

import (
	"fmt"
	"math"
	"strings"
	"time"

	"golang.org/x/text/language"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
)

// Settings are the shop's terms from one moment on; the newest that has begun
// is the one that counts, older ones stay.
type Settings struct {
	ValidFrom       time.Time
	Taxes           []quote.Tax   // the first is the usual one
	LabourRate      quote.Decimal // per hour, major units, without tax
	ExaminationFee  quote.Decimal // major units, without tax
	CreditFee       bool          // the fee is credited when the board is repaired
	GuaranteeDays   int
	AskPercent      int     // ask when the total passes this share of a new board fitted
	HandlingVolts   float64 // at most evidence.MaxHandling
	ResistanceVolts float64 // at most evidence.MaxResistance
	// What the next check to make is counted as costing more, in minutes: in a state
	// that can kill, and with a leg lifted.
	DangerMinutes, LiftedMinutes quote.Decimal
}

// The minutes that a new shop begins with.
const (
	UsualDanger = 5
	UsualLifted = 2
	mostMinutes = 60
)

// Limits gives the volts up to which the shop calls a store of energy dead.
func (s Settings) Limits() evidence.Limits {
	return evidence.Limits{Handling: s.HandlingVolts, Resistance: s.ResistanceVolts}
}

// Check refuses settings with a message by field: taxes, labour_rate,
// examination_fee, guarantee_days, ask_percent, handling_volts, resistance_volts,
// danger_minutes, lifted_minutes.
// The owner may tighten the two limits of proving dead, never loosen them.
func (s Settings) Check() error {
	f := form{}
	if len(s.Taxes) == 0 || len(s.Taxes) > 10 {
		f["taxes"] = "Enter between one and ten tax rates; a shop without tax has category E with 0 %."
	}
	for _, t := range s.Taxes {
		if err := t.Check(); err != nil {
			f["taxes"] = fault.Text(err)
		}
	}
	f.within("labour_rate", s.LabourRate, quote.Whole(1_000_000))
	f.within("examination_fee", s.ExaminationFee, quote.Whole(1_000_000))
	if s.GuaranteeDays < 0 || s.GuaranteeDays > 3650 {
		f["guarantee_days"] = "Enter between 0 and 3650 days."
	}
	if s.AskPercent < 1 || s.AskPercent > 100 {
		f["ask_percent"] = "Enter between 1 and 100 per cent."
	}
	for field, minutes := range map[string]quote.Decimal{"danger_minutes": s.DangerMinutes, "lifted_minutes": s.LiftedMinutes} {
		if minutes < 0 || minutes > quote.Whole(mostMinutes) {
			f[field] = fmt.Sprintf("Enter between 0 and %d minutes.", mostMinutes)
		}
	}
	f.tighten("handling_volts", s.HandlingVolts, evidence.MaxHandling)
	f.tighten("resistance_volts", s.ResistanceVolts, evidence.MaxResistance)
	if s.ResistanceVolts > s.HandlingVolts {
		f["resistance_volts"] = "This limit cannot be above the one for handling."
	}
	return fault.Form(f)
}

// within refuses an amount below zero or above max.
func (f form) within(field string, d, max quote.Decimal) {
	if d < 0 || d > max {
		f[field] = fmt.Sprintf("Enter between 0 and %s.", max)
	}
}

// tighten refuses a limit that is not above zero, or looser than shipped.
func (f form) tighten(field string, volts, max float64) {
	if math.IsNaN(volts) || volts <= 0 || volts > max {
		f[field] = fmt.Sprintf("Enter more than 0 and at most %g V: the limit may be tightened, not loosened.", max)
	}
}

// Check refuses a shop's own record with a message by field: site_name, address,
// tz, locale, currency.
func (s Site) Check() error {
	f := form{}
	f.long("site_name", s.Name, maxLine)
	f.need("site_name", s.Name, "Enter the shop’s name.")
	f.long("address", s.Address, maxText)
	if _, err := time.LoadLocation(s.TZ); s.TZ == "" || s.TZ == "Local" || err != nil {
		f["tz"] = "Enter a time zone such as Europe/Lisbon."
	}
	if _, err := language.Parse(s.Locale); s.Locale == "" || err != nil {
		f["locale"] = "Enter a language and country such as en-IE."
	}
	if _, ok := quote.Digits(s.Currency); !ok {
		f["currency"] = "Enter a currency’s three letters, such as EUR."
	}
	return fault.Form(f)
}

// Day gives the calendar day of a moment in the shop, at midnight UTC.
func (s Site) Day(at time.Time) time.Time {
	if loc, err := time.LoadLocation(strings.TrimSpace(s.TZ)); err == nil {
		at = at.In(loc)
	}
	y, m, d := at.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
