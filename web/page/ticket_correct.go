package page

import (
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
	"ohmstead/web/ui"
)

// CorrectPage puts one field of a ticket right.
type CorrectPage struct {
	Frame   Frame
	Refusal Refusal
	Address string // of the ticket
	Field   string
	Title   string // of the field
	Now     string // what stands there now, in words
	Typed   TypedCorrection
	Changed string      // what somebody else did to this field meanwhile
	Options []ui.Option // of a field that is a choice
	Matches CustomerMatches
}

// TypedCorrection is what was typed.
type TypedCorrection struct {
	New    string
	Reason string
	Who    string // to look a customer up
	Seen   string
}

// CorrectInput is what the page is built from.
type CorrectInput struct {
	Story    *shop.Story
	Currency string
	By       staff.Actor
	Field    string
	Typed    *TypedCorrection // nil: the form opens with what stands there now
	Refusal  Refusal
	SawOnly  int64 // with a conflict: the version that the person had seen
	Kinds    []ui.Option
	Matches  CustomerMatches
}

// NewCorrect builds the page for one field.
func NewCorrect(f Frame, in CorrectInput) CorrectPage {
	st, l := in.Story, f.Locale
	f.Title = "Correct ticket " + numeral(st.Ticket.Number)
	p := CorrectPage{Frame: f, Refusal: in.Refusal, Address: TicketAddress(st.Ticket.Number), Field: in.Field,
		Title: FieldTitle(in.Field), Matches: in.Matches}
	stored := storedField(st, in.Field)
	p.Now = orNot(fieldWords(in.Field, stored, l, in.Currency))
	p.Typed = TypedCorrection{New: typedField(st, in.Field, stored, l)}
	if in.Typed != nil {
		p.Typed = *in.Typed
	}
	p.Typed.Seen = numeral(st.Ticket.Version)
	switch in.Field {
	case "revision":
		p.Options, p.Now = in.Kinds, BoardName(st.Board.FamilyName, st.Board.RevisionName)
	case "if_not_repaired":
		p.Options = wishOptions()
	case "state":
		p.Options = stateOptions(st.Ticket.State, in.By)
	}
	if in.SawOnly > 0 {
		p.Changed = changedSince(st.Entries, in.SawOnly, l, in.Currency, func(e journal.Entry) bool {
			return e.Change.Field == in.Field || in.Field == "state" && changesState(e) || in.Field == "revision" && e.Kind == journal.Revision
		})
	}
	return p
}

// storedField gives a field as a correction's New would hold it.
func storedField(st *shop.Story, field string) string {
	t := st.Ticket
	switch field {
	case "complaint":
		return t.Complaint
	case "when_happens":
		return t.WhenHappens
	case "indication":
		return t.Indication
	case "condition":
		return t.Condition
	case "accessories":
		return t.Accessories
	case "touched_before":
		return t.TouchedBefore
	case "if_not_repaired":
		return t.IfNotRepaired
	case "bay":
		return t.Bay
	case "serial":
		return st.Board.Serial
	case "customer":
		return st.Customer.Name
	case "state":
		return string(t.State)
	case "limit":
		if t.Limit != nil {
			return numeral(t.Limit.Minor)
		}
	case "promised_on":
		if t.PromisedOn != nil {
			return t.PromisedOn.Format(time.DateOnly)
		}
	}
	return ""
}

// typedField gives what the form opens with.
func typedField(st *shop.Story, field, stored string, l Locale) string {
	switch field {
	case "customer":
		return ""
	case "limit":
		if st.Ticket.Limit != nil {
			return st.Ticket.Limit.Field(l.Tag())
		}
	case "revision":
		if st.Board.RevisionID != nil {
			return "rev:" + st.Board.RevisionID.String()
		}
	}
	return stored
}

// stateOptions lists the states that somebody may correct a state to.
func stateOptions(now shop.State, by staff.Actor) []ui.Option {
	var out []ui.Option
	for _, s := range shop.States() {
		c := shop.Correction{Field: "state", New: string(s)}
		if s == now || c.Allowed(by, now) == nil {
			out = append(out, ui.Option{Value: string(s), Label: s.Title()})
		}
	}
	return out
}

// RevisionOptions leaves the choices of KindOptions that name a revision, and
// "unknown".
func RevisionOptions(kinds []ui.Option) []ui.Option {
	var out []ui.Option
	for _, o := range kinds {
		if o.Value == "" || len(o.Value) == len("rev:")+len(uuid.Nil.String()) && o.Value[:4] == "rev:" {
			out = append(out, o)
		}
	}
	return out
}

// RevisionSetSince tells whether the revision was set after a version of the ticket.
func RevisionSetSince(st *shop.Story, seen int64) bool {
	for _, e := range st.Entries {
		if e.Kind == journal.Revision && e.TicketVersion > seen {
			return true
		}
	}
	return false
}

// VoidPage asks once more before a ticket is made void.
type VoidPage struct {
	Frame   Frame
	Refusal Refusal
	Address string
	Subject string // "SEDGE D of Marsh Pumps, on the bench"
	Seen    string
	Reason  string
	Changed string
}

// NewVoid builds the page.
func NewVoid(f Frame, st *shop.Story, reason, currency string, refusal Refusal, sawOnly int64) VoidPage {
	f.Title = "Make ticket " + numeral(st.Ticket.Number) + " void?"
	p := VoidPage{Frame: f, Refusal: refusal, Address: TicketAddress(st.Ticket.Number), Seen: numeral(st.Ticket.Version), Reason: reason,
		Subject: BoardName(st.Board.FamilyName, st.Board.RevisionName) + " of " + st.Customer.Name + ", " + st.Ticket.State.Title()}
	if sawOnly > 0 {
		p.Changed = changedSince(st.Entries, sawOnly, f.Locale, currency, func(journal.Entry) bool { return true })
	}
	return p
}

// correctInput is the field as the form shows it.
func correctInput(p CorrectPage, hint string) ui.Input {
	return ui.Input{Name: "new", Label: "Right is", Hint: hint, Value: p.Typed.New, Problem: p.Refusal.Problem("new"),
		Required: p.Field == "complaint" || p.Field == "state", Focus: true}
}

func dateInput(in ui.Input) ui.Input {
	in.Type = "date"
	return in
}

func decimalInput(in ui.Input) ui.Input {
	in.Mode = "decimal"
	return in
}
