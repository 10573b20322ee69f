package page

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

// Marks are the small forms of the bench: what was seen, found, fitted.
type Marks struct {
	Base         string // the bench's address, below which the forms go
	Check        string // the check at hand, to come back to
	Parts        []string
	Seen         []SeenLine
	Findings     []FindingLine
	Fitted       []FittedLine
	SeenForm     MarkForm
	FindingForm  MarkForm
	FittedForm   MarkForm
	Modes        []ui.Option
	SeenWords    []string
	WithdrawForm string // id of the finding whose withdrawal was refused
	Withdraw     Refusal
}

// MarkForm is one of those forms as it was typed.
type MarkForm struct {
	ID               string // UUIDv7: the form sent twice is stored once
	Part, What, Note ui.Input
	Refusal          Refusal
	Open             bool // it is what comes next
}

// SeenLine is something seen.
type SeenLine struct{ Part, What, Note, Who, At string }

// FindingLine is a confirmed cause.
type FindingLine struct {
	ID, Part, Mode, Words, Who, At string
	Withdrawn                      string // the reason; "" while it stands
}

// FittedLine is a part put in.
type FittedLine struct{ Part, What, Note, Who, At string }

// marksOf makes the lists and forms.
func marksOf(in BenchInput) Marks {
	m := Marks{Base: BenchAddress(in.Story.Ticket.Number), SeenWords: evidence.SeenWords(), Modes: modeOptions(in)}
	names, l := peopleOf(in), in.Locale
	if in.Model != nil {
		for _, p := range in.Model.Profile.Parts {
			if p.Kind != profile.LoadPart {
				m.Parts = append(m.Parts, p.Ref)
			}
		}
	}
	for _, s := range in.Story.Seen {
		m.Seen = append(m.Seen, SeenLine{s.Part, s.What, s.Note, names[s.PersonID], l.Clock(s.TakenAt)})
	}
	for _, f := range in.Story.Findings {
		line := FindingLine{ID: f.ID.String(), Part: f.Part, Mode: modeWords(profile.Mode(f.Mode)), Words: f.Words,
			Who: names[f.ConfirmedBy], At: l.Clock(f.TakenAt)}
		if f.WithdrawnAt != nil {
			line.Withdrawn = f.WithdrawnReason
		}
		m.Findings = append(m.Findings, line)
	}
	for _, f := range in.Story.Fitted {
		m.Fitted = append(m.Fitted, FittedLine{f.Part, f.What, f.Note, names[f.PersonID], l.Clock(f.TakenAt)})
	}
	m.Check = in.Check
	m.SeenForm = markForm(in, "seen", [3]string{"part", "what", "note"}, [3]string{"Part or place", "What is seen", "Note"})
	m.FindingForm = markForm(in, "findings", [3]string{"part", "mode", "words"}, [3]string{"Part", "How it failed", "In your words"})
	m.FittedForm = markForm(in, "fitted", [3]string{"part", "what", "note"}, [3]string{"Part", "What was put in", "Note"})
	if ref := in.toBeFitted(); ref != "" && m.FittedForm.Part.Value == "" {
		m.FittedForm.Part.Value, m.FittedForm.Open = ref, true
	}
	m.WithdrawForm = in.typed("withdraw", "finding")
	m.Withdraw = in.refusal("withdraw")
	return m
}

// toBeFitted gives the part of the last confirmed cause when nothing was put in for
// it since; "" when there is none.
func (in BenchInput) toBeFitted() string {
	for _, f := range slices.Backward(in.Story.Findings) {
		if f.WithdrawnAt != nil || f.Part == "" {
			continue
		}
		if slices.ContainsFunc(in.Story.Fitted, fittedAfter(f.Part, f.TakenAt)) {
			return ""
		}
		return f.Part
	}
	return ""
}

