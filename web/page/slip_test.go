package page

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// frozen is a slip as it was frozen: one chip of a sensing chain replaced.
func frozen() shop.Slip {
	totals, err := quote.Sum(someLines(), "EUR")
	if err != nil {
		panic(err)
	}
	return shop.Slip{
		Number: 23, Ticket: 2041, Day: "2026-03-05", Shop: "Lantern Quay Board Works", Address: "3 Lantern Quay\nQuernhithe",
		Customer: "Brook Farm", Family: "SEDGE", Revision: "D", Serial: "SD-0417", Complaint: "Two blinks",
		As: shop.HandedOver, To: "Mrs Brook", Text: "Replaced R13.\nAll six chips renewed.", Advice: "Look at the pump's seal.", Notice: shop.Notice,
		Blocks:   []shop.SafetyBlock{{Name: "flue", Title: "Flue probe", Proof: "Probe unplugged: shows FLUE."}},
		Findings: []evidence.Finding{{Part: "R13", Mode: "open", Words: "cracked end cap"}},
		Fitted:   []evidence.Fitted{{Part: "R13", What: "120k 1 % 1206", Note: "all six"}},
		Measured: []shop.Measured{
			{Place: "R14", How: "resistance, cold", Low: shop.Shown{Number: "6.65", Unit: "kΩ"}, High: shop.Shown{Number: "6.85", Unit: "kΩ"},
				Before: shop.Shown{Number: "6.78", Unit: "kΩ", Verdict: "not bad"}, After: shop.Shown{Number: "6.8", Unit: "kΩ", Verdict: "not bad"}},
			{Place: "R13", How: "resistance, cold", Low: shop.Shown{Number: "118.5", Unit: "kΩ"}, High: shop.Shown{Number: "121.5", Unit: "kΩ"},
				Before: shop.Shown{Number: "OL", Verdict: "bad"}, After: shop.Shown{Number: "120.1", Unit: "kΩ", Verdict: "not bad"}},
		},
		GuaranteeUntil: "2026-09-01", Quote: &quote.Version{Number: 2, Currency: "EUR"}, Totals: &totals,
	}
}

func TestASlipSaysWhatWasFoundFittedAndMeasured(t *testing.T) {
	t.Parallel()
	doc := drawn(t, PrintedSlip(NewSlipPage(quayFrame(), frozen())))
	reads(t, doc, "h1", "Hand-over slip 23")
	reads(t, doc, ".facts dd", "Brook Farm", "SEDGE D, serial SD-0417", "2041", "Two blinks", "Probe unplugged: shows FLUE.")
	reads(t, doc, ".outcome", "Handed over repaired to Mrs Brook.")
	reads(t, doc, ".found-fitted li", "R13: open, cracked end cap", "R13: 120k 1 % 1206, all six")
	reads(t, doc, ".measured tbody tr",
		"R14 resistance, cold 6.65 to 6.85 kΩ 6.78 kΩ not bad 6.8 kΩ not bad",
		"R13 resistance, cold 118.5 to 121.5 kΩ OL bad 120.1 kΩ not bad")
	reads(t, doc, ".guarantee", "Guarantee on the repair until 1 Sep 2026. Bring this slip.")
	reads(t, doc, ".paper-notice", shop.Notice)
	reads(t, doc, ".signature div", "Received: day", "Name and signature")
	for _, want := range []string{"Look at the pump's seal.", "Price as quoted (version 2): €49.32, tax included.", "All six chips renewed."} {
		if !strings.Contains(words(doc), want) {
			t.Errorf("the slip does not say %q", want)
		}
	}
	for _, screen := range []string{".signpost", "form"} {
		if len(pick(doc, screen)) != 0 {
			t.Errorf("%s stands on the paper", screen)
		}
	}
}

func TestAnUnrepairedBoardHasNoGuaranteeAndSaysWhatIsNotProven(t *testing.T) {
	t.Parallel()
	s := frozen()
	s.As, s.GuaranteeUntil, s.Blocks, s.Unproven = shop.ReturnedUnrepaired, "", nil, []string{"Flue probe", "Draught switch"}
	doc := drawn(t, PrintedSlip(NewSlipPage(quayFrame(), s)))
	reads(t, doc, ".outcome", "Returned unrepaired to Mrs Brook.")
	reads(t, doc, ".unproven", "Not proven: Flue probe and Draught switch. Do not put the board into service before that is done.")
	if got := words(doc); strings.Contains(got, "Guarantee") || strings.Contains(got, "Price as quoted") {
		t.Errorf("an unrepaired board has a guarantee or a price: %s", got)
	}
}

func TestGoodWords(t *testing.T) {
	t.Parallel()
	k := func(n string) shop.Shown { return shop.Shown{Number: n, Unit: "kΩ"} }
	ol := shop.Shown{Number: "OL"}
	for _, c := range []struct {
		low, high shop.Shown
		want      string
	}{
		{k("1"), k("2"), ""},
		{shop.Shown{}, shop.Shown{}, "not known"},
		{ol, ol, "OL"},
		{k("9.5"), ol, "9,5 kΩ or more"},
		{shop.Shown{Number: "980", Unit: "Ω"}, k("1.02"), "980 Ω to 1,02 kΩ"},
	} {
		if got := goodWords(shop.Measured{Low: c.low, High: c.high}, NewLocale("de-DE", "")); got != c.want {
			t.Errorf("%v to %v: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}

func TestALongListLeavesOutWhatFoundNothing(t *testing.T) {
	t.Parallel()
	var list []shop.Measured
	for i := range 20 {
		m := shop.Measured{Place: fmt.Sprintf("R%d", i), Before: shop.Shown{Number: "1", Unit: "Ω", Verdict: "not bad"}}
		if i == 3 {
			m.Before.Verdict = "bad"
		}
		if i == 7 {
			m.After = m.Before
		}
		list = append(list, m)
	}
	rows, more := measuredRows(list, NewLocale("en-IE", ""))
	var places []string
	for _, r := range rows {
		places = append(places, r.Place)
	}
	if d := cmp.Diff([]string{"R3", "R7"}, places); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if more != "18 more readings were taken before the repair; they found nothing bad." {
		t.Errorf("more: %q", more)
	}
	if rows, more := measuredRows(list[:fewRows], NewLocale("en-IE", "")); len(rows) != fewRows || more != "" {
		t.Errorf("a short list: %d rows, %q", len(rows), more)
	}
}

func TestPlainDayIsNotShiftedByTheZone(t *testing.T) {
	t.Parallel()
	for _, zone := range []string{"Pacific/Pago_Pago", "Pacific/Auckland", "UTC"} {
		if got := plainDay("2026-09-01", NewLocale("en-IE", zone)); got != "1 Sep 2026" {
			t.Errorf("%s: %q", zone, got)
		}
	}
	if got := plainDay("soon", NewLocale("en-IE", "UTC")); got != "soon" {
		t.Errorf("got %q", got)
	}
}
