package page

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

func TestProbes(t *testing.T) {
	t.Parallel()
	src := `format: ohmstead/board-profile/1
id: probes
title: PROBES
ground: com
parts:
  R1: {kind: resistor, pins: [in, out], value: 1k, where: upper row}
  D1: {kind: diode, pins: {anode: out, cathode: com}}
  C1: {kind: capacitor, pins: {plus: in, minus: com}, value: 10u}
points:
  TP1: {node: out, where: edge}
states:
  live: {sources: [{name: v, plus: in, minus: com, volts: 12}]}
`
	p, err := profile.Load("probes.yaml", []byte(src), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		check      profile.Check
		red, black Probe
		name       string
	}{
		{profile.Check{State: "cold", Measure: "resistance", Across: "R1"}, Probe{"R1, the leg at in", "upper row"}, Probe{"R1, the leg at out", "upper row"}, "R1"},
		{profile.Check{State: "cold", Measure: "resistance", Across: "R1", Swapped: true, Lifted: true}, Probe{"R1, the leg at out", "upper row"}, Probe{"R1, the leg at in", "upper row"}, "R1 lifted swapped"},
		{profile.Check{State: "cold", Measure: "diode", Across: "D1"}, Probe{"D1 anode, at out", ""}, Probe{"D1 cathode, at com", ""}, "D1"},
		{profile.Check{State: "live", Measure: "dc_volts", Red: "TP1"}, Probe{"TP1", "edge"}, Probe{"com", "a leg of D1 or C1"}, "TP1"},
		{profile.Check{State: "live", Measure: "dc_volts", Red: "in", Black: "TP1"}, Probe{"in", "a leg of R1 or C1"}, Probe{"TP1", "edge"}, "in to TP1"},
		{profile.Check{State: "cold", Measure: "diode", Red: "out", Black: "in", Swapped: true}, Probe{"in", "a leg of R1 or C1"}, Probe{"out", "a leg of R1 or D1"}, "out to in swapped"},
	} {
		full, err := p.Resolve(c.check)
		if err != nil {
			t.Fatal(err)
		}
		red, black := probesOf(p, full)
		if d := cmp.Diff([]Probe{c.red, c.black}, []Probe{red, black}); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if got := placeName(full); got != c.name {
			t.Errorf("called %q, want %q", got, c.name)
		}
	}
}

func TestKeysPressed(t *testing.T) {
	t.Parallel()
	r := evidence.Reading{Swapped: true, Lifted: true, Moving: "down", Subject: evidence.SubjectNew, Condition: evidence.ConditionNotOnMetal}
	if d := cmp.Diff([]string{"swapped", "lifted", "creeping down", "new part", "not on metal"}, keysPressed(r)); d != "" {
		t.Error(d)
	}
	if got := keysPressed(evidence.Reading{}); len(got) != 0 {
		t.Errorf("nothing was pressed: %v", got)
	}
}

func TestNominal(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	for _, c := range []struct {
		part profile.Part
		want string
	}{
		{profile.Part{Kind: profile.Resistor, Params: map[string]float64{"value": 6800, "tolerance": 0.01}}, "6.8 kΩ"},
		{profile.Part{Kind: profile.Capacitor, Params: map[string]float64{"value": 100e-9, "esr": math.NaN()}}, "100 nF"},
		{profile.Part{Kind: profile.Varistor, Params: map[string]float64{"volts": 430}}, "430 V"},
		{profile.Part{Kind: profile.Diode, Params: map[string]float64{"forward": 0.58}}, "0.58 V"},
		{profile.Part{Kind: profile.InputPin, Params: map[string]float64{"clamp": 0.6, "resistance": math.Inf(1)}}, "input pin"},
		{profile.Part{Kind: profile.Opamp}, "opamp"},
	} {
		if got := nominal(l, &c.part); got != c.want {
			t.Errorf("%s: %q, want %q", c.part.Kind, got, c.want)
		}
	}
}

func TestLevelText(t *testing.T) {
	t.Parallel()
	l := NewLocale("pt-PT", "Europe/Lisbon")
	for want, level := range map[string]analysis.Level{
		"3,03 V": {Typical: 3.0282}, "0 V": {Typical: 1.5e-9}, "−12,0 V": {Typical: -12}, "6,15 mV": {Typical: 6.151e-3},
		"floats": {Floating: true, Typical: math.NaN()}, "": {Typical: math.NaN()}, "324 V": {Typical: 323.6},
	} {
		if got := levelText(l, level); got != want {
			t.Errorf("%+v: %q, want %q", level, got, want)
		}
	}
}