// markForm makes a form with what was typed when it was refused.
func markForm(in BenchInput, name string, fields, labels [3]string) MarkForm {
	f := MarkForm{ID: in.NewID(), Refusal: in.refusal(name)}
	for i, p := range f.Refusal.Fields {
		f.Refusal.Fields[i].Field = MarkField(name, p.Field)
	}
	for i, to := range []*ui.Input{&f.Part, &f.What, &f.Note} {
		field := MarkField(name, fields[i])
		*to = ui.Input{Name: field, Label: labels[i], Value: in.typed(name, fields[i]), Problem: f.Refusal.Problem(field), Max: 500}
	}
	f.Part.ListID, f.Part.Required = "parts", true
	return f
}

// MarkField names a field of one of the small forms. They share a page, so each
// has names of its own, but for those that stand alone.
func MarkField(form, field string) string {
	switch form {
	case "seen", "findings", "fitted":
		return form + "_" + field
	}
	return field
}

// modeOptions lists the ways in which the profile's parts fail.
func modeOptions(in BenchInput) []ui.Option {
	out := []ui.Option{{Value: "", Label: "not said"}}
	seen := map[profile.Mode]bool{}
	kinds := []profile.Kind{profile.Resistor, profile.Capacitor, profile.Opamp, profile.Regulator, profile.Optocoupler}
	for _, k := range kinds {
		for _, m := range k.Modes() {
			if !seen[m] {
				seen[m] = true
				out = append(out, ui.Option{Value: string(m), Label: modeWords(m)})
			}
		}
	}
	return out
}

// fittedAfter finds a part put in after a moment.
func fittedAfter(part string, at time.Time) func(evidence.Fitted) bool {
	return func(f evidence.Fitted) bool { return f.Part == part && f.TakenAt.After(at) }
}

// UnknownBoard says why it is asked which board it is, and offers to say so.
type UnknownBoard struct {
	Why       string
	Action    string
	Revisions []ui.Option
	Chosen    ui.Input
	Reason    ui.Input
	Refusal   Refusal
}

// unknownOf makes that offer for a board of which no profile is known.
func unknownOf(in BenchInput) *UnknownBoard {
	u := correctOf(in)
	u.Why = "The family of this board is not known, so nothing can be said of what a good one reads."
	if b := in.Story.Board; b.FamilyName != "" {
		u.Why = "There is no profile for " + BoardName(b.FamilyName, b.RevisionName) + ", so nothing can be said of what a good one reads."
	}
	if in.Trouble != "" {
		u.Why = in.Trouble
	}
	u.Why += " Say which one it is, or enter readings freely: they stand on the tape without a verdict."
	return u
}

// correctOf makes that offer for a board that is taken for a certain one.
func correctOf(in BenchInput) *UnknownBoard {
	u := &UnknownBoard{
		Why: "The revision is as it was.", Refusal: in.refusal("revision"),
		Action: BenchAddress(in.Story.Ticket.Number) + "/revision",
		Chosen: ui.Input{Name: "revision", Label: "It is a", Required: true},
		Reason: ui.Input{Name: "reason", Label: "How do you know?", Hint: "Printed on the board, or by its parts.", Required: true, Max: 500},
	}
	for _, f := range []*ui.Input{&u.Chosen, &u.Reason} {
		f.Value, f.Problem = in.typed("revision", f.Name), u.Refusal.Problem(f.Name)
	}
	u.Revisions = append(u.Revisions, ui.Option{Label: "choose a board"})
	for _, r := range in.Revisions {
		label := r.FamilyName + " " + r.Name
		if r.ProfileVersionID == nil {
			label += " (no profile yet)"
		}
		u.Revisions = append(u.Revisions, ui.Option{Value: r.ID.String(), Label: label, Group: r.FamilyName})
	}
	return u
}

// FreeEntry is the form of a reading that no check of the profile describes.
type FreeEntry struct {
	Form                               ReadingForm
	State, Measure, Across, Red, Black ui.Input
	States, Measures                   []ui.Option
	Places                             []string
	Back                               string // to the checks; "" when there are none
}

