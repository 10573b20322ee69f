package page

import (
	"testing"
	"time"
)

func TestTimesInWords(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	now := time.Date(2026, 11, 27, 15, 0, 0, 0, time.UTC) // a Friday; Dublin is on UTC in November
	cases := []struct {
		at             time.Time
		since, on, age string
	}{
		{now.Add(-20 * time.Minute), "since 14:40", "today", "20 min"},
		{now.Add(-5 * time.Hour), "since 10:00", "today", "5 h"},
		{now.Add(-16 * time.Hour), "since yesterday", "yesterday", "1 day"},
		{now.AddDate(0, 0, -3), "since Tuesday", "on Tuesday", "3 days"},
		{now.AddDate(0, 0, -6), "since Saturday", "on Saturday", "6 days"},
		{now.AddDate(0, 0, -7), "since 20 Nov 2026", "on 20 Nov 2026", "7 days"},
		{now.Add(time.Minute), "since 15:01", "today", "just now"}, // a clock ahead of ours
	}
	for _, c := range cases {
		if got := l.since(c.at, now); got != c.since {
			t.Errorf("since(%s) = %q, want %q", c.at, got, c.since)
		}
		if got := l.on(c.at, now); got != c.on {
			t.Errorf("on(%s) = %q, want %q", c.at, got, c.on)
		}
		if got := l.age(c.at, now); got != c.age {
			t.Errorf("age(%s) = %q, want %q", c.at, got, c.age)
		}
	}
}

// At half past midnight in Berlin it is still the day before in UTC.
func TestDaysAreThoseOfTheShop(t *testing.T) {
	t.Parallel()
	l := NewLocale("de-DE", "Europe/Berlin")
	now := time.Date(2026, 11, 26, 23, 30, 0, 0, time.UTC)
	if got := l.since(time.Date(2026, 11, 26, 20, 0, 0, 0, time.UTC), now); got != "since yesterday" {
		t.Errorf("nine in the evening, seen after midnight: %q", got)
	}
	promised := time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC)
	if got := l.daysLate(&promised, now); got != 1 {
		t.Errorf("promised for yesterday: %d days late", got)
	}
}

func TestPromisedDaysInWords(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	now := time.Date(2026, 11, 27, 15, 0, 0, 0, time.UTC)
	for days, want := range map[int]string{
		-10: "for Tue 17 Nov", -1: "for yesterday", 0: "for today", 1: "for tomorrow", 2: "for Sunday", 6: "for Thursday", 7: "for Fri 4 Dec",
	} {
		if got := l.forDay(l.Today(now).AddDate(0, 0, days), now); got != want {
			t.Errorf("%d days ahead: %q, want %q", days, got, want)
		}
	}
	if got := l.daysLate(nil, now); got != 0 {
		t.Errorf("nothing promised is %d days late", got)
	}
}
