package marking

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ohmstead/internal/quantity"
)

// What cannot be read is refused with what was expected, never guessed.
func TestRefused(t *testing.T) {
	t.Parallel()
	for text, problem := range map[string]string{
		"":                            "nothing is typed",
		" ":                           "nothing is typed",
		"00":                          "0 Ω link",
		"00000":                       "0 Ω link",
		"00C":                         "01 to 96",
		"97C":                         "01 to 96",
		"98A":                         "01 to 96",
		"99F":                         "01 to 96",
		"01G":                         "no multiplier of EIA-96",
		"01W":                         "no multiplier of EIA-96",
		"012":                         "begins with 0",
		"4U7":                         "no code",
		"10235":                       "no code",
		"SMD103":                      "no code",
		"103 16V":                     "two codes",
		"103 104":                     "two codes",
		"-103":                        "no code",
		"1e3":                         "no code",
		"R":                           "neither",
		"pears":                       "neither",
		"brown black":                 "2 bands",
		"red red red red red red red": "7 bands",
		"brown black mauve gold":      "“mauve” is no colour",
		"black red red gold":          "never black",
		"pink red red white":          "pink is no digit",
		"red red red black":           "black is no tolerance",
		"gold red red silver":         "turn the part round",
		"white white white":           "no resistor of such a value",
		"yellow violet red pink":      "pink is no",
		strings.Repeat("brown ", 20):  "too long",
		"٣٣٣":                         "no code",
	} {
		found, err := Read(text)
		var e *quantity.Error
		if !errors.As(err, &e) {
			t.Errorf("Read(%q) = %v, %v, want an error", text, found, err)
			continue
		}
		if !strings.Contains(e.Problem, problem) || e.Text != text || e.Expected != expected {
			t.Errorf("Read(%q): %+v, want %q in the problem", text, e, problem)
		}
	}
}

// Whatever is typed, it is refused or every reading is a value that is made, each
// said once, the preferred ones first.
func TestAnything(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(
			rapid.StringMatching(`[0-9RLKMGpnumkFJZ.,]{0,6}`),
			rapid.StringMatching(`(b|br|g|gr|r|o|y|v|w|p|s|gold|silver|grey)( (b|br|g|r|o|y|v|w|p|s|gold|silver|grey)){0,6}`),
			rapid.String(),
		).Draw(t, "text")
		found, err := Read(text)
		if (err == nil) != (len(found) > 0) {
			t.Fatalf("%q: %v, %v", text, found, err)
		}
		least := true
		for i, r := range found {
			if !r.made() || math.IsNaN(r.Value) || r.How == "" || r.Tolerance.Plus < r.Tolerance.Minus || (r.Value == 0) != (r.Part == Link) {
				t.Fatalf("%q: %+v", text, r)
			}
			if r.Preferred() && !least {
				t.Fatalf("%q: a preferred value comes after another: %v", text, found)
			}
			least = r.Preferred()
			for _, other := range found[:i] {
				if same(r, other) {
					t.Fatalf("%q says %+v twice", text, r)
				}
			}
		}
	})
}
