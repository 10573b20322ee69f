package page

import (
	"fmt"
	"time"
	"unicode"
	"unicode/utf8"
)

// daysApart counts the calendar days from one day to another, days as the
// shop's zone has them.
func (l Locale) daysApart(from, to time.Time) int {
	return int(l.Today(to).Sub(l.Today(from)).Hours() / 24)
}

// since says since when something stands as it does, in words that can be read
// aloud: "since 10:40", "since yesterday", "since Tuesday", "since 3 Mar 2026".
func (l Locale) since(t, now time.Time) string {
	switch days := l.daysApart(t, now); {
	case days <= 0:
		return "since " + l.Clock(t)
	case days == 1:
		return "since yesterday"
	case days < 7:
		return "since " + l.in(t).Weekday().String()
	}
	return "since " + l.Date(t)
}

// on says on which day something happened: "today", "yesterday", "on Tuesday",
// "on 3 Mar 2026".
func (l Locale) on(t, now time.Time) string {
	switch days := l.daysApart(t, now); {
	case days <= 0:
		return "today"
	case days == 1:
		return "yesterday"
	case days < 7:
		return "on " + l.in(t).Weekday().String()
	}
	return "on " + l.Date(t)
}

// forDay says for which day something is promised: "for today", "for Friday",
// "for Fri 12 Dec". day is a calendar day, midnight UTC.
func (l Locale) forDay(day, now time.Time) string {
	switch days := int(day.Sub(l.Today(now)).Hours() / 24); {
	case days == 0:
		return "for today"
	case days == 1:
		return "for tomorrow"
	case days == -1:
		return "for yesterday"
	case days > 0 && days < 7:
		return "for " + day.Weekday().String()
	}
	return "for " + l.Day(day)
}

// daysLate counts the days since a promised day has passed, 0 when it has not.
func (l Locale) daysLate(day *time.Time, now time.Time) int {
	if day == nil {
		return 0
	}
	return max(0, int(l.Today(now).Sub(*day).Hours()/24))
}

// age says how long something has lasted: "20 min", "5 h", "3 days", or "just now".
func (l Locale) age(t, now time.Time) string {
	if days := l.daysApart(t, now); days > 0 {
		return count(days, "day")
	}
	switch d := now.Sub(t); {
	case d >= time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	case d >= time.Minute:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	}
	return "just now"
}

// count says how many of something there are: "1 day", "3 days".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// capital begins a sentence.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	return string(unicode.ToUpper(r)) + s[n:]
}
