package page

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
)

// SuspectList is what the engine makes of it all, and what a person may decide.
type SuspectList struct {
	Base       string // the bench's address, below which the forms go
	Check      string // the check at hand, to come back to
	Conclusion string
	Why        string
	Other      *OtherBoard // that the readings fit better; nil: none
	Printed    string      // address where the revision is corrected, when a part may belong to another; "" not
	Again      string      // address of the check that should be made again; "" none
	Confirm    []ConfirmForm
	Confirmed  []string // what was found stands confirmed, in a clause each
	Suspects   []SuspectLine
	Others     string // how probable all that are not listed are together; "" when they hardly are
	RuledOut   []RuledOutLine
	RuleOut    RuleOutForm // of any part
	Unseen     string      // what could still hide on a healthy board
	Elsewhere  string      // readings that were not weighed here, since another meter took them
	Next       *NextList   // nil: nothing is proposed
}

// SuspectLine is one set of parts that may be bad.
type SuspectLine struct {
	Key     string // names the line on the page: "R3", "R3-C7"
	Name    string // "R3 open or high"
	Percent string
	Share   int    // of a bar, 0 to 100
	Fits    string // "explains 7 of 8"; "" when nothing was read
	Says    []string
	Misfits []MisfitLine
	Modes   []ModeLine // when there are several ways of failing
	Confirm []ConfirmForm
	RuleOut *RuleOutForm // nil for the healthy board
}

// ModeLine is one way in which a set of parts may have failed.
type ModeLine struct{ Words, Percent string }

// MisfitLine is a reading that a suspect does not explain.
type MisfitLine struct {
	Place, Read, Would string
	Address            string // of the reading on the tape; "" when it is not there
}

// ConfirmForm confirms a part as a cause in one press.
type ConfirmForm struct {
	ID    string // UUIDv7: the form sent twice is stored once
	Part  string
	Mode  string
	Words string // "R3 open"
}

// RuleOutForm rules a part out as a suspect.
type RuleOutForm struct {
	ID      string
	Key     string   // of the line that it stands in; "" on its own
	Parts   []string // to choose from; one is not asked for, none is typed
	Part    string   // as chosen or typed
	Reason  string
	Refusal Refusal
}

// RuledOutLine is a part that somebody knows to be good.
type RuledOutLine struct {
	ID, Part, Reason, Who, At string
	Typed                     string // a refused reason for taking it back
	Refusal                   Refusal
}

// mostSuspects is how many are shown; those below leastShown only when nothing else
// is.
const (
	mostSuspects = 5
	leastShown   = 0.01
)

// suspectsOf makes the list; nil when the engine said nothing yet, or nothing is
// known of this board that would set its parts apart.
func suspectsOf(in BenchInput) *SuspectList {
	if in.Judged == nil || in.Judged.Pending || in.unread() && in.Judged.Code == "" && len(in.Story.Seen) == 0 {
		return nil
	}
	res, l := in.Judged.Result, in.Locale
	s := &SuspectList{
		Base: BenchAddress(in.Story.Ticket.Number), Check: in.Check,
		Conclusion: conclusionWords(in), Why: l.sentence(whyWords(in)), Next: nextOf(in),
	}
	s.Confirm, s.Confirmed = confirmOf(in)
	rest := 1.0
	for i, set := range res.Sets {
		if i > 0 && (i == mostSuspects || set.Probability < leastShown) {
			break
		}
		s.Suspects = append(s.Suspects, suspectLine(in, set))
		rest -= set.Probability
	}
	if rest > leastShown && len(s.Suspects) > 0 && res.Conclusion.Sibling == "" {
		s.Others = percent(rest)
	}
	s.Other = otherOf(in)
	if res.Conclusion.Alike != "" {
		s.Printed = TicketAddress(in.Story.Ticket.Number) + "/correct?field=revision"
	}
	if again := res.Conclusion.Again; again != nil && again.ID != "" {
		s.Again = checkAddress(in.Story.Ticket.Number, again.ID)
	}
	s.RuledOut, s.RuleOut = ruledOutOf(in), ruleOutForm(in, "", nil)
	if n := len(in.Judged.Others); n > 0 {
		s.Elsewhere = "Readings taken with another meter are judged by that meter and not weighed here."
	}
	if len(res.Conclusion.Unseen) > 0 {
		var names []string
		for _, f := range res.Conclusion.Unseen[:min(8, len(res.Conclusion.Unseen))] {
			names = append(names, faultWords([]analysis.Fault{f}))
		}
		s.Unseen = strings.Join(names, ", ")
	}
	return s
}

