package page

import (
	"testing"
	"time"
)

func TestLocaleWritesNumbersAndDatesAsTheShopDoes(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 4, 23, 30, 0, 0, time.UTC)
	cases := []struct {
		tag, zone, number, moment string
	}{
		{"en-IE", "Europe/Dublin", "4.75", "4 Mar 2026, 23:30"},
		{"de-DE", "Europe/Berlin", "4,75", "5 Mar 2026, 00:30"},
		{"en-US", "America/New_York", "4.75", "Mar 4, 2026, 6:30 PM"},
		{"no such tag", "No/Where", "4.75", "4 Mar 2026, 23:30"},
	}
	for _, c := range cases {
		l := NewLocale(c.tag, c.zone)
		if got := l.Decimal("4.75"); got != c.number {
			t.Errorf("%s: Decimal = %q, want %q", c.tag, got, c.number)
		}
		if got := l.Moment(at); got != c.moment {
			t.Errorf("%s: Moment = %q, want %q", c.tag, got, c.moment)
		}
	}
}

func TestTodayIsTheShopsDay(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 4, 23, 30, 0, 0, time.UTC)
	if got := NewLocale("de-DE", "Europe/Berlin").Today(at).Day(); got != 5 {
		t.Errorf("half past midnight in Berlin is still day %d", got)
	}
}