func TestWordsOfConclusions(t *testing.T) {
	t.Parallel()
	for want, c := range map[string]analysis.Conclusion{
		"Found: R13.":                          {Status: analysis.Found, Parts: []string{"R13"}},
		"Healthy, as far as these checks see.": {Status: analysis.Healthy},
		"The readings do not fit together.":    {Status: analysis.Conflict},
		"Not decided yet.":                     {Status: analysis.Undecided},
		"One of these; no check of the list can tell which: C3, U7.": {Status: analysis.Indistinguishable, Parts: []string{"C3", "U7"}},
	} {
		if got := statusWords(c); got != want {
			t.Errorf("%s: %q", c.Status, got)
		}
	}
	if got := faultWords([]analysis.Fault{{Part: "U3A", Mode: profile.ModeStuckHigh}, {Part: "C1", Mode: profile.ModeShort}}); got != "U3A stuck high and C1 shorted" {
		t.Error(got)
	}
	for p, want := range map[float64]string{0.999: "over 99 %", 0.99: "99 %", 0.5: "50 %", 0.011: "1 %", 0.002: "under 1 %"} {
		if got := percent(p); got != want {
			t.Errorf("%g is %q, want %q", p, got, want)
		}
	}
	in := pumpInput(t)
	in.Judged.Result.Conclusion = analysis.Conclusion{Status: analysis.Healthy, Unseen: []analysis.Fault{{Part: "C18", Mode: profile.ModeTired}}}
	if s := suspectsOf(in); s.Unseen != "C18 tired" {
		t.Errorf("could still hide: %q", s.Unseen)
	}
}

func TestStoresOfEnergy(t *testing.T) {
	t.Parallel()
	in := unproven(pumpInput(t))
	at := pumpTime.Add(-3 * time.Minute)
	in.Story.DeadProofs = []evidence.DeadProof{{Part: "C1", Volts: 12.34, ReadAt: pumpTime.Add(-time.Hour)}, {Part: "C1", Volts: 0.02, VoltsSwapped: -0.04, ReadAt: at}}
	g := gateOf(in)
	if len(g.Stores) != 1 || g.Open || g.Zone != "Europe/Dublin" {
		t.Fatalf("%+v", g)
	}
	s := g.Stores[0]
	if s.Name != "C1, 330 µF" || s.Holds != "may hold up to 356 V, 20.9 J" || s.Last != "0.04 V at 14:06" || s.Where != "on its own legs, p and com; beside the heatsink" {
		t.Errorf("%+v", s)
	}
	if want := "Dead for handling: at most 5 V. For resistance and diode checks: at most 0.1 V between the points."; g.Limits != want {
		t.Errorf("%q", g.Limits)
	}
	in.Limits = evidence.Limits{Handling: 60, Resistance: 0.05} // an owner may only tighten them
	if got := gateOf(in).Limits; !strings.Contains(got, "at most 5 V") || !strings.Contains(got, "50 mV") {
		t.Errorf("%q", got)
	}
	in.Story.DeadProofs = in.Story.DeadProofs[:1]
	if s := gateOf(in).Stores[0]; s.Last != "" {
		t.Errorf("an hour-old reading still stands there: %q", s.Last)
	}
	in.Gate = evidence.Gate{State: evidence.DeadHandling, Why: "At most 3 V was read.", Until: pumpTime.Add(time.Minute)}
	if g := gateOf(in); !strings.Contains(g.Why, "It may be handled") || g.Until == "" || g.Open {
		t.Errorf("%+v", g)
	}
}

func TestARefusedProofKeepsEverything(t *testing.T) {
	t.Parallel()
	in := unproven(pumpInput(t))
	in.Form = "gate"
	in.Proof = map[string]string{"before_at": "14:05", "volts:C1": "dead", "swapped:C1": "0.02"}
	in.Refused = fault.Form(map[string]string{"volts:C1": "Type volts.", "after_at": "Prove it once more."})
	g := gateOf(in)
	s := g.Stores[0]
	if g.Before.Value != "14:05" || s.Volts.Value != "dead" || s.Swapped.Value != "0.02" || s.Volts.Problem != "Type volts." || g.After.Problem == "" {
		t.Errorf("%+v", g)
	}
	in.Check = "r18"
	accessible(t, "refused proof", benchDoc(t, in))
}

