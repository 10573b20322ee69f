package page

import (
	"strings"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Locale writes numbers and dates as the shop is used to. Words stay English.
type Locale struct {
	tag     language.Tag
	zone    *time.Location
	decimal string
	us      bool
}

// NewLocale makes a Locale from a BCP 47 tag and an IANA time zone; what cannot
// be read falls back to en-IE and UTC.
func NewLocale(tag, zone string) Locale {
	t, err := language.Parse(tag)
	if err != nil {
		t = language.MustParse("en-IE")
	}
	loc, err := time.LoadLocation(zone)
	if err != nil {
		loc = time.UTC
	}
	region, _ := t.Region()
	return Locale{tag: t, zone: loc, decimal: decimalOf(t), us: region.String() == "US"}
}

// decimalOf finds the decimal separator that the locale's data prints.
func decimalOf(t language.Tag) string {
	s := message.NewPrinter(t).Sprint(number.Decimal(1.5, number.Scale(1)))
	if strings.Contains(s, ",") {
		return ","
	}
	return "."
}

// Language is the language of the words on the page.
func (l Locale) Language() string { return "en" }

// Tag is the shop's locale as BCP 47.
func (l Locale) Tag() string { return l.tag.String() }

// Decimal puts the shop's decimal separator into a number written with a point.
func (l Locale) Decimal(number string) string {
	if l.decimal == "." || l.decimal == "" {
		return number
	}
	return strings.Replace(number, ".", l.decimal, 1)
}

// Date writes a day without doubt about which number is the month.
func (l Locale) Date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	if l.us {
		return l.in(t).Format("Jan 2, 2006")
	}
	return l.in(t).Format("2 Jan 2006")
}

// Day writes a calendar day that belongs to no time zone (a promised date).
func (l Locale) Day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	if l.us {
		return t.Format("Mon, Jan 2")
	}
	return t.Format("Mon 2 Jan")
}

// Clock writes the time of day.
func (l Locale) Clock(t time.Time) string {
	if l.us {
		return l.in(t).Format("3:04 PM")
	}
	return l.in(t).Format("15:04")
}

// Moment writes day and time.
func (l Locale) Moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return l.Date(t) + ", " + l.Clock(t)
}

// Stamp writes a time for machines (the datetime attribute).
func (l Locale) Stamp(t time.Time) string { return l.in(t).Format(time.RFC3339) }

// Today is the calendar day in the shop's zone.
func (l Locale) Today(now time.Time) time.Time {
	y, m, d := l.in(now).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

func (l Locale) in(t time.Time) time.Time {
	if l.zone == nil {
		return t.UTC()
	}
	return t.In(l.zone)
}