// suspectLine makes one line of a set of parts.
func suspectLine(in BenchInput, set analysis.Set) SuspectLine {
	l := in.Locale
	line := SuspectLine{Key: lineKey(set.Parts), Name: setWords(set), Percent: percent(set.Probability), Share: int(100*set.Probability + 0.5)}
	if len(set.Parts) == 0 && len(in.Story.Fitted) > 0 {
		line.Name = "nothing else wrong"
	}
	if len(set.Parts) > 0 {
		f := ruleOutForm(in, line.Key, set.Parts)
		line.RuleOut = &f
	}
	if len(set.Modes) == 0 {
		return line
	}
	best := set.Modes[0]
	a := best.Account
	switch n := a.Readings; {
	case n == 0:
	case a.Silent && len(a.Misfits) == 0:
		line.Fits = "not tested yet"
	default:
		line.Fits = "explains " + strconv.Itoa(n-len(a.Misfits)) + " of " + strconv.Itoa(n)
	}
	for _, m := range a.Misfits {
		line.Misfits = append(line.Misfits, MisfitLine{Place: m.Place, Read: l.sentence(m.Read), Would: l.sentence(m.Would), Address: rowAddress(in, m.Row)})
	}
	for _, text := range []string{a.Size, a.Shown} {
		if text != "" {
			line.Says = append(line.Says, l.sentence(text))
		}
	}
	if a.Silent && len(a.Misfits) == 0 && a.Readings > 0 {
		line.Says = append([]string{"No reading so far would have shown it."}, line.Says...)
	}
	if len(set.Modes) > 1 {
		for _, m := range set.Modes {
			line.Modes = append(line.Modes, ModeLine{m.Words, percent(m.Probability)})
		}
	}
	line.Confirm = confirmForms(in, best.Faults, best.Words)
	return line
}

// lineKey names a set of parts on the page.
func lineKey(parts []string) string {
	if len(parts) == 0 {
		return "nothing"
	}
	return strings.Join(parts, "-")
}

// setWords names a set of parts with the ways in which it may well have failed:
// "R3 open or high".
func setWords(set analysis.Set) string {
	switch {
	case len(set.Modes) == 0 && len(set.Parts) == 0:
		return "nothing wrong"
	case len(set.Modes) == 0:
		return strings.Join(set.Parts, " and ")
	case len(set.Parts) != 1:
		return set.Modes[0].Words
	}
	var modes []string
	for _, m := range set.Modes {
		word := strings.TrimPrefix(m.Words, set.Parts[0]+" ")
		if m.Probability >= set.Probability/20 && !slices.Contains(modes, word) {
			modes = append(modes, word)
		}
	}
	if len(modes) > 2 {
		modes = []string{modes[0], "otherwise bad"}
	}
	return set.Parts[0] + " " + strings.Join(modes, " or ")
}

// rowAddress leads to the reading of a row of the table.
func rowAddress(in BenchInput, row int) string {
	if row < 0 || row >= len(in.Judged.Result.Table) {
		return ""
	}
	for id, r := range in.Judged.Rows {
		if r == &in.Judged.Result.Table[row] {
			return "#r-" + id.String()
		}
	}
	return ""
}

// conclusionWords says where the diagnosis stands, on the board as it is now.
func conclusionWords(in BenchInput) string {
	c, sets := in.Judged.Result.Conclusion, in.Judged.Result.Sets
	if in.unread() {
		return "Not read yet."
	}
	if s := in.Judged.Sibling; s != nil {
		return "This looks like " + BoardName(s.Family, s.Name) + "."
	}
	if c.Status != analysis.Undecided || len(sets) == 0 || len(sets[0].Parts) > 0 || sets[0].Probability < 0.5 {
		return statusWords(c)
	}
	switch n := len(in.Story.Fitted); {
	case n == 0:
		return "Nothing wrong so far."
	case !in.readSince(in.Story.Fitted[n-1].TakenAt):
		return in.Story.Fitted[n-1].Part + " was put in; nothing was read since."
	}
	return "As repaired, nothing wrong so far."
}

// unread tells whether no reading has been judged yet: what is suspected then comes
// from what the board shows and what was seen on it.
func (in BenchInput) unread() bool { return len(in.Judged.Rows) == 0 }

// readSince tells whether a reading was taken after a moment.
func (in BenchInput) readSince(at time.Time) bool {
	return slices.ContainsFunc(in.Story.Readings, func(r evidence.Reading) bool { return r.TakenAt.After(at) && r.Struck == nil })
}

// whyWords adds to the engine's reason what is still to be checked, where only that
// is left.
func whyWords(in BenchInput) string {
	c, sets := in.Judged.Result.Conclusion, in.Judged.Result.Sets
	if c.Status != analysis.Undecided || len(sets) == 0 || len(sets[0].Parts) > 0 || sets[0].Probability < 0.5 {
		return c.Why
	}
	var left []string
	for _, n := range in.Judged.Result.Next[:min(3, len(in.Judged.Result.Next))] {
		left = append(left, placeName(n.Measured)+" ("+wordsOf(n.Measured.Measure)+", "+n.Measured.State+")")
	}
	text := percent(sets[0].Probability) + " that nothing else is wrong."
	if len(in.Story.Fitted) == 0 {
		text = percent(sets[0].Probability) + " that nothing is wrong."
	}
	if len(left) == 0 {
		return text
	}
	return text + " Still worth reading: " + strings.Join(left, ", ") + "."
}

