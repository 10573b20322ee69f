package page

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/web/ui"
)

// TapeLine is one thing that happened on the bench, as on a till roll.
type TapeLine struct {
	ID      string // of the reading; "" for a fitted part
	At      string // clock time
	Stamp   string // for machines
	Day     string // set where the day differs from the line before
	What    string // "R3"
	How     string // "resistance, cold"
	Figure  Figure // the value, its decimals in line with the others
	Word    string // instead of a number: "OL", "agrees", "cannot be made"
	Keys    []string
	Verdict ui.Verdict
	Why     string // the engine's sentence, or why it does not count
	Who     string
	Struck  string // the reason; "" while it counts
	By      string // who struck it
	Strike  string // where the form of striking it goes; "" when it cannot be struck
	Reason  string // typed there, when it was refused
	Refused string // why it was
	Ruling  string // a person's verdict on it, in a clause; "" none stands
	RuledID string // of that overruling
	Back    string // where the form of taking it back goes
	Rule    *RulingForm
	Fitted  bool // a part was put in
	New     bool // just stored
}

// tapeOf makes the tape, newest first.
func tapeOf(in BenchInput) []TapeLine {
	type dated struct {
		at   int64
		line TapeLine
	}
	var all []dated
	names := peopleOf(in)
	for _, r := range in.Story.Readings {
		all = append(all, dated{r.TakenAt.UnixNano(), tapeReading(in, r, names)})
	}
	for _, f := range in.Story.Fitted {
		line := TapeLine{At: in.Locale.Clock(f.TakenAt), Stamp: in.Locale.Stamp(f.TakenAt), Fitted: true,
			What: strings.TrimSpace(f.Part + " fitted new: " + f.What), Who: names[f.PersonID]}
		line.What = strings.TrimSuffix(line.What, ":")
		line.Day = in.Locale.Date(f.TakenAt)
		all = append(all, dated{f.TakenAt.UnixNano(), line})
	}
	slices.SortStableFunc(all, func(a, b dated) int { return int(min(1, max(-1, b.at-a.at))) })
	lines := make([]TapeLine, len(all))
	today, numbers := in.Locale.Date(in.Now), make([]string, len(all))
	for i, d := range all {
		lines[i] = d.line
		numbers[i] = d.line.Figure.Text
		if d.line.Day == today || i > 0 && d.line.Day == all[i-1].line.Day {
			lines[i].Day = ""
		}
	}
	for i, f := range in.Locale.Figures(numbers...) {
		f.Unit = lines[i].Figure.Unit
		lines[i].Figure = f
	}
	return lines
}

// tapeReading makes the line of one reading; its number is still written with a point.
func tapeReading(in BenchInput, r evidence.Reading, names map[uuid.UUID]string) TapeLine {
	c := profile.Check{State: r.State, Measure: profile.Measure(r.Measure), Across: r.Across, Red: r.Red, Black: r.Black}
	line := TapeLine{
		ID: r.ID.String(), At: in.Locale.Clock(r.TakenAt), Stamp: in.Locale.Stamp(r.TakenAt), Day: in.Locale.Date(r.TakenAt),
		What: placeName(c), How: wordsOf(c.Measure) + ", " + c.State, Keys: keysPressed(r), Who: names[r.PersonID], New: r.ID == in.Stored,
	}
	if r.Residue != nil {
		line.Keys = append(line.Keys, in.Locale.value(*r.Residue, 0, quantity.Volt)+" between the points before")
	}
	if name := meterNames(in)[versionText(r.MeterVersionID)]; name != "" {
		line.Keys = append(line.Keys, "with "+name)
	}
	line.Figure, line.Word = readingFigure(r)
	if r.Struck != nil {
		line.Struck, line.By = r.Struck.Reason, names[r.Struck.PersonID]
		return line
	}
	line.Strike = TicketAddress(in.Story.Ticket.Number) + "/readings/" + line.ID + "/strike"
	if in.typed("strike", "reading") == line.ID {
		line.Reason, line.Refused = in.typed("strike", "reason"), in.refusal("strike").Text
	}
	line.rule(in, r, names)
	if in.Judged == nil {
		return line
	}
	if row := in.Judged.Rows[r.ID]; row != nil {
		line.Why = in.Locale.sentence(row.Why)
		if line.Ruling == "" {
			line.Verdict = ui.Verdict(row.Verdict)
		} else {
			line.Why = "The profile would say " + ui.Verdict(row.Verdict).Word() + ". " + line.Why
		}
	} else if why := in.Judged.Left[r.ID]; why != "" {
		line.Why = "Not weighed: " + why + "."
	}
	return line
}

