package page

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/net/html"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

// benchDoc draws the bench page of an input.
func benchDoc(t *testing.T, in BenchInput) *html.Node {
	t.Helper()
	p := NewBench(in)
	p.Frame = Frame{Title: BenchTitle(in.Story, in.Model), Shop: "Lantern Quay", Person: "Tobin", Locale: in.Locale, Bench: true}
	return drawn(t, Bench(p))
}

func unproven(in BenchInput) BenchInput {
	in.Gate = evidence.Gate{State: evidence.Unproven, Missing: []string{"C1"}, Why: "Still to be proven dead: C1."}
	return in
}

func powered(in BenchInput, state string, hazardous bool) BenchInput {
	in.Story.Power = []evidence.PowerEvent{{On: true, Hazardous: hazardous, State: state, TakenAt: pumpTime.Add(-3 * time.Minute)}}
	in.Gate = evidence.GateAt(in.Now, []string{"C1"}, nil, in.Story.Power, in.Limits)
	return in
}

func withoutProfile(in BenchInput) BenchInput {
	in.Model, in.Judged, in.Strip = nil, nil, nil
	in.Story.Board = shop.Board{}
	in.Gate = evidence.Gate{State: evidence.Unproven, Missing: []string{"supply"}, Why: "Still to be proven dead: supply."}
	return in
}

func TestEveryBenchIsAccessible(t *testing.T) {
	t.Parallel()
	free := pumpInput(t)
	free.Free = true
	refused := pumpInput(t)
	refused.Form, refused.Refused = "seen", evidence.Seen{}.Check()
	for name, in := range map[string]BenchInput{
		"at hand": pumpInput(t), "closed": unproven(pumpInput(t)), "live": powered(pumpInput(t), "live", true),
		"low volts": powered(pumpInput(t), "injected", false), "no profile": withoutProfile(pumpInput(t)),
		"of your own": free, "refused": refused,
	} {
		accessible(t, name, benchDoc(t, in))
	}
}

func TestBenchTitle(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	if got := BenchTitle(in.Story, in.Model); got != "Ticket 2041: PUMP A, two blinks, on the bench with Tobin." {
		t.Error(got)
	}
	in.Story.Ticket.State, in.Story.Ticket.Indication = shop.OnShelf, "none"
	if got := BenchTitle(in.Story, in.Model); got != "Ticket 2041: PUMP A, shows nothing, on the shelf." {
		t.Error(got)
	}
	in.Story.Ticket.Indication, in.Story.Board = "smoke", shop.Board{}
	if got := BenchTitle(in.Story, nil); got != "Ticket 2041: board not known yet, smoke, on the shelf." {
		t.Error(got)
	}
}

func TestTheCheckAtHand(t *testing.T) {
	t.Parallel()
	doc := benchDoc(t, pumpInput(t)) // R17, R11 to R15 are read; R18 is next
	if got := words(pick(doc, "#check-head .check-title")...); got != "R18: resistance, cold" {
		t.Errorf("at hand is %q", got)
	}
	for selector, want := range map[string]string{
		"#check-head .probe.red dd": "R18, the leg at vb", "#check-head .probe.black dd": "R18, the leg at adb",
		"#check-head .reads .good dd": "0.97 to 1.03 kΩ",
	} {
		if got := words(pick(doc, selector)...); got != want {
			t.Errorf("%s: %q, want %q", selector, got, want)
		}
	}
	if n := len(pick(doc, "form#reading .key")); n < 20 {
		t.Errorf("%d keys", n)
	}
	if n := len(pick(doc, "template[data-check]")); n != 15 {
		t.Errorf("%d checks travel with the page, want all 15", n)
	}
	in := pumpInput(t)
	in.Check = "tp3"
	doc = benchDoc(t, powered(in, "live", true))
	if got := words(pick(doc, "#check-head .probe.red dd")...); got != "TP3 left of U1" {
		t.Errorf("red goes on %q", got)
	}
	if got := words(pick(doc, "#check-head .probe.black dd")...); got != "com a leg of C1 or R2 or R17" {
		t.Errorf("black goes on %q", got)
	}
	if len(pick(doc, "form#reading [name=lifted]")) != 1 || !hiddenAround(pick(doc, "form#reading [name=lifted]")[0]) {
		t.Error("a point can be lifted")
	}
}

func hiddenAround(n *html.Node) bool {
	for ; n != nil; n = n.Parent {
		if _, ok := attribute(n, "hidden"); ok {
			return true
		}
	}
	return false
}

