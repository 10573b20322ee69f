package estimate

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// terms are those of an invented shop.
var terms = shop.Settings{
	Taxes: []quote.Tax{{Category: "S", Rate: quote.Whole(23)}}, LabourRate: quote.Whole(54),
	ExaminationFee: quote.Whole(25), CreditFee: true,
}

func TestFromProposesOneWorkForEachPart(t *testing.T) {
	t.Parallel()
	gone := time.Now()
	loose := uuid.MustParse("0198c0de-0000-7000-8000-000000000001")
	works := From(
		[]evidence.Finding{
			{Part: "R13", Mode: "open"},
			{Part: "U7", Mode: "led_open"},
			{Part: "C4", Mode: "tired", WithdrawnAt: &gone},
			{ID: loose, Words: "cracked joints at J3"},
			{Part: "R13", Mode: "high"},
		},
		[]evidence.Fitted{{Part: "R13", What: "120k 1 % 1206"}, {Part: "Q1", What: ""}, {What: "conformal coating"}},
		terms)
	var got []string
	for _, w := range works {
		got = append(got, w.Key+" | "+w.String()+" | "+partText(w))
	}
	want := []string{
		"R13 | Replace R13 (open) (0.2 h) | 120k 1 % 1206 (R13)",
		"U7 | Replace U7 (LED open) (0.3 h) | Part for U7",
		loose.String() + " | Repair: cracked joints at J3 (0.3 h) | -",
		"Q1 | Replace Q1 (0.3 h) | Part for Q1",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("works (-want +got):\n%s", d)
	}
}

func partText(w Work) string {
	if w.Part == nil {
		return "-"
	}
	return w.Part.Text
}

func TestEveryProposedLineMayStandInAQuote(t *testing.T) {
	t.Parallel()
	works := From([]evidence.Finding{{Part: "R13", Mode: "open"}, {Words: strings.Repeat("ö", 900)}, {Mode: "short"}},
		[]evidence.Fitted{{Part: "C1", What: strings.Repeat("x", 900)}}, terms)
	lines := Fee(terms)
	for _, w := range works {
		lines = append(lines, w.Lines()...)
	}
	for _, l := range lines {
		if err := l.Check(); err != nil {
			t.Errorf("%q: %v", l.Text, err)
		}
	}
	if len(lines) != 8 {
		t.Errorf("%d lines, want 8", len(lines))
	}
}

func TestLabourBearsTheShopsRateAndTax(t *testing.T) {
	t.Parallel()
	l := From([]evidence.Finding{{Part: "QM1", Mode: "short"}}, nil, terms)[0].Labour
	if l.UnitPrice != terms.LabourRate || l.Tax != terms.Taxes[0] || l.Kind != quote.Labour {
		t.Errorf("labour line %+v", l)
	}
	if net, _ := quote.LineNet(l, "EUR"); net.Minor != 4320 { // 0.8 h at 54.00
		t.Errorf("net %s, want 43.20", net)
	}
}

func TestInFindsWorkByDesignatorAsAWord(t *testing.T) {
	t.Parallel()
	work := From([]evidence.Finding{{Part: "R1", Mode: "open"}, {Words: "joints"}}, nil, terms)
	cases := []struct {
		text        string
		part, loose bool
	}{
		{"Replace R13 (open)", false, false},
		{"120k for r1, North Stock", true, false},
		{"Part for R1", true, false},
		{"R1-A", false, false},
		{"Repair: joints", false, true},
	}
	for _, c := range cases {
		lines := []quote.Line{{Text: c.text}}
		if got := work[0].In(lines); got != c.part {
			t.Errorf("R1 in %q: %v", c.text, got)
		}
		if got := work[1].In(lines); got != c.loose {
			t.Errorf("joints in %q: %v", c.text, got)
		}
	}
}

func TestFeeIsCreditedOnlyWhereTheTermsSaySo(t *testing.T) {
	t.Parallel()
	credited := Fee(terms)
	total, err := quote.Sum(credited, "EUR")
	if err != nil || len(credited) != 2 || total.Gross.Minor != 0 {
		t.Errorf("credited fee: %d lines, total %s, %v", len(credited), total.Gross, err)
	}
	kept := terms
	kept.CreditFee = false
	if total, _ := quote.Sum(Fee(kept), "EUR"); total.Gross.Minor != 3075 { // 25.00 and 23 %
		t.Errorf("fee %s, want 30.75", total.Gross)
	}
	kept.ExaminationFee = 0
	if got := Fee(kept); got != nil {
		t.Errorf("no fee, but lines %v", got)
	}
}

func TestHoursAreTenthsAndNeverNone(t *testing.T) {
	t.Parallel()
	for _, ref := range []string{"R13", "r13", "QM1", "C14", "TR1", "U1-ADV", "XYZ9", "", "17"} {
		h := Hours(ref)
		if h <= 0 || h > quote.Whole(1) || h%tenth != 0 {
			t.Errorf("Hours(%q) = %s", ref, h)
		}
	}
	if Hours("QM1") <= Hours("R13") {
		t.Error("a power module does not take longer than a chip resistor")
	}
}

func TestUsualTaxWithoutAnyIsExempt(t *testing.T) {
	t.Parallel()
	if got := UsualTax(shop.Settings{}); got != (quote.Tax{Category: "E"}) {
		t.Errorf("got %+v", got)
	}
}