// RulingForm is where somebody gives a reading another verdict.
type RulingForm struct {
	ID      string // UUIDv7: the form sent twice is stored once
	Action  string
	Verdict string // as chosen
	Reason  string
	Refusal Refusal
}

// rule fills in the verdict that a person gave, or the form for one.
func (t *TapeLine) rule(in BenchInput, r evidence.Reading, names map[uuid.UUID]string) {
	if r.NotPossible || in.Model == nil {
		return
	}
	if o := evidence.Ruled(in.Story.Overrules, r.ID); o != nil {
		t.Verdict, t.RuledID = ui.NotBad, o.ID.String()
		t.Back = BenchAddress(in.Story.Ticket.Number) + "/overrules/" + t.RuledID + "/withdraw"
		if o.Verdict == evidence.RuledBad {
			t.Verdict = ui.Bad
		}
		t.Ruling = names[o.PersonID] + " says " + t.Verdict.Word() + ": " + o.Reason + ". It is not weighed any more."
		return
	}
	f := RulingForm{ID: in.NewID(), Action: TicketAddress(in.Story.Ticket.Number) + "/readings/" + t.ID + "/overrule"}
	if in.typed("ruling", "reading") == t.ID {
		f.Verdict, f.Reason, f.Refusal = in.typed("ruling", "verdict"), in.typed("ruling", "reason"), in.refusal("ruling")
	}
	t.Rule = &f
}

func versionText(id *uuid.UUID) string {
	if id == nil {
		return ""
	}
	return id.String()
}

// readingFigure gives a stored reading's number and unit, or the word that
// stands instead.
func readingFigure(r evidence.Reading) (Figure, string) {
	switch {
	case r.NotPossible:
		return Figure{}, "cannot be made"
	case r.Agrees:
		return Figure{}, "agrees"
	case r.OverRange:
		return Figure{}, "OL"
	case r.Value == nil:
		return Figure{}, r.Typed
	}
	unit := profile.Measure(r.Measure).Unit()
	digit := 0.0
	if v, err := quantity.Parse(r.Typed, unit); err == nil {
		digit = v.Digit
	}
	number, name := quantity.Split(*r.Value, digit, unit)
	return Figure{Text: strings.Replace(number, "−", "-", 1), Unit: name}, ""
}

// peopleOf knows the names of those who left something on the ticket.
func peopleOf(in BenchInput) map[uuid.UUID]string {
	names := map[uuid.UUID]string{}
	for _, e := range in.Story.Entries {
		names[e.PersonID] = e.PersonName
	}
	return names
}

// more is what stands under the line: what became of the reading, or what the
// engine says of it, and who took it.
func (t TapeLine) more() string {
	var parts []string
	if t.Ruling != "" {
		parts = append(parts, t.Ruling)
	}
	if t.Struck != "" {
		parts = append(parts, "struck out by "+t.By+": "+t.Struck)
	} else if t.Why != "" {
		parts = append(parts, t.Why)
	}
	if t.Who != "" && (t.Struck == "" || t.Who != t.By) {
		parts = append(parts, t.Who)
	}
	return strings.Join(parts, " · ")
}

// sentence says what was stored.
func (t TapeLine) sentence() string {
	value := t.Word
	if value == "" {
		value = t.Figure.Text + " " + t.Figure.Unit
	}
	s := "Stored: " + t.What + ", " + t.How + ", " + value
	if t.Verdict != ui.None {
		s += ", " + t.Verdict.Word()
	}
	return s + "."
}