func TestPowerCards(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Check = "tp3"
	cards := powerCards(in)
	if len(cards) != 2 || cards[0].State != "injected" || cards[0].Grave || cards[0].Needed || !cards[1].Grave || !cards[1].Needed || cards[1].Refused != "" {
		t.Errorf("%+v", cards)
	}
	weak := *in.Model.Meter
	weak.RatedVolts, weak.Category = 300, "CAT II 300 V"
	in.Model = &bench.Model{Profile: in.Model.Profile, Meter: &weak}
	cards = powerCards(in)
	if cards[0].Refused != "" || !strings.Contains(cards[1].Refused, "holds up to 356 V") || !strings.Contains(cards[1].Refused, "is rated for 300 V") {
		t.Errorf("a 300 V meter: %+v", cards)
	}
	check, _ := in.Model.Profile.Check("tp3")
	if got := barredText(in, *check, bench.WeakMeter); !strings.Contains(got, "Use a meter that is rated for it") {
		t.Errorf("%q", got)
	}
	cards = powerCards(withoutProfile(in))
	if len(cards) != 2 || cards[0].State != bench.LiveState || !cards[0].Grave || cards[1].State != bench.Injected || cards[1].Grave {
		t.Errorf("without a profile: %+v", cards)
	}
}

func TestOfflineTableIsPlainJSON(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Judged.Impossible[in.Model.Profile.Checks[8].Key()] = true // r16
	in.Judged.Result.Next = []analysis.Next{{Check: analysis.CheckRef{ID: "tp3"}}, {}, {Check: analysis.CheckRef{ID: "r18"}}}
	table := offlineOf(in)
	if _, err := json.Marshal(table); err != nil { // an infinity would not be
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"tp3", "r18"}, table.Next); d != "" {
		t.Errorf("proposals: %s", d)
	}
	if d := cmp.Diff([]string{"r17", "r17x", "r11", "r12", "r13", "r14", "r16"}, table.Inactive); d != "" {
		t.Errorf("done or impossible: %s", d)
	}
	if table.Post != "/tickets/2041/readings" || table.State != "/tickets/2041/bench/state" || table.Version != 12 || len(table.Checks) != 15 {
		t.Errorf("%+v", table)
	}
	steps := table.Steps[profile.MeasureResistance]
	if len(steps) != 6 || steps[0] != [2]float64{600, 0.1} || steps[5] != [2]float64{60e6, 10e3} {
		t.Errorf("the default meter's steps: %v", steps)
	}
	for _, c := range table.Checks {
		if c.ID == "r13" && (c.Unit != "Ω" || !c.Known || *c.Low != 117e3 || *c.Guard[1] <= *c.High || !c.CanTell) {
			t.Errorf("%+v", c)
		}
	}
}

func TestMarksOfTheBench(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	gone := pumpTime
	in.Story.Seen = []evidence.Seen{{Part: "C1", What: "bulged", Note: "a little", PersonID: tobinID, TakenAt: pumpTime}}
	in.Story.Findings = []evidence.Finding{
		{ID: id(31), Part: "R13", Mode: "open", Words: "cracked", ConfirmedBy: tobinID, TakenAt: pumpTime},
		{ID: id(32), Part: "C1", Mode: "tired", WithdrawnAt: &gone, WithdrawnReason: "measured well", TakenAt: pumpTime},
	}
	m := marksOf(in)
	if d := cmp.Diff([]SeenLine{{"C1", "bulged", "a little", "Tobin", "14:09"}}, m.Seen); d != "" {
		t.Error(d)
	}
	doc := benchDoc(t, in)
	if got := words(pick(doc, "#findings .mark-lines")...); !strings.Contains(got, "R13 open cracked") || !strings.Contains(got, "withdrawn: measured well") {
		t.Errorf("%q", got)
	}
	if n := len(pick(doc, "#findings .mark-lines form")); n != 1 {
		t.Errorf("%d findings can be withdrawn, want the one that stands", n)
	}
	seen := map[string]bool{}
	for _, o := range m.Modes {
		if seen[o.Value] {
			t.Errorf("%q is offered twice", o.Label)
		}
		seen[o.Value] = true
	}
	for _, mode := range []profile.Mode{profile.ModeOpen, profile.ModeHigh, profile.ModeLeaky, profile.ModeDead, profile.ModeWeak} {
		if !seen[string(mode)] {
			t.Errorf("nothing can be %s", mode)
		}
	}
	in.Form, in.Fields = "findings", map[string]string{"part": "R13", "mode": "open", "words": "see photo"}
	in.Refused = fault.Field("words", "Say more.")
	m = marksOf(in)
	if m.FindingForm.Note.Value != "see photo" || m.FindingForm.What.Value != "open" || m.FindingForm.Note.Problem != "Say more." || m.SeenForm.Part.Value != "" {
		t.Errorf("%+v", m.FindingForm)
	}
}