func TestWhatStandsInTheWayIsShownInstead(t *testing.T) {
	t.Parallel()
	in := unproven(pumpInput(t))
	in.Check = "r18"
	doc := benchDoc(t, in)
	if len(pick(doc, "form#reading")) != 0 || len(pick(doc, "#now .gate")) != 1 {
		t.Error("closed: the form is offered, or the gate is not")
	}
	if got := words(pick(doc, ".gate .store-where")...); !strings.Contains(got, "on its own legs, p and com; beside the heatsink") {
		t.Errorf("where to measure: %q", got)
	}
	in = pumpInput(t)
	in.Check = "tp3"
	doc = benchDoc(t, in)
	if got := words(pick(doc, "#now .power-card")...); !strings.Contains(got, "The common is live") || !strings.Contains(got, "Board is powered: live") {
		t.Errorf("before power: %q", got)
	}
	in = powered(pumpInput(t), "live", true)
	in.Check = "r18"
	if got := words(pick(benchDoc(t, in), "#now")...); !strings.Contains(got, "The board is powered.") || !strings.Contains(got, "Power is off") {
		t.Errorf("cold check on a live board: %q", got)
	}
}

func TestEdge(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	for _, c := range []struct {
		in          BenchInput
		kind        ui.EdgeKind
		words, says string
	}{
		{in, ui.EdgeRead, "READ 0.03 V, 4 min ago", "counts until 14:15"},
		{unproven(pumpInput(t)), ui.EdgeUnproven, "UNPROVEN", "C1"},
		{powered(pumpInput(t), "live", true), ui.EdgeLive, "LIVE", "isolated, current-limited mains; 5 V present, since 14:06"},
		{powered(pumpInput(t), "injected", false), ui.EdgeLow, "LOW VOLTS", "since 14:06"},
	} {
		e := edgeOf(c.in)
		if e.Kind != c.kind || e.Words != c.words || !strings.Contains(e.Why, c.says) {
			t.Errorf("%+v, want %s %q … %q", e, c.kind, c.words, c.says)
		}
		doc := benchDoc(t, c.in)
		corners := pick(doc, ".edge-line .corner")
		n := 0
		for _, k := range corners {
			if k.FirstChild != nil && k.FirstChild.Data == c.words {
				n++
			}
		}
		if n != 4 || len(pick(doc, ".edge."+string(c.kind))) != 1 {
			t.Errorf("%s stands in %d corners", c.words, n)
		}
	}
	handling := pumpInput(t)
	handling.Gate.State, handling.Gate.Volts = evidence.DeadHandling, 3.24
	if e := edgeOf(handling); e.Words != "READ 3.24 V, 4 min ago" || !strings.Contains(e.Why, "May be handled") {
		t.Errorf("%+v", e)
	}
}

