package page

import (
	"encoding/json"
	"fmt"
	"math"
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

// verdictsFile is what the script is held to: a table as the page ships it, and
// readings with the verdicts that Go gave when the file was written.
type verdictsFile struct {
	Table OfflineTable  `json:"table"`
	Cases []verdictCase `json:"cases"`
}

// The script is held to the file exactly. Go is held to it but for what a small
// change of the engine's numbers may move: a reading within two parts in a
// hundred of an edge of its band.
func TestVerdictsGolden(t *testing.T) {
	t.Parallel()
	m := pumpModel(t)
	now := verdictsFile{Table: offlinePump(t, m)}
	if os.Getenv("OHMSTEAD_UPDATE") != "" {
		for _, c := range now.Table.Checks {
			now.Cases = append(now.Cases, casesOf(t, m, c)...)
		}
		golden(t, verdictsGolden, now)
		return
	}
	src, err := os.ReadFile(verdictsGolden)
	if err != nil {
		t.Fatal(err)
	}
	var file verdictsFile
	if err := json.Unmarshal(src, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Table.Checks) != len(now.Table.Checks) || len(file.Cases) < 300 {
		t.Fatalf("%d checks and %d cases in the file; write it with OHMSTEAD_UPDATE=1", len(file.Table.Checks), len(file.Cases))
	}
	edges := map[string][]float64{}
	for i, c := range file.Table.Checks {
		own := now.Table.Checks[i]
		if c.ID != own.ID || c.Known != own.Known || c.CanTell != own.CanTell || !near(c.Low, own.Low) || !near(c.High, own.High) {
			t.Errorf("%s: the file says %+v, the engine now %+v", c.ID, c, own)
		}
		for _, e := range []*float64{c.Low, c.High, c.Guard[0], c.Guard[1]} {
			if e != nil {
				edges[c.ID] = append(edges[c.ID], *e)
			}
		}
	}
	for _, c := range file.Cases {
		got := judged(t, m, verdictCase{Check: c.Check, Typed: c.Typed, Moving: c.Moving, Residue: c.Residue})
		if got.Verdict != c.Verdict && !atEdge(m, c, edges[c.Check]) {
			t.Errorf("%s %s: the file says %s, the engine now %s", c.Check, c.Typed, c.Verdict, got.Verdict)
		}
	}
}

// offlinePump is the table that ships with the page of a board not read yet.
func offlinePump(t *testing.T, m *bench.Model) OfflineTable {
	t.Helper()
	story := &shop.Story{Ticket: shop.Ticket{Number: 2041}}
	in := BenchInput{Story: story, Model: m, Locale: NewLocale("en-IE", "Europe/Dublin"), Now: pumpTime}
	var err error
	if in.Judged, err = m.Judge(t.Context(), story, nil, bench.Known{}); err != nil {
		t.Fatal(err)
	}
	table := offlineOf(in)
	table.Next = nil // the engine's proposals are no part of a verdict
	return table
}

// casesOf asks Go about readings all around one check's band.
func casesOf(t *testing.T, m *bench.Model, c OfflineCheck) []verdictCase {
	t.Helper()
	var out []verdictCase
	for _, typed := range typedAround(c) {
		out = append(out, judged(t, m, verdictCase{Check: c.ID, Typed: typed}))
	}
	for _, more := range []verdictCase{
		{Check: c.ID, Typed: "OL", Moving: "up"}, {Check: c.ID, Typed: "1.0", Moving: "up"}, {Check: c.ID, Typed: "1.0", Moving: "down"},
		{Check: c.ID, Typed: "OL", Residue: num(0.5)}, {Check: c.ID, Typed: "OL", Residue: num(-0.09)},
	} {
		out = append(out, judged(t, m, more))
	}
	return out
}

// near tells whether two ends of bands are the same to two parts in a hundred.
func near(a, b *float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return math.Abs(*a-*b) <= 0.02*math.Max(math.Abs(*a), math.Abs(*b))+1e-6
}

// atEdge tells whether a case's reading lies at an edge, or is typed so coarsely
// that an edge lies within its digits.
func atEdge(m *bench.Model, c verdictCase, edges []float64) bool {
	check, _ := m.Profile.Check(c.Check)
	v, err := quantity.Parse(c.Typed, check.Measure.Unit())
	if err != nil || v.OverRange {
		return false
	}
	for _, e := range edges {
		if math.Abs(v.Number-e) <= 0.02*math.Abs(e)+v.Digit {
			return true
		}
	}
	return false
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
	j := m.Compare(&shop.Story{Readings: []evidence.Reading{r}}, nil)
	row := j.Rows[r.ID]
	c.Verdict = string(row.Verdict)
	c.Coarse = !v.OverRange && v.Digit > row.Resolution*(1+1e-9)
	return c
}
