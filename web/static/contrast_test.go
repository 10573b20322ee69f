package static

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// contrast is the ratio of WCAG 2.2: (L1 + 0.05)/(L2 + 0.05) of the relative
// luminances, lighter over darker.
func contrast(a, b [3]float64) float64 {
	l1, l2 := luminance(a), luminance(b)
	if l1 < l2 {
		l1, l2 = l2, l1
	}
	return (l1 + 0.05) / (l2 + 0.05)
}

func luminance(c [3]float64) float64 {
	lin := func(v float64) float64 {
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c[0]) + 0.7152*lin(c[1]) + 0.0722*lin(c[2])
}

func hexColour(s string) ([3]float64, error) {
	n, err := strconv.ParseUint(strings.TrimPrefix(s, "#"), 16, 32)
	return [3]float64{float64(n>>16&255) / 255, float64(n>>8&255) / 255, float64(n&255) / 255}, err
}

func TestContrastAgainstPublishedValues(t *testing.T) {
	t.Parallel()
	// Source: WCAG 2.2 formula; #767676 on white is the widely published last
	// grey that passes 4.5:1, #777777 the first that fails.
	for _, c := range []struct {
		hex  string
		want float64
	}{{"#000000", 21}, {"#767676", 4.5422}, {"#777777", 4.4781}, {"#949494", 3.0335}, {"#959595", 2.9953},
		{"#FF0000", 3.9985}, {"#0000FF", 8.5925}, {"#008000", 5.1374}, {"#FFFF00", 1.0738}, {"#595959", 7.0047}} {
		rgb, err := hexColour(c.hex)
		if err != nil {
			t.Fatal(err)
		}
		if got := contrast(rgb, [3]float64{1, 1, 1}); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("%s on white: %.4f, want %.4f", c.hex, got, c.want)
		}
	}
}

var token = regexp.MustCompile(`--([a-z0-9-]+):\s*(#[0-9a-fA-F]{6});`)

// tokens reads the colours of the light and of the dark sheet.
func tokens(t *testing.T) (light, dark map[string][3]float64) {
	t.Helper()
	b, err := files.ReadFile("tokens.css")
	if err != nil {
		t.Fatal(err)
	}
	before, after, ok := strings.Cut(string(b), "prefers-color-scheme: dark")
	if !ok {
		t.Fatal("tokens.css has no dark sheet")
	}
	light, dark = map[string][3]float64{}, map[string][3]float64{}
	read := func(css string, into map[string][3]float64) {
		for _, m := range token.FindAllStringSubmatch(css, -1) {
			c, err := hexColour(m[2])
			if err != nil {
				t.Fatal(err)
			}
			into[m[1]] = c
		}
	}
	read(before, light)
	for name, c := range light {
		dark[name] = c
	}
	read(after, dark)
	return light, dark
}

// TestTokensKeepContrast holds WCAG 2.2 AA: 4.5:1 for text (1.4.3), 3:1 for
// shapes and borders that carry meaning (1.4.11), on both sheets.
func TestTokensKeepContrast(t *testing.T) {
	t.Parallel()
	light, dark := tokens(t)
	for name, sheet := range map[string]map[string][3]float64{"light": light, "dark": dark} {
		for _, c := range []struct {
			on, of string
			least  float64
		}{
			{"paper", "ink", 4.5}, {"paper", "ink-2", 4.5}, {"paper", "accent", 4.5}, {"paper", "alarm", 4.5},
			{"paper-2", "ink", 4.5}, {"paper-2", "ink-2", 4.5}, {"accent-wash", "ink", 4.5}, {"accent-wash", "accent", 4.5},
			{"accent", "accent-ink", 4.5}, {"alarm", "alarm-ink", 4.5},
			{"paper", "bad", 3}, {"paper", "unsure", 3}, {"paper", "good", 3}, {"paper", "band", 3},
			{"paper", "probe-red", 4.5}, {"paper", "probe-black", 4.5},
		} {
			a, ok1 := sheet[c.on]
			b, ok2 := sheet[c.of]
			if !ok1 || !ok2 {
				t.Errorf("%s sheet: no colour %s or %s", name, c.on, c.of)
				continue
			}
			if got := contrast(a, b); got < c.least {
				t.Errorf("%s sheet: %s on %s is %.2f:1, needs %.1f:1", name, c.of, c.on, got, c.least)
			}
		}
	}
}