func TestTape(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Story.Fitted = []evidence.Fitted{{Part: "R13", What: "120 k 1 %", PersonID: tobinID, TakenAt: pumpTime.Add(-30 * time.Second)}}
	lines := tapeOf(in)
	var got []string
	for _, l := range lines {
		got = append(got, strings.Join(strings.Fields(strings.Join([]string{l.At, l.What, l.Figure.Text, l.Figure.Unit, l.Word, string(l.Verdict), l.Struck}, " ")), " "))
	}
	want := []string{
		"14:09 R13 fitted new: 120 k 1 %",
		"14:08 R15 12 Ω",
		"14:07 R14 180 kΩ nonconforming",
		"14:06 R13 OL nonconforming",
		"14:04 R12 agrees conforming",
		"14:03 R11 118.9 kΩ inconclusive",
		"14:02 R11 3.1 kΩ still creeping, read too early",
		"14:01 R17 6.78 kΩ conforming",
		"14:00 R17 6.77 kΩ conforming",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	doc := benchDoc(t, in)
	struck := pick(doc, "#tape .tape-line .struck")
	if len(struck) != 2 || !strings.Contains(words(pick(doc, "#tape")...), "struck out by Tobin: still creeping, read too early") {
		t.Errorf("%d struck parts on the tape", len(struck))
	}
	if n := strings.Count(words(pick(doc, "#tape summary")...), "Strike out"); n != 7 {
		t.Errorf("%d readings can be struck, want 7: not the struck one, not the fitted part", n)
	}
	if got := words(pick(doc, "#tape")...); !strings.Contains(got, "Not weighed: not on metal") {
		t.Errorf("nobody says why a reading does not count: %q", got)
	}
}

func TestExpectedTable(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Judged.Impossible[in.Model.Profile.Checks[8].Key()] = true // r16
	table := tableOf(in)
	var order []string
	for _, l := range table.Lines {
		order = append(order, l.ID)
	}
	var want []string
	for _, c := range in.Model.Profile.Checks {
		want = append(want, c.ID)
	}
	if d := cmp.Diff(want, order); d != "" {
		t.Errorf("not in the profile's order: %s", d)
	}
	by := map[string]ExpectedLine{}
	for _, l := range table.Lines {
		by[l.ID] = l
	}
	if l := by["r14"]; l.Low.Text != "117.0" || l.Typical.Text != "120.0" || l.High.Text != "122.0" || l.Unit != "kΩ" ||
		l.Actual.Text != "180" || l.Actual.Unit != "kΩ" || l.Verdict != ui.Bad || l.Scale.Needle.Factor != "×1.5" {
		t.Errorf("R14: %+v", l)
	}
	if l := by["r13"]; l.Word != "OL" || l.Scale.Needle == nil {
		t.Errorf("R13: %+v", l)
	}
	if l := by["r12"]; l.Word != "agrees" {
		t.Errorf("R12: %+v", l)
	}
	if l := by["adb"]; !l.Blind || l.Verdict != ui.None {
		t.Errorf("a blind check: %+v", l)
	}
	doc := benchDoc(t, in)
	rows := pick(doc, ".expected-table tbody tr")
	if len(rows) != 15 {
		t.Fatalf("%d rows", len(rows))
	}
	if got := words(pick(rows[5], ".verdict-cell")...); got != "bad" || len(pick(rows[5], ".verdict-cell svg path")) != 1 {
		t.Errorf("R13's verdict reads %q: a word and a shape must stand there", got)
	}
	if got := words(pick(rows[8], ".verdict-cell")...); got != "cannot be made" {
		t.Errorf("R16 cannot be made, and the table says %q", got)
	}
	if n := len(pick(doc, ".expected-table tr.at-hand")); n != 1 {
		t.Errorf("%d rows are at hand", n)
	}
}

// Numbers of one row share a prefix, whatever their size, until that would
// hide them.
func TestRowsShareOnePrefix(t *testing.T) {
	t.Parallel()
	b := &analysis.Band{Low: num(980), Typical: num(1000), High: num(1020), Unit: quantity.Ohm}
	if got := textsOf(b, 1); got.low != "0.980" || got.typical != "1.000" || got.high != "1.020" || got.unit != "kΩ" {
		t.Errorf("about 1 k at 1 Ω: %+v", got)
	}
	for _, c := range []struct {
		actual, digit float64
		number, unit  string
	}{
		{7910, 10, "7.91", "kΩ"}, {330, 1, "0.330", "kΩ"}, {41.3e3, 100, "41.3", "kΩ"}, {2.1e6, 1e5, "2100", "kΩ"},
		{12, 1, "0.012", "kΩ"}, {3.3, 0.1, "3.3", "Ω"}, {0, 0.1, "0.0000", "kΩ"}, {33e6, 1e6, "33", "MΩ"},
	} {
		s := scaleOfRow(8200, 10, quantity.Ohm)
		if number, unit := s.reading(c.actual, c.digit); number != c.number || unit != c.unit {
			t.Errorf("%g to %g: %s %s, want %s %s", c.actual, c.digit, number, unit, c.number, c.unit)
		}
	}
	open := &analysis.Band{Low: num(5e6), Unit: quantity.Ohm}
	l := NewLocale("pt-PT", "Europe/Lisbon")
	if got := textsOf(open, 1e4).good(l); got != "5,00 MΩ or more, up to OL" {
		t.Errorf("a band up to over-range: %q", got)
	}
	if got := textsOf(&analysis.Band{Unit: quantity.Ohm}, 1).good(l); got != "OL" {
		t.Errorf("a band that is over-range alone: %q", got)
	}
	if got := textsOf(&analysis.Band{Low: num(-0.002), Typical: num(0), High: num(0.002), Unit: quantity.Volt}, 0.001).good(l); got != "−0,002 to 0,002 V" {
		t.Errorf("about nothing: %q", got)
	}
}

func TestHoldText(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	row := &analysis.Row{Measured: pumpModel(t).Profile.Checks[3]}
	if text := holdText(l, row); text != "" {
		t.Errorf("a reading that stands at once: %q", text)
	}
	for tellBy, want := range map[float64]string{
		45:          "310 Ω at first, 104.5 kΩ after 4 min. Hold still: good and open cannot be told apart before 45 s.",
		0.5:         "310 Ω at first, 104.5 kΩ after 4 min. An open one differs at once: mark it creeping.",
		math.Inf(1): "310 Ω at first, 104.5 kΩ after 4 min. This check cannot show that it is open: take another.",
	} {
		row.Settling = &analysis.Settling{First: analysis.Shown{Value: 310}, Settled: analysis.Shown{Value: 104.5e3}, Seconds: 230, TellBy: tellBy}
		if text := holdText(l, row); text != want {
			t.Errorf("told apart by %g s: %q", tellBy, text)
		}
	}
}

func TestStripOfTheBench(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	s := stripOf(in)
	if s.Title != "Bus voltage sensing" || s.Source != "bus" || s.Believes != "bus 299 V" {
		t.Errorf("%q, %q, %q", s.Title, s.Source, s.Believes)
	}
	by := map[string]ui.StripPart{}
	for _, stop := range s.Stops {
		if stop.Part != nil {
			by[stop.Part.Ref] = *stop.Part
			continue
		}
		for _, leg := range stop.Node.Legs {
			by[leg.Ref] = leg
		}
	}
	if p := by["R13"]; !p.Broken || p.Read != "OL" || p.Verdict != ui.Bad || p.Nominal != "120 kΩ" {
		t.Errorf("R13: %+v", p)
	}
	if p := by["R17"]; p.To != "com" || p.Read != "6.78 kΩ" || p.Broken {
		t.Errorf("R17 hangs from vb: %+v", p)
	}
	if p := by["R16"]; p.Read != "" || p.Scale == nil {
		t.Errorf("R16 is not read and has a band: %+v", p)
	}
	for _, want := range []string{"From bus", "R13 120 kΩ read OL, bad found faulty", "from there to com R17 6.8 kΩ read 6.78 kΩ, not bad", "the controller believes bus 299 V"} {
		if !strings.Contains(s.Words, want) {
			t.Errorf("in words it does not say %q: %s", want, s.Words)
		}
	}
	// A part fitted after its finding is whole again.
	in.Judged.Result.Conclusion.Status = analysis.Undecided
	in.Story.Findings = []evidence.Finding{{Part: "R13", TakenAt: pumpTime.Add(-time.Hour)}}
	if !brokenParts(in)["R13"] {
		t.Error("a confirmed cause is no gap in the line")
	}
	in.Story.Fitted = []evidence.Fitted{{Part: "R13", TakenAt: pumpTime}}
	if brokenParts(in)["R13"] {
		t.Error("a fitted part is still a gap in the line")
	}
}

func TestBelieves(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	b := &analysis.Belief{Of: "bus", Unit: quantity.Volt, FullScale: 534.4, Nominal: 323.6}
	if text, note := believes(l, b); text != "bus 324 V" || !strings.Contains(note, "not read yet") {
		t.Errorf("%q, %q", text, note)
	}
	b.Read = &analysis.Believed{Value: 534.4, FullScale: true}
	b.Actual = num(311)
	if text, note := believes(l, b); text != "full scale, 534 V or more" || note != "read at the source: 311 V" {
		t.Errorf("%q, %q", text, note)
	}
	b.Read = &analysis.Believed{Value: 0}
	for _, volts := range []float64{0, 0.0021} {
		b.Read = &analysis.Believed{Value: volts}
		if text, _ := believes(l, b); text != "bus 0 V" {
			t.Errorf("%g V: %s", volts, text)
		}
	}
	flue := &analysis.Belief{Of: "flue", Unit: quantity.Volt, FullScale: 0.0495, Nominal: 0.00615, Read: &analysis.Believed{Value: 0.0021}}
	if text, _ := believes(l, flue); text != "flue 2.10 mV" {
		t.Error(text)
	}
}

func TestSpan(t *testing.T) {
	t.Parallel()
	for seconds, want := range map[float64]string{2.1: "3 s", 89: "89 s", 100: "2 min", 3000: "50 min", 7200: "2.0 h", 1e9: "many hours", math.Inf(1): "many hours"} {
		if got := span(seconds); got != want {
			t.Errorf("%g s: %q, want %q", seconds, got, want)
		}
	}
}

func TestNoProfileOffersWhatCanBeDone(t *testing.T) {
	t.Parallel()
	in := withoutProfile(pumpInput(t))
	id := id(7)
	in.Revisions = []shop.Revision{{ID: id, FamilyName: "PUMP", Name: "A", ProfileVersionID: &id}, {ID: id, FamilyName: "PUMP", Name: "B"}}
	doc := benchDoc(t, in)
	if got := words(pick(doc, ".unknown select")...); got != "choose a board PUMP A PUMP B (no profile yet)" {
		t.Errorf("the boards to choose from: %q", got)
	}
	if len(pick(doc, "form#reading [name=measure]")) != 1 || len(pick(doc, ".expected-table")) != 0 {
		t.Error("no free entry, or a table of nothing")
	}
	if got := words(pick(doc, ".gate .store")...); !strings.Contains(got, "The supply terminals") {
		t.Errorf("to be proven dead: %q", got)
	}
}
