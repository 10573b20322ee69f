package page

import (
	"testing"

	"ohmstead/internal/bench"
	"ohmstead/internal/goodboard"
	"ohmstead/internal/quantity"
)

// How many boards it were is always said; the band is rounded outward, to a tenth of
// its width or the digits that were typed.
func TestBookText(t *testing.T) {
	t.Parallel()
	band := func(least, most, low, high float64) *goodboard.Band {
		return &goodboard.Band{Least: least, Most: most, Low: low, High: high}
	}
	for _, c := range []struct {
		locale string
		unit   quantity.Unit
		g      bench.GoodBoards
		want   string
	}{
		{"en-IE", quantity.Ohm, bench.GoodBoards{}, ""},
		{"en-IE", quantity.Ohm, bench.GoodBoards{N: 1, Band: band(6790, 6790, 6011, 7669), Digit: 10, Next: true},
			"1 good board read 6.79 kΩ; the next should read 6.0 to 7.7 kΩ (19 in 20)."},
		{"de-DE", quantity.Ohm, bench.GoodBoards{N: 4, Band: band(6780, 6810, 6703, 6891), Digit: 10, Next: true},
			"4 good boards read 6,78 to 6,81 kΩ; the next should read 6,70 to 6,90 kΩ (19 in 20)."},
		{"en-IE", quantity.Volt, bench.GoodBoards{N: 1, Band: band(303.8, 303.8, 248.3, 359.3), Digit: 0.1, Next: true},
			"1 good board read 303.8 V; the next should read 240 to 360 V (19 in 20)."},
		{"en-IE", quantity.Farad, bench.GoodBoards{N: 1, Band: band(330e-6, 330e-6, 203e-6, 537e-6), Digit: 1e-6, Next: true},
			"1 good board read 330 µF; the next should read 200 to 540 µF (19 in 20)."},
		{"en-IE", quantity.Ohm, bench.GoodBoards{N: 3, Over: 3}, "3 good boards read OL."},
		{"en-IE", quantity.Ohm, bench.GoodBoards{N: 1, Over: 1}, "1 good board read OL."},
		{"en-IE", quantity.Ohm, bench.GoodBoards{N: 5, Over: 2, Band: band(900e3, 1.2e6, 1, 2), Digit: 1e4},
			"5 good boards: 2 boards read OL, the others 0.90 to 1.20 MΩ."},
		{"en-IE", quantity.Ohm, bench.GoodBoards{N: 2, Band: band(0, 0.1, 0, 0), Digit: 0.1}, "2 good boards read 0.0 to 0.1 Ω."},
		{"en-IE", quantity.Volt, bench.GoodBoards{N: 2, Band: band(-0.01, 0.02, -0.081, 0.091), Digit: 0.01, Next: true},
			"2 good boards read −0.01 to 0.02 V; the next should read −0.09 to 0.10 V (19 in 20)."},
	} {
		if got := bookText(NewLocale(c.locale, "Europe/Dublin"), c.unit, c.g); got != c.want {
			t.Errorf("%+v:\ngot  %s\nwant %s", c.g, got, c.want)
		}
	}
}