func TestFreeEntryKnowsTheProfile(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Free = true
	f := freeOf(in)
	if len(f.States) != 3 || f.States[2].Label != "isolated, current-limited mains; 5 V present" || f.Back == "" || len(f.Measures) != 6 {
		t.Errorf("%+v", f)
	}
	for _, want := range []string{"TP3", "TP4", "vb", "com"} {
		if !strings.Contains(" "+strings.Join(f.Places, " ")+" ", " "+want+" ") {
			t.Errorf("%s is not offered: %v", want, f.Places)
		}
	}
	in.Form, in.Entry = "reading", bench.Entry{ID: "x", State: "live", Place: bench.Place{Measure: "dc_volts", Red: "nowhere"}, Typed: "3.3", Swapped: true}
	in.Refused = fault.Field("red", "No such place.")
	f = freeOf(in)
	if f.Red.Value != "nowhere" || f.Red.Problem != "No such place." || f.Form.Typed.Value != "3.3" || !f.Form.Pressed["swapped"] || f.Form.ID != "x" {
		t.Errorf("%+v", f)
	}
}

func TestTheMeterChosen(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	if c := meterChoice(in); len(c.Options) != 0 || c.Name == "" {
		t.Errorf("no meters of its own, and a choice: %+v", c)
	}
	old := time.Date(2026, 11, 23, 0, 0, 0, 0, time.UTC)
	in.Instruments = []evidence.Instrument{{ID: id(41), Name: "M-1", MeterName: "handheld", MeterVersionID: id(42)}, {ID: id(43), Name: "M-2", MeterName: "second make", MeterVersionID: id(44), CalibratedUntil: &old}}
	in.Instrument = &in.Instruments[1]
	c := meterChoice(in)
	if len(c.Options) != 3 || c.Chosen != id(43).String() || !strings.Contains(c.Warning, "ran out on Mon 23 Nov 2026") {
		t.Errorf("%+v", c)
	}
	today := time.Date(2026, 11, 24, 0, 0, 0, 0, time.UTC)
	in.Instrument.CalibratedUntil = &today
	if c := meterChoice(in); c.Warning != "" {
		t.Errorf("the calibration lasts until today: %q", c.Warning)
	}
	version := id(44)
	in.Story.Readings[0].MeterVersionID = &version
	if l := tapeReading(in, in.Story.Readings[0], nil); !strings.Contains(strings.Join(l.Keys, ","), "with M-2") {
		t.Errorf("%v", l.Keys)
	}
}

func TestBenchListsSortAndAddress(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	on, waiting := BenchLists([]shop.Summary{
		{Number: 3, State: shop.OnBench, StateSince: pumpTime}, {Number: 4, State: shop.OnShelf, StateSince: pumpTime, Bay: "B2", Comeback: true}, {Number: 5, State: shop.TakenIn, StateSince: pumpTime},
	}, l, pumpTime)
	if len(on) != 1 || on[0].Address != "/tickets/3/bench" || len(waiting) != 2 {
		t.Fatalf("%+v %+v", on, waiting)
	}
	if got := waiting[0].benchNote(); got != "on the shelf since 14:09, bay B2, comeback" {
		t.Error(got)
	}
}

func TestReadingFigures(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		r    evidence.Reading
		text string
		word string
	}{
		{evidence.Reading{Measure: "resistance", Typed: "6.78k", Value: num(6780)}, "6.78 kΩ", ""},
		{evidence.Reading{Measure: "dc_volts", Typed: "-0.02", Value: num(-0.02)}, "-0.02 V", ""},
		{evidence.Reading{Measure: "resistance", OverRange: true, Typed: "OL"}, " ", "OL"},
		{evidence.Reading{Measure: "resistance", Agrees: true}, " ", "agrees"},
		{evidence.Reading{Measure: "resistance", NotPossible: true, Typed: "-"}, " ", "cannot be made"},
		{evidence.Reading{Measure: "resistance", Typed: "humming"}, " ", "humming"},
	} {
		f, word := readingFigure(c.r)
		if f.Text+" "+f.Unit != c.text || word != c.word {
			t.Errorf("%+v: %q %q", c.r, f.Text+" "+f.Unit, word)
		}
	}
}

