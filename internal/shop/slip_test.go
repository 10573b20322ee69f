package shop

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
)

var (
	quay  = Site{Name: "Lantern Quay Board Works", TZ: "Europe/Lisbon", Locale: "pt-PT", Currency: "EUR"}
	terms = Settings{Taxes: []quote.Tax{{Category: "S", Rate: quote.Whole(23)}}, LabourRate: quote.Whole(54),
		ExaminationFee: quote.Whole(25), GuaranteeDays: 180, AskPercent: 55,
		HandlingVolts: evidence.MaxHandling, ResistanceVolts: evidence.MaxResistance}
)

func TestSettingsMayTightenNeverLoosen(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(s *Settings)
		want   []string
	}{
		{"as shipped", func(s *Settings) {}, nil},
		{"tighter", func(s *Settings) { s.HandlingVolts, s.ResistanceVolts = 1, 0.05 }, nil},
		{"looser for handling", func(s *Settings) { s.HandlingVolts = 5.01 }, []string{"handling_volts"}},
		{"looser for resistance", func(s *Settings) { s.ResistanceVolts = 0.11 }, []string{"resistance_volts"}},
		{"zero", func(s *Settings) { s.ResistanceVolts = 0 }, []string{"resistance_volts"}},
		{"no number", func(s *Settings) { s.HandlingVolts = math.NaN() }, []string{"handling_volts"}},
		{"resistance above handling", func(s *Settings) { s.HandlingVolts = 0.05 }, []string{"resistance_volts"}},
		{"danger and lifting for nothing", func(s *Settings) { s.DangerMinutes, s.LiftedMinutes = 0, 0 }, nil},
		{"dear danger and lifting", func(s *Settings) { s.DangerMinutes, s.LiftedMinutes = quote.Whole(60), quote.Whole(60) }, nil},
		{"danger below nothing", func(s *Settings) { s.DangerMinutes = -1 }, []string{"danger_minutes"}},
		{"lifting for more than an hour", func(s *Settings) { s.LiftedMinutes = quote.Whole(60) + 1 }, []string{"lifted_minutes"}},
		{"no tax rate", func(s *Settings) { s.Taxes = nil }, []string{"taxes"}},
		{"impossible tax rate", func(s *Settings) { s.Taxes[0].Rate = quote.Whole(101) }, []string{"taxes"}},
		{"negative rate", func(s *Settings) { s.LabourRate = -1 }, []string{"labour_rate"}},
		{"enormous fee", func(s *Settings) { s.ExaminationFee = quote.Whole(1_000_001) }, []string{"examination_fee"}},
		{"eternal guarantee", func(s *Settings) { s.GuaranteeDays = 3651 }, []string{"guarantee_days"}},
		{"never ask", func(s *Settings) { s.AskPercent = 0 }, []string{"ask_percent"}},
	} {
		s := terms
		s.Taxes = []quote.Tax{s.Taxes[0]}
		c.change(&s)
		wantFields(t, c.name, s.Check(), c.want...)
	}
	if terms.Limits() != (evidence.Limits{Handling: 5, Resistance: 0.1}) {
		t.Errorf("limits %+v", terms.Limits())
	}
}

func TestSitesAreChecked(t *testing.T) {
	t.Parallel()
	wantFields(t, "good", quay.Check())
	wantFields(t, "empty", Site{}.Check(), "currency", "locale", "site_name", "tz")
	wantFields(t, "wrong", Site{Name: "x", TZ: "Local", Locale: "not a locale", Currency: "EURO"}.Check(), "currency", "locale", "tz")
}

// The day is the shop's, not the server's: half past eleven in the evening UTC is
// tomorrow in Lisbon while summer time holds.
func TestDayIsTheShops(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 1, 23, 30, 0, 0, time.UTC)
	if got := quay.Day(at).Format(time.DateOnly); got != "2026-07-02" {
		t.Errorf("day %s in Lisbon", got)
	}
	if got := (Site{TZ: "Pacific/Pago_Pago"}).Day(at).Format(time.DateOnly); got != "2026-07-01" {
		t.Errorf("day %s in Pago Pago", got)
	}
}

