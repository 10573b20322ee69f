package page

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
)

// A line for each set of parts: how probable, how many readings it explains, which
// it does not. What is hardly probable is summed up.
func TestSuspects(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	s := suspectsOf(in)
	type line struct {
		Name, Percent, Fits, Says string
		Share, Misfits            int
	}
	var got []line
	for _, l := range s.Suspects {
		got = append(got, line{l.Name, l.Percent, l.Fits, strings.Join(l.Says, " "), l.Share, len(l.Misfits)})
	}
	want := []line{{"R13 open", "86 %", "explains 4 of 4", "“two blinks” fits.", 86, 0}, {"R13 open and R14 high", "11 %", "explains 3 of 4", "", 11, 1}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if s.Conclusion != "Found: R13." || s.Others != "3 %" {
		t.Errorf("%q, others %q", s.Conclusion, s.Others)
	}
	if m := s.Suspects[1].Misfits[0]; !strings.HasPrefix(m.Address, "#r-") {
		t.Errorf("the reading that is not explained is not led to: %+v", m)
	}
	if len(s.Confirm) != 1 || s.Confirm[0].Part != "R13" || s.Confirm[0].Mode != "open" {
		t.Errorf("to be confirmed: %+v", s.Confirm)
	}
	if suspectsOf(withoutProfile(in)) != nil {
		t.Error("there are suspects without a profile")
	}
}

// Before the first reading the indication alone, or what was seen, says where to
// look; where neither is known there is nothing to rank by.
func TestSuspectsBeforeTheFirstReading(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Judged.Rows = nil
	in.Judged.Result.Conclusion = analysis.Conclusion{Status: analysis.Undecided, Why: "More readings would tell; R13 leads with 86 %."}
	s := suspectsOf(in)
	if s == nil || s.Conclusion != "Not read yet." || len(s.Suspects) != 2 || len(s.Confirm) != 0 {
		t.Errorf("with an indication: %+v", s)
	}
	in.Judged.Code = ""
	if s := suspectsOf(in); s != nil {
		t.Errorf("with nothing known: %+v", s)
	}
	in.Story.Seen = []evidence.Seen{{ID: id(71), Part: "R13", What: "burnt"}}
	if suspectsOf(in) == nil {
		t.Error("what was seen does not count")
	}
}

// After a repair a good board has nothing else wrong with it.
func TestNothingElseIsWrongAfterARepair(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Story.Fitted = nil
	if got := suspectLine(in, analysis.Set{Probability: 0.9}).Name; got != "nothing wrong" {
		t.Errorf("as it came: %q", got)
	}
	in.Story.Fitted = []evidence.Fitted{{ID: id(72), Part: "R13", TakenAt: pumpTime}}
	if got := suspectLine(in, analysis.Set{Probability: 0.9}).Name; got != "nothing else wrong" {
		t.Errorf("repaired: %q", got)
	}
}

// What somebody has confirmed is said, and no longer offered to be.
func TestConfirmedIsSaid(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Story.Findings = []evidence.Finding{{ID: id(70), Part: "R13", Mode: "open", ConfirmedBy: in.Story.Entries[0].PersonID, TakenAt: pumpTime}}
	s := suspectsOf(in)
	if len(s.Confirm) != 0 || len(s.Confirmed) != 1 || !strings.HasPrefix(s.Confirmed[0], "R13 stands confirmed by ") {
		t.Errorf("%+v, %q", s.Confirm, s.Confirmed)
	}
}

// Ways of failing are told in the words of whoever holds the meter, the likely ones
// only; a break that conducts is confirmed as high.
func TestSetsInWords(t *testing.T) {
	t.Parallel()
	mode := func(words string, m profile.Mode, p float64) analysis.Suspect {
		return analysis.Suspect{Words: words, Probability: p, Faults: []analysis.Fault{{Part: "R3", Mode: m}}}
	}
	set := analysis.Set{Parts: []string{"R3"}, Probability: 0.9, Modes: []analysis.Suspect{
		mode("R3 high", profile.ModeOpen, 0.6), mode("R3 high", profile.ModeHigh, 0.25), mode("R3 low", profile.ModeLow, 0.049), mode("R3 shorted", profile.ModeShort, 0.001)}}
	if got := setWords(set); got != "R3 high or low" {
		t.Error(got)
	}
	if got := setWords(analysis.Set{}); got != "nothing wrong" {
		t.Error(got)
	}
	in := pumpInput(t)
	if f := confirmForms(in, set.Modes[0].Faults, "R3 high"); f[0].Mode != "high" || f[0].Words != "R3 high" {
		t.Errorf("%+v", f)
	}
}

// After a repair, and before anything was found, the page says what is still to be
// read rather than that nothing is decided.
func TestNothingWrongSoFar(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	vb, _ := in.Model.Profile.Check("tp3")
	in.Judged.Result.Sets = []analysis.Set{{Probability: 0.84}}
	in.Judged.Result.Next = []analysis.Next{{Measured: *vb, GainBits: 0.5, Leaves: "3.03 V", Would: []analysis.Would{{Words: "R17 open", Reads: "5.600 V"}}, Why: "About 3.03 V clears R17."}}
	in.Judged.Result.Conclusion = analysis.Conclusion{Status: analysis.Undecided}
	s := suspectsOf(in)
	if s.Conclusion != "Nothing wrong so far." || !strings.Contains(s.Why, "84\u00a0% that nothing is wrong. Still worth reading: ") {
		t.Errorf("%q: %q", s.Conclusion, s.Why)
	}
	in.Story.Fitted = []evidence.Fitted{{Part: "R13", TakenAt: pumpTime}}
	if s = suspectsOf(in); s.Conclusion != "R13 was put in; nothing was read since." {
		t.Errorf("%q", s.Conclusion)
	}
	in.Story.Fitted = []evidence.Fitted{{Part: "R13"}}
	if s = suspectsOf(in); s.Conclusion != "As repaired, nothing wrong so far." || !strings.Contains(s.Why, "nothing else is wrong") {
		t.Errorf("%q: %q", s.Conclusion, s.Why)
	}
}

// The card of the next reading: where, what it costs, what a good board and the
// suspects read, and how to take it.
func TestNextReading(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	vb, _ := in.Model.Profile.Check("tp3")
	r16, _ := in.Model.Profile.Check("r16")
	in.Judged.Result.Next = []analysis.Next{
		{Measured: *vb, GainBits: 0.3, Would: []analysis.Would{{Words: "R17 open", Reads: "5.600 V"}}, Why: "About 3.03 V clears R17."},
		{Measured: *r16, GainBits: 0.01},
	}
	n := suspectsOf(in).Next
	if n.Best.Cost != "about 1 min, after 5 min to set up “live”; dangerous volts" || n.Best.Gain != "tells a good part of what is open" || n.Best.Good == "" {
		t.Errorf("%+v", n.Best)
	}
	if len(n.Others) != 1 || n.Others[0].Cost != "about 1 min" || n.Others[0].Gain != "tells a little of what is open" {
		t.Errorf("%+v", n.Others)
	}
	doc := benchDoc(t, in)
	if got := words(pick(doc, "#next .next-card.best")...); !strings.Contains(got, "R17 open 5.600 V") || !strings.Contains(got, "RED on") {
		t.Errorf("the card says %q", got)
	}
	if got := len(pick(doc, `#next a[data-take]`)); got != 2 {
		t.Errorf("%d of 2 can be taken", got)
	}
	if got := words(pick(doc, "#check-head .other")...); strings.Contains(got, "R17 open") {
		t.Errorf("the check at hand is another one, and says %q", got)
	}
}

// What is ruled out stands with reason and name; a refused form comes back where it
// was sent from.
func TestRuledOutOnThePage(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	who, gone := in.Story.Entries[0].PersonID, pumpTime
	in.Story.Overrules = []evidence.Overrule{{ID: id(71), Part: "R17", Reason: "lifted, 6.8 k", PersonID: who, TakenAt: pumpTime},
		{ID: id(72), Part: "R18", Reason: "x", PersonID: who, TakenAt: pumpTime, WithdrawnAt: &gone}}
	in.Form, in.Fields = "overrule", map[string]string{"part": "R13", "key": "R13", "reason": "be"}
	in.Refused = fault.Field("reason", "Say how you know; it stays beside your name.")
	doc := benchDoc(t, in)
	if got := words(pick(doc, "#ruled-out .mark-lines")...); !strings.Contains(got, "R17 ruled out by") || !strings.Contains(got, "lifted, 6.8 k") || strings.Contains(got, "R18") {
		t.Errorf("ruled out: %q", got)
	}
	if got := pick(doc, `#s-R13[open] [name=reason]`); len(got) != 1 {
		t.Errorf("the refused form: %d open", len(got))
	} else if typed, _ := attribute(got[0], "value"); typed != "be" {
		t.Errorf("the refused form says %q", typed)
	}
	if got := len(pick(doc, `#rule-out[open]`)); got != 0 {
		t.Error("the general form is open too")
	}
}

// In a shop that writes a comma, the engine's sentences do too.
func TestSentencesInTheShopsLocale(t *testing.T) {
	t.Parallel()
	comma := NewLocale("de-DE", "Europe/Berlin")
	if got := comma.sentence("R3 read 4.7 kΩ. About 3.03 V."); got != "R3 read 4,7\u00a0kΩ. About 3,03\u00a0V." {
		t.Error(got)
	}
	if got := dublin().Locale.sentence("4.7 kΩ, 3 of 4."); got != "4.7\u00a0kΩ, 3 of 4." {
		t.Error(got)
	}
}

// A person's verdict stands on the tape before the profile's, with the reason, and
// can be taken back; a refused one comes back as it was chosen.
func TestOverruledOnTheTape(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	r := in.Story.Readings[0]
	in.Story.Overrules = []evidence.Overrule{{ID: id(73), ReadingID: &r.ID, Verdict: evidence.RuledBad, Reason: "it reads 8 k warm", PersonID: tobinID}}
	doc := benchDoc(t, in)
	line := words(pick(doc, "#r-"+r.ID.String())...)
	if !strings.Contains(line, "Tobin says bad: it reads 8 k warm. It is not weighed any more.") || !strings.Contains(line, "The profile would say not bad.") {
		t.Errorf("the tape says %q", line)
	}
	if !strings.Contains(line, "Take that back") || strings.Contains(line, "Overrule") {
		t.Errorf("the forms: %q", line)
	}
	in.Form, in.Fields = "ruling", map[string]string{"reading": in.Story.Readings[1].ID.String(), "verdict": "bad", "reason": ""}
	in.Refused = fault.Field("reason", "Say how you know; it stays beside your name.")
	doc = benchDoc(t, in)
	if got := pick(doc, "#rule-"+in.Story.Readings[1].ID.String()+"[open] option[selected]"); len(got) != 1 || words(got...) != "bad" {
		t.Errorf("the refused form chooses %q", words(got...))
	}
}