// Where the shop writes a comma, every number on the bench has one.
func TestTheBenchWritesTheShopsComma(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Locale = NewLocale("de-AT", "Europe/Vienna")
	doc := benchDoc(t, in)
	for selector, want := range map[string]string{
		"#edge-words": "READ 0,03 V, 4 min ago", "#check-head .good dd": "0,97 to 1,03 kΩ", "#suspects": "R13 open",
	} {
		if got := words(pick(doc, selector)...); !strings.Contains(got, want) {
			t.Errorf("%s says %q, want %q", selector, got, want)
		}
	}
	if got := words(pick(doc, "#tape")...); !strings.Contains(got, "118,9") || strings.Contains(got, "118.9") {
		t.Errorf("the tape: %q", got)
	}
	if got := words(pick(doc, ".expected-table tbody")...); !strings.Contains(got, "117,0") || strings.Contains(got, "117.0") {
		t.Error("the table writes points")
	}
}

func TestWouldRead(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	row := &analysis.Row{Measured: profile.Check{Measure: profile.MeasureResistance}, Open: &analysis.Shown{OverRange: true}, Short: &analysis.Shown{Value: 0.2}}
	if got := wouldRead(l, row); got != "open OL, shorted 0.2 Ω" {
		t.Error(got)
	}
	row = &analysis.Row{Measured: profile.Check{Measure: profile.MeasureDCVolts}, Telling: []analysis.Telling{{Fault: analysis.Fault{Part: "R16", Mode: profile.ModeOpen}, Shown: analysis.Shown{Value: 6}}}}
	if got := wouldRead(l, row); got != "R16 open 6 V" {
		t.Error(got)
	}
	if got := wouldRead(l, &analysis.Row{}); got != "" {
		t.Errorf("nothing is known: %q", got)
	}
}

func TestEdgeStateForAPageThatAsks(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	s := EdgeStateOf(in.Gate, in.Story, in.Model, in.Locale, in.Now)
	if s.Kind != ui.EdgeRead || s.Volts != "0.03 V" || s.Version != 12 || s.Lapses-s.ReadAt != (10*time.Minute).Milliseconds() {
		t.Errorf("%+v", s)
	}
	in = unproven(in)
	if s := EdgeStateOf(in.Gate, in.Story, in.Model, in.Locale, in.Now); s.Kind != ui.EdgeUnproven || s.Lapses != 0 || s.ReadAt != 0 {
		t.Errorf("%+v", s)
	}
}

func TestPlainVolts(t *testing.T) {
	t.Parallel()
	l := NewLocale("en-IE", "Europe/Dublin")
	for v, want := range map[float64]string{0: "0.00 V", 0.034: "0.03 V", 3.241: "3.24 V", 34.56: "34.6 V", 311.4: "311 V"} {
		if got := l.plainVolts(v); got != want {
			t.Errorf("%g: %q, want %q", v, got, want)
		}
	}
}

func TestStoredIsSaid(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Stored = in.Story.Readings[6].ID // R14, 180 k
	p := NewBench(in)
	if p.Said != "Stored: R14, resistance, cold, 180 kΩ, bad." {
		t.Errorf("%q", p.Said)
	}
	in.Stored = uuid.New()
	if p := NewBench(in); p.Said != "" {
		t.Errorf("of a reading that is not there: %q", p.Said)
	}
}

func TestLastRead(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	for check, want := range map[string]string{"r14": "180 kΩ, bad", "r13": "OL, bad", "r12": "agrees, not bad", "r17": "6.77 kΩ, not bad", "r18": ""} {
		c, _ := in.Model.Profile.Check(check)
		if got := panelOf(in, *c, 1, 15).Done; got != want {
			t.Errorf("%s was read before: %q, want %q", check, got, want)
		}
	}
	if got := textsOf(&analysis.Band{Low: num(12.96e6), Typical: num(4.38e6), High: num(1.989e6), Unit: quantity.Ohm}, 1000).low; got != "12.96" {
		t.Errorf("five digits of a four-digit meter: %s", got)
	}
}
