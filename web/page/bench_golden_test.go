package page

import (
	"encoding/json"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// The golden files hold the page's script to Go's own answers: how values are
// read, and what a reading says of a check. A browser test runs the script over
// the same files. OHMSTEAD_UPDATE=1 writes them anew.
const (
	typedGolden    = "../../testdata/bench/typed.json"
	verdictsGolden = "../../testdata/bench/verdicts.json"
)

// golden compares a value with a file of testdata/bench, or writes the file.
func golden(t *testing.T, path string, value any) {
	t.Helper()
	got, err := json.MarshalIndent(value, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	got = append(got, '\n')
	if os.Getenv("OHMSTEAD_UPDATE") != "" {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s is not what Go answers now; read the difference, then write it with OHMSTEAD_UPDATE=1:\n%s", path, d)
	}
}

// typedCase is one text and what it means; a text that is refused has no number.
type typedCase struct {
	Text    string   `json:"text"`
	Unit    string   `json:"unit"`
	Number  *float64 `json:"number"`
	Digit   float64  `json:"digit,omitempty"`
	Over    bool     `json:"over,omitempty"`
	Refused bool     `json:"refused,omitempty"`
}

func TestTypedGolden(t *testing.T) {
	t.Parallel()
	texts := []string{
		"820", "820k", "4.7k", "4,7k", "4k7", "4K7", "2R2", "0R1", "R47", ".47", "10M", "6.15m", "325 V", "3.31", "-0.58", "−0.58", "- 3",
		"470 nF", "470n", "4u7", "4µ7", "n22", "100p", "5F", "OL", "ol", "0L", "O.L", "", "  ", "5.", "5,", "1e3", "1 000", "1.2.3",
		"1,000", "1,000.5", "4k7k", "4K7J", "330R", "330R1", "4.7 kΩ", "4.7kohm", "4.7 Ohm", "6.78 k", "6.78\u00a0k", "6.78x", "--3", "+3",
		"1 %", "0x1F", "inf", "1234567890123456", "123456789012345", "0", "0.0", "00.10", "-0", "7L", "L5", "4G7", "2 kV", "2mV", "3 A", "Ω", "k", "-",
	}
	var cases []typedCase
	for _, unit := range []quantity.Unit{quantity.Ohm, quantity.Volt, quantity.Farad} {
		for _, text := range texts {
			c := typedCase{Text: text, Unit: string(unit)}
			v, err := quantity.Parse(text, unit)
			switch {
			case err != nil:
				c.Refused = true
			case v.OverRange:
				c.Over = true
			default:
				c.Number, c.Digit = &v.Number, v.Digit
			}
			cases = append(cases, c)
		}
	}
	golden(t, typedGolden, cases)
}

// verdictCase is one reading of a check and the verdict that Go gives.
type verdictCase struct {
	Check   string   `json:"check"`
	Typed   string   `json:"typed"`
	Moving  string   `json:"moving,omitempty"`
	Residue *float64 `json:"residue,omitempty"`
	Verdict string   `json:"verdict"`
	// Coarse says that the digits typed are coarser than the display: there the
	// script may leave the verdict to the server, but never give another one.
	Coarse bool `json:"coarse,omitempty"`
}

func TestVerdictsGolden(t *testing.T) {
	t.Parallel()
	m := pumpModel(t)
	story := &shop.Story{Ticket: shop.Ticket{Number: 2041}}
	in := BenchInput{Story: story, Model: m, Locale: NewLocale("en-IE", "Europe/Dublin"), Now: pumpTime}
	var err error
	if in.Judged, err = m.Judge(story, nil); err != nil {
		t.Fatal(err)
	}
	table := offlineOf(in)
	table.Next = nil // the engine's proposals are no part of a verdict
	var cases []verdictCase
	for _, c := range table.Checks {
		for _, typed := range typedAround(c) {
			cases = append(cases, judged(t, m, verdictCase{Check: c.ID, Typed: typed}))
		}
		for _, more := range []verdictCase{
			{Check: c.ID, Typed: "OL", Moving: "up"}, {Check: c.ID, Typed: "1.0", Moving: "up"}, {Check: c.ID, Typed: "1.0", Moving: "down"},
			{Check: c.ID, Typed: "OL", Residue: num(0.5)}, {Check: c.ID, Typed: "OL", Residue: num(-0.09)},
		} {
			cases = append(cases, judged(t, m, more))
		}
	}
	golden(t, verdictsGolden, map[string]any{"table": table, "cases": cases})
}

// typedAround gives readings about the edges of a check's band and guard, as
// the meter would show them and coarser.
func typedAround(c OfflineCheck) []string {
	out := []string{"OL", "0", "1", "2k2", "9M9"}
	for _, edge := range []*float64{c.Low, c.High, c.Guard[0], c.Guard[1]} {
		if edge == nil {
			continue
		}
		for _, x := range []float64{*edge, *edge * 0.997, *edge * 1.003, *edge * 1.08} {
			out = append(out, plainly(x, "%.4g"))
		}
		out = append(out, plainly(*edge, "%.2g"))
	}
	return out
}

// plainly writes a number without exponent, as a technician would.
func plainly(x float64, format string) string {
	var rounded float64
	if _, err := fmt.Sscanf(fmt.Sprintf(format, x), "%g", &rounded); err != nil {
		panic(err)
	}
	switch {
	case rounded >= 1e6:
		return fmt.Sprintf("%gM", rounded/1e6)
	case rounded >= 1e3:
		return fmt.Sprintf("%gk", rounded/1e3)
	}
	return fmt.Sprintf("%g", rounded)
}

// judged asks Go for the verdict on one reading of a fresh board.
func judged(t *testing.T, m *bench.Model, c verdictCase) verdictCase {
	t.Helper()
	check, _ := m.Profile.Check(c.Check)
	v, err := quantity.Parse(c.Typed, check.Measure.Unit())
	if err != nil { // "2k2" where volts belong
		c.Verdict = "refused"
		return c
	}
	r := evidence.Reading{ID: id(1), State: check.State, Measure: string(check.Measure), Across: check.Across, Red: check.Red, Black: check.Black,
		Lifted: check.Lifted, Swapped: check.Swapped, Typed: c.Typed, OverRange: v.OverRange, Moving: c.Moving, Residue: c.Residue, TakenAt: time.Unix(0, 0)}
	if !v.OverRange {
		r.Value = &v.Number
	}
	j, err := m.Judge(&shop.Story{Readings: []evidence.Reading{r}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	row := j.Rows[r.ID]
	c.Verdict = string(row.Verdict)
	c.Coarse = !v.OverRange && v.Digit > row.Resolution*(1+1e-9)
	return c
}