// statusWords says where the diagnosis stands.
func statusWords(c analysis.Conclusion) string {
	switch c.Status {
	case analysis.Found:
		if c.Alike != "" {
			return "Found: " + strings.Join(c.Parts, ", ") + ", unless it belongs to " + c.Alike + "."
		}
		return "Found: " + strings.Join(c.Parts, ", ") + "."
	case analysis.Healthy:
		return "Healthy, as far as these checks see."
	case analysis.Indistinguishable:
		return "One of these; no check of the list can tell which: " + c.OneOf() + "."
	case analysis.Conflict:
		if c.Sibling != "" {
			return "This looks like another revision."
		}
		return "The readings do not fit together."
	}
	return "Not decided yet."
}

// faultWords names a hypothesis.
func faultWords(faults []analysis.Fault) string {
	if len(faults) == 0 {
		return "nothing wrong"
	}
	var names []string
	for _, f := range faults {
		names = append(names, f.Part+" "+modeWords(f.Mode))
	}
	return strings.Join(names, " and ")
}

// percent writes a probability without claiming decimals.
func percent(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return strconv.Itoa(int(100*p+0.5)) + " %"
}

// confirmOf offers to confirm what the engine found, part by part; what stands
// confirmed already is said.
func confirmOf(in BenchInput) (forms []ConfirmForm, done []string) {
	c, sets := in.Judged.Result.Conclusion, in.Judged.Result.Sets
	if c.Status != analysis.Found {
		return nil, nil
	}
	names := peopleOf(in)
	for _, f := range in.Story.Findings {
		if f.WithdrawnAt == nil && slices.Contains(c.Parts, f.Part) {
			done = append(done, f.Part+" stands confirmed by "+names[f.ConfirmedBy]+", "+in.Locale.Moment(f.TakenAt))
		}
	}
	for _, set := range sets {
		if slices.Equal(set.Parts, c.Parts) && len(set.Modes) > 0 {
			forms = confirmForms(in, set.Modes[0].Faults, set.Modes[0].Words)
		}
	}
	return forms, done
}

// confirmForms makes a form for each fault that does not stand confirmed.
func confirmForms(in BenchInput, faults []analysis.Fault, words string) []ConfirmForm {
	var out []ConfirmForm
	for _, f := range faults {
		if slices.ContainsFunc(in.Story.Findings, func(x evidence.Finding) bool { return x.WithdrawnAt == nil && x.Part == f.Part }) {
			continue
		}
		form := ConfirmForm{ID: in.NewID(), Part: f.Part, Mode: string(f.Mode), Words: faultWords([]analysis.Fault{f})}
		if len(faults) == 1 && words != "" {
			form.Words = words
			form.Mode = modeNamed(words, f)
		}
		out = append(out, form)
	}
	return out
}

// modeNamed gives the mode under which a fault is confirmed: what breaks and still
// conducts is written down as it reads, high.
func modeNamed(words string, f analysis.Fault) string {
	if words == f.Part+" high" {
		return "high"
	}
	return string(f.Mode)
}

// ruleOutForm makes the form of a line, or of any part; a refused one comes back
// with what was typed.
func ruleOutForm(in BenchInput, key string, parts []string) RuleOutForm {
	f := RuleOutForm{ID: in.NewID(), Key: key, Parts: parts}
	if in.Form != "overrule" || in.typed("overrule", "key") != key {
		return f
	}
	f.Part, f.Reason, f.Refusal = in.typed("overrule", "part"), in.typed("overrule", "reason"), in.refusal("overrule")
	return f
}

// ruledOutOf lists the parts that stand ruled out.
func ruledOutOf(in BenchInput) []RuledOutLine {
	var out []RuledOutLine
	names := peopleOf(in)
	for _, o := range in.Story.Overrules {
		if o.Part == "" || o.WithdrawnAt != nil {
			continue
		}
		line := RuledOutLine{ID: o.ID.String(), Part: o.Part, Reason: o.Reason, Who: names[o.PersonID], At: in.Locale.Moment(o.TakenAt)}
		if in.typed("reconsider", "overrule") == line.ID {
			line.Typed, line.Refusal = in.typed("reconsider", "reason"), in.refusal("reconsider")
		}
		out = append(out, line)
	}
	return out
}

// fitWords says how many readings a suspect explains, and names a few of those that
// it does not.
func (l SuspectLine) fitWords() string {
	if len(l.Misfits) == 0 {
		return l.Fits
	}
	var names []string
	for _, m := range l.Misfits[:min(3, len(l.Misfits))] {
		names = append(names, m.Place)
	}
	if n := len(l.Misfits) - 3; n > 0 {
		names = append(names, strconv.Itoa(n)+" more")
	}
	return l.Fits + "; does not explain: " + strings.Join(names, "; ")
}

func ruleOutLabel(f RuleOutForm) string {
	if len(f.Parts) == 1 {
		return "Not " + f.Parts[0] + ", because"
	}
	return "How do you know?"
}

func ruleOutButton(f RuleOutForm) string {
	if len(f.Parts) == 1 {
		return "Rule " + f.Parts[0] + " out"
	}
	return "Rule it out"
}