// freeOf makes that form.
func freeOf(in BenchInput) *FreeEntry {
	f := &FreeEntry{
		Form:    readingForm(in, profile.MeasureResistance, ""),
		State:   ui.Input{Name: "state", Label: "The board is", Required: true},
		Measure: ui.Input{Name: "measure", Label: "The meter is set to", Required: true},
		Across:  ui.Input{Name: "across", Label: "Across part", ListID: "parts", Max: 60},
		Red:     ui.Input{Name: "red", Label: "or RED on", ListID: "places", Max: 60},
		Black:   ui.Input{Name: "black", Label: "BLACK on", ListID: "places", Max: 60},
	}
	f.Form.Unit = ""
	f.Form.Typed.Hint = "Such as 6.78k, 0.58, 3.31 or OL."
	e, r := in.Entry, in.refusal("reading")
	for _, i := range []struct {
		to    *ui.Input
		value string
	}{{&f.State, e.State}, {&f.Measure, e.Measure}, {&f.Across, e.Across}, {&f.Red, e.Red}, {&f.Black, e.Black}} {
		if in.Form == "reading" && e.Check == "" {
			i.to.Value, i.to.Problem = i.value, r.Problem(i.to.Name)
		}
	}
	for _, m := range measures() {
		f.Measures = append(f.Measures, ui.Option{Value: string(m), Label: wordsOf(m)})
	}
	if in.Model == nil {
		f.States = []ui.Option{{Value: profile.Cold, Label: "cold (unpowered)"}, {Value: "live", Label: "powered as in the machine"}, {Value: "injected", Label: "fed from a limited supply"}}
		return f
	}
	f.Back = BenchAddress(in.Story.Ticket.Number)
	for _, st := range in.Model.Profile.States {
		f.States = append(f.States, ui.Option{Value: st.ID, Label: stateTitle(in.Model.Profile, st.ID)})
	}
	f.Places = placesOf(in.Model.Profile)
	return f
}

// placesOf lists the points and nodes of a profile.
func placesOf(p *profile.Profile) []string {
	var out []string
	seen := map[string]bool{}
	add := func(name string) {
		if name != "" && !seen[name] {
			seen[name] = true
			out = append(out, name)
		}
	}
	for _, pt := range p.Points {
		add(pt.Name)
	}
	for i := range p.Parts {
		for _, pin := range p.Parts[i].Pins {
			add(pin.Node)
		}
	}
	return out
}

func urlQuery(s string) string { return url.QueryEscape(s) }

// BenchList is the list of tickets that are on the bench or wait for it.
type BenchList struct {
	Frame   Frame
	On      []TicketLine
	Waiting []TicketLine
	More    bool
}

// BenchLists sorts the open tickets into the two lists: on the bench, and
// waiting for it.
func BenchLists(list []shop.Summary, l Locale, now time.Time) (on, waiting []TicketLine) {
	for _, t := range list {
		line := TicketLineOf(t, l, now)
		line.Address = BenchAddress(t.Number)
		if t.State == shop.OnBench {
			on = append(on, line)
		} else {
			waiting = append(waiting, line)
		}
	}
	return on, waiting
}

// where says a waiting ticket's place in one line.
func (t TicketLine) benchNote() string {
	parts := []string{t.State + " " + t.Since}
	if t.Bay != "" {
		parts = append(parts, "bay "+t.Bay)
	}
	if t.Comeback {
		parts = append(parts, "comeback")
	}
	return strings.Join(parts, ", ")
}

func seenWhat(in ui.Input) ui.Input {
	in.ListID, in.Required = "seen-words", true
	return in
}

// optionalPart: a cause may be no part, a cracked joint or a wrong fuse.
func optionalPart(in ui.Input) ui.Input {
	in.Required, in.Hint = false, "Leave it empty when no part is to blame."
	return in
}