func TestHandOverNeedsProofOfSafety(t *testing.T) {
	t.Parallel()
	block := SafetyBlock{Name: "flue", Title: "Flue probe"}
	proven := block
	proven.Proof = "break detected with the probe unplugged: FLUE shown"
	for _, c := range []struct {
		name string
		h    HandOver
		want []string
	}{
		{"repaired", HandOver{As: HandedOver, To: "Orla", Text: "R12"}, nil},
		{"repaired and proven", HandOver{As: HandedOver, To: "Orla", Text: "R12", Blocks: []SafetyBlock{proven}}, nil},
		{"repaired, not proven", HandOver{As: HandedOver, To: "Orla", Text: "R12", Blocks: []SafetyBlock{proven, block}}, []string{"block:flue"}},
		{"unrepaired, not proven", HandOver{As: ReturnedUnrepaired, To: "Orla", Text: "no", Blocks: []SafetyBlock{block}}, nil},
		{"empty", HandOver{}, []string{"as", "text", "to"}},
		{"no end", HandOver{As: OnBench, To: "Orla", Text: "R12"}, []string{"as"}},
	} {
		wantFields(t, c.name, c.h.Check(), c.want...)
	}
}

// volts gives a reading as the slip's test needs it.
func volts(typed string, struck, impossible bool) evidence.Reading {
	r := evidence.Reading{ID: uuid.New(), Typed: typed, NotPossible: impossible}
	if struck {
		r.Struck = &evidence.Strike{Reason: "wrong pad"}
	}
	return r
}

func TestSlipHoldsWhatCounts(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	sent := quote.Version{Number: 1, Currency: "EUR", SentAt: &at, Lines: []quote.Line{{Quantity: quote.Whole(1), UnitPrice: quote.Whole(100),
		Tax: quote.Tax{Category: "S", Rate: quote.Whole(23)}}}}
	st := &Story{
		Ticket: Ticket{Number: 12, Complaint: "no water"}, Customer: Customer{Name: "Orla Fenwick"},
		Board:    Board{FamilyName: "SEDGE", RevisionName: "D", Serial: "SG-00417"},
		Readings: []evidence.Reading{volts("3.03", false, false), volts("9", true, false), volts("-", false, true)},
		Findings: []evidence.Finding{{Part: "R12", Mode: "open"}, {Part: "R13", WithdrawnAt: &at}},
		Fitted:   []evidence.Fitted{{Part: "R12"}},
		Quotes:   []quote.Version{{Number: 2, Currency: "EUR"}, sent}, // the draft after it does not count
	}
	h := HandOver{As: HandedOver, To: "Orla", Text: "R12 replaced", Advice: "have the pump checked"}
	got, err := NewSlip(quay, terms, st, h, 7, at)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Readings) != 1 || got.Readings[0].Typed != "3.03" || len(got.Findings) != 1 || got.Findings[0].Part != "R12" {
		t.Errorf("struck, impossible or withdrawn things stand on the slip: %+v", got)
	}
	if got.Totals == nil || got.Totals.Gross.Plain() != "123.00" || got.Quote.Number != 1 {
		t.Errorf("the price is not that of the quote sent: %+v", got.Totals)
	}
	// 4 March 2026 + 180 days, counted on a calendar
	if got.GuaranteeUntil != "2026-08-31" || got.Day != "2026-03-04" || got.Notice == "" {
		t.Errorf("day %s, guarantee until %s, notice %q", got.Day, got.GuaranteeUntil, got.Notice)
	}
	var back Slip
	text, err := json.Marshal(got)
	if err != nil || json.Unmarshal(text, &back) != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(got, back); diff != "" {
		t.Errorf("the slip does not survive JSON:\n%s", diff)
	}
}

func TestSlipOfAnUnrepairedBoardSaysSo(t *testing.T) {
	t.Parallel()
	h := HandOver{As: ReturnedUnrepaired, To: "Orla", Text: "too dear",
		Blocks: []SafetyBlock{{Name: "flue", Title: "Flue probe"}, {Name: "room", Title: "Room sensor", Proof: "read 2.50 V"}}}
	got, err := NewSlip(quay, terms, &Story{}, h, 1, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"Flue probe"}, got.Unproven); diff != "" {
		t.Error(diff)
	}
	if got.GuaranteeUntil != "" || got.Totals != nil {
		t.Errorf("an unrepaired board has a guarantee or a price: %+v", got)
	}
	if !strings.Contains(got.Notice, "not a tested machine") {
		t.Errorf("notice %q", got.Notice)
	}
}

func TestTheDraftIsTheQuote(t *testing.T) {
	t.Parallel()
	if (&Story{}).Quote() != nil {
		t.Error("a story without quotes has one")
	}
	st := Story{Quotes: []quote.Version{{Number: 2}, {Number: 1}}}
	if st.Quote().Number != 2 {
		t.Error("the newest version is not the one that counts")
	}
}
