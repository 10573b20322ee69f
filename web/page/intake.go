package page

import (
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

// TakeInPage is the counter's form for a board that comes in.
type TakeInPage struct {
	Frame   Frame
	Refusal Refusal
	Typed   IntakeForm
	Matches CustomerMatches
	Known   KnownBoard
	Kinds   []ui.Option // families and revisions
	Fee     string      // what is charged for looking, in a sentence; "" nothing
}

// IntakeForm is the form as typed; it comes back unchanged when it is refused.
type IntakeForm struct {
	FormID        string // made with the form: sent twice, it makes one ticket
	Who           string // phone digits or the beginning of a name
	Customer      string // the chosen customer's key, NewCustomer, or "" not chosen
	Name          string
	Phone         string
	Email         string
	Complaint     string
	Kind          string // see KindOptions
	Serial        string
	OwnTag        string
	NotAComeback  string // "yes" when ticked
	Indication    string
	WhenHappens   string
	TouchedBefore string
	Accessories   string
	Condition     string
	Limit         string
	AskFirst      string // "yes" when ticked
	PromisedOn    string // 2006-01-02
	IfNotRepaired string
	Bay           string
}

// NewCustomer is the choice of nobody who is known.
const NewCustomer = "new"

// IntakeOrder lists the fields in the order of the form.
func IntakeOrder() []string {
	return []string{"who", "customer", "name", "phone", "email", "complaint", "kind", "serial", "own_tag", "indication",
		"when_happens", "touched_before", "accessories", "condition", "limit", "promised_on", "if_not_repaired", "bay"}
}

// input is one field of the form with what was typed and what is wrong with it.
func (p TakeInPage) input(name, label, value string) ui.Input {
	return ui.Input{Name: name, Label: label, Value: value, Problem: p.Refusal.Problem(name)}
}

// newOpen tells whether the part for a new customer lies open.
func (p TakeInPage) newOpen() bool {
	t := p.Typed
	return t.Customer == NewCustomer || t.Name != "" || t.Phone != "" || t.Email != "" ||
		p.Refusal.Problem("name") != "" || p.Refusal.Problem("phone") != "" || p.Refusal.Problem("email") != ""
}

// CustomerMatches are the customers whom a few digits or letters may mean.
type CustomerMatches struct {
	Asked     bool // somebody was looked for
	KnownOnly bool // a new customer is no choice here
	Chosen    string
	List      []CustomerMatch
}

// CustomerMatch is one customer to choose.
type CustomerMatch struct {
	ID         string
	Name       string
	Phone      string
	Limit      string // the standing limit in words of the locale; "" none
	LimitTyped string // the same, as the limit's field holds it
	Note       string
}

// NewCustomerMatches makes the choice; one customer alone is chosen at once.
func NewCustomerMatches(asked bool, found []shop.Customer, chosen, locale string) CustomerMatches {
	m := CustomerMatches{Asked: asked, Chosen: chosen}
	for _, c := range found {
		line := CustomerMatch{ID: c.ID.String(), Name: c.Name, Phone: c.Phone, Note: c.Note}
		if line.Phone == "" {
			line.Phone = c.Email
		}
		if c.StandingLimit != nil {
			line.Limit, line.LimitTyped = c.StandingLimit.Format(locale), c.StandingLimit.Field(locale)
		}
		m.List = append(m.List, line)
	}
	if len(m.List) == 1 && chosen == "" {
		m.Chosen = m.List[0].ID
	}
	return m
}

// Status says how many customers were found.
func (m CustomerMatches) Status() string {
	switch {
	case !m.Asked:
		return ""
	case len(m.List) == 0 && m.KnownOnly:
		return "Nobody is known by that. Look for other digits or another part of the name."
	case len(m.List) == 0:
		return "Nobody is known by that. Enter the new customer below."
	case len(m.List) == 1:
		return "One customer found."
	}
	return count(len(m.List), "customer") + " found; choose one."
}

// KnownBoard says that a board was here before.
type KnownBoard struct {
	Kind  string // the option of the form that this board is, "" not known
	Stays []KnownStay
}

// KnownStay is one earlier stay.
type KnownStay struct {
	Number  string
	Address string // "" when it was in another shop of the company
	Text    string // "SEDGE D of Marsh Pumps, handed over on 3 Mar 2026"
	Here    bool   // it is in the shop now
}

// NewKnownBoard makes it of the tickets that a search for the serial found;
// others, which merely look alike, are left out.
func NewKnownBoard(serial string, found []shop.Summary, kinds []ui.Option, l Locale, now time.Time) KnownBoard {
	var k KnownBoard
	key := shop.SerialKey(serial)
	for _, t := range found {
		if key == "" || shop.SerialKey(t.Serial) != key {
			continue
		}
		k.Stays = append(k.Stays, stayOf(t, l, now))
		board := BoardName(t.FamilyName, t.RevisionName)
		for _, o := range kinds {
			if k.Kind == "" && o.Label == board {
				k.Kind = o.Value
			}
		}
	}
	return k
}

// stayOf says whose board it was and what became of it.
func stayOf(t shop.Summary, l Locale, now time.Time) KnownStay {
	when := l.since(t.StateSince, now)
	if t.State.Ended() {
		when = l.on(t.StateSince, now)
	}
	return KnownStay{
		Number: numeral(t.Number), Address: TicketAddress(t.Number), Here: !t.State.Ended(),
		Text: BoardName(t.FamilyName, t.RevisionName) + " of " + t.CustomerName + ", " + t.State.Title() + " " + when,
	}
}

// KindOptions lists families and revisions for a select: "rev:<key>" is a
// revision, "fam:<key>" a family whose revision is not known, "" neither.
func KindOptions(families []shop.Family, revisions []shop.Revision) []ui.Option {
	options := []ui.Option{{Value: "", Label: "unknown"}}
	of := map[uuid.UUID][]shop.Revision{}
	for _, r := range revisions {
		of[r.FamilyID] = append(of[r.FamilyID], r)
	}
	for _, f := range families {
		for _, r := range of[f.ID] {
			options = append(options, ui.Option{Value: "rev:" + r.ID.String(), Label: BoardName(f.Name, r.Name)})
		}
		options = append(options, ui.Option{Value: "fam:" + f.ID.String(), Label: BoardName(f.Name, "")})
	}
	return options
}

// FeeSentence says what looking at a board costs; "" when it costs nothing.
func FeeSentence(set shop.Settings, currency, locale string) string {
	fee, err := quote.LineNet(quote.Line{Quantity: quote.Whole(1), UnitPrice: set.ExaminationFee}, currency)
	if err != nil || fee.Minor <= 0 {
		return ""
	}
	s := "The examination fee is " + fee.Format(locale) + " without tax"
	if set.CreditFee {
		s += ", credited when the board is repaired"
	}
	return s + "."
}

// wishOptions are what may become of a board that is not repaired.
func wishOptions() []ui.Option {
	return []ui.Option{
		{Value: shop.WishReturn, Label: "give it back"},
		{Value: shop.WishScrap, Label: "scrap it"},
		{Value: "", Label: "not asked"},
	}
}

func required(in ui.Input) ui.Input {
	in.Required = true
	return in
}

func hinted(in ui.Input, hint string) ui.Input {
	in.Hint = hint
	return in
}

// ChosenLimit gives the standing limit of the chosen customer as the limit's
// field holds it; "" when there is none.
func (m CustomerMatches) ChosenLimit() string {
	for _, c := range m.List {
		if c.ID == m.Chosen {
			return c.LimitTyped
		}
	}
	return ""
}
