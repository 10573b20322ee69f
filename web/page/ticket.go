package page

import (
	"encoding/json"
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// TicketPage is one board's whole story on one page.
type TicketPage struct {
	Frame    Frame
	Number   string
	Address  string
	Seen     string // the ticket's version on this page
	Printed  string // when, for the paper's head
	Shop     string // the shop's address, for the paper's head
	Standing string // "On the bench since Tuesday, 3 days; the move is ours."
	Void     string // why the ticket does not count any more; "" when it does
	Also     string // digits that also mean something else; "" none
	Path     []PathStep
	Steps    []TicketStep
	Waits    string  // who takes the next step, when it is not who looks
	Refusal  Refusal // of a step that was refused
	Changed  string  // what somebody else did meanwhile, in a sentence
	Typed    TypedStep
	Places   []Place // Bench, Quote, Hand-over
	Facts    []Fact
	Money    []LimitSentence
	Total    string // of the quote that counts; "" without one
	Readings []ReadingLine
	Findings []WorkLine
	Fitted   []WorkLine
	SeenOn   []WorkLine
	Papers   []TicketPaper
	Before   []KnownStay // the board's other stays
	Past     *PastTable  // what earlier boards like this one turned out to be
	History  []HistoryLine
	Correct  bool // who looks may correct the ticket
	MayVoid  bool
}

// PathStep is one state on the ticket's way.
type PathStep struct {
	Title string
	Been  bool
	Here  bool
}

// TypedStep is what was typed for a step that was refused.
type TypedStep struct{ To, Reason string }

// Fact is one thing that was written down about the ticket.
type Fact struct {
	Name  string
	Text  string
	Quiet bool   // nothing was written down: Text says so
	Late  string // "3 days late"
	Link  string // address that Text leads to
	Field string // what a correction names it; "" cannot be corrected here
}

// WorkLine is a finding, a fitted part or something seen.
type WorkLine struct {
	Part   string
	Text   string
	By     string
	Struck bool
	Reason string // why it was withdrawn
}

// TicketPaper is a document that was given away.
type TicketPaper struct {
	Text    string
	Address string
}

// TicketInput is what a ticket's page is built from.
type TicketInput struct {
	Story    *shop.Story
	Site     shop.Site
	Settings shop.Settings
	Past     *PastInput // nil: the board's family is not known
	By       staff.Actor
	Now      time.Time

	Also    string
	Refusal Refusal
	Typed   TypedStep
	SawOnly int64 // with a conflict: the version that the person had seen; 0 otherwise
}

// NewTicket builds the page of a ticket.
func NewTicket(f Frame, in TicketInput) TicketPage {
	st, t, l := in.Story, in.Story.Ticket, f.Locale
	f.Title, f.Scripts = TicketTitle(st), append(f.Scripts, "paper.js")
	p := TicketPage{
		Frame: f, Number: strconv.FormatInt(t.Number, 10), Address: TicketAddress(t.Number),
		Seen: strconv.FormatInt(t.Version, 10), Printed: l.Moment(in.Now), Shop: in.Site.Address,
		Also: in.Also, Refusal: in.Refusal, Typed: in.Typed,
		Correct: t.VoidedAt == nil && staff.Can(in.By.Role, staff.TakeIn),
		MayVoid: t.VoidedAt == nil && staff.Can(in.By.Role, staff.VoidTickets),
	}
	p.Standing = ticketStanding(t, l, in.Now)
	if t.VoidedAt != nil {
		p.Void = "This ticket was made void on " + l.Moment(*t.VoidedAt) + ". Reason: " + t.VoidReason
	} else {
		p.Steps, p.Waits = ticketSteps(st, in.By)
	}
	p.Path = ticketPath(st)
	p.Places = ticketPlaces(p.Address, in.By)
	p.Facts = ticketFacts(st, l, in.Now)
	p.Total, p.Money = ticketMoney(st, in, l)
	names := namesOf(st)
	p.Readings = readingLines(st.Readings, l, names)
	p.Findings, p.Fitted, p.SeenOn = workLines(st, l, names)
	p.Papers = ticketPapers(st, l)
	p.Past = pastOf(in.Past, l)
	for _, b := range st.Before {
		stay := stayOf(b, l, in.Now)
		if b.SiteID != t.SiteID { // its number is that of another ticket here
			stay.Address, stay.Text = "", stay.Text+", in another shop of ours"
		}
		p.Before = append(p.Before, stay)
	}
	p.History = NewHistory(st.Entries, l, in.Site.Currency)
	if in.SawOnly > 0 {
		p.Changed = changedSince(st.Entries, in.SawOnly, l, in.Site.Currency, changesState)
	}
	return p
}

// answerAt is where the customer's answer is recorded, when a step waits for it.
func (p TicketPage) answerAt() string {
	for _, s := range p.Steps {
		if s.Missing != "" {
			return s.Link
		}
	}
	return ""
}

// changesState tells whether an entry says that the ticket stands elsewhere.
func changesState(e journal.Entry) bool {
	return e.Kind == journal.Moved || e.Kind == journal.Voided || e.Kind == journal.Corrected && e.Change.Field == "state"
}

// TicketTitle says which board it is, what it shows and where it stands.
func TicketTitle(st *shop.Story) string {
	s := "Ticket " + strconv.FormatInt(st.Ticket.Number, 10) + ": " + BoardName(st.Board.FamilyName, st.Board.RevisionName)
	if shows := strings.TrimRight(strings.TrimSpace(st.Ticket.Indication), "."); shows != "" {
		s += ", " + shows
	}
	if st.Ticket.VoidedAt != nil {
		return s + ", void."
	}
	s += ", " + st.Ticket.State.Title()
	if who := benchPerson(st); who != "" && st.Ticket.State == shop.OnBench {
		s += " with " + who
	}
	return s + "."
}

// ticketStanding says where the ticket stands, since when and whose move it is.
func ticketStanding(t shop.Ticket, l Locale, now time.Time) string {
	if t.State.Ended() {
		return capital(t.State.Title()) + " " + l.on(t.StateSince, now) + "."
	}
	when := l.since(t.StateSince, now)
	if t.State == shop.TakenIn {
		when = l.on(t.StateSince, now)
	}
	return capital(t.State.Title()) + " " + when + " (" + l.age(t.StateSince, now) + "). The move is " + whoseMove(t.State) + "."
}

// ticketPath is the way of the job with where the ticket has been and stands. An
// end other than handing over takes the place of the last step.
func ticketPath(st *shop.Story) []PathStep {
	been := map[shop.State]bool{shop.TakenIn: true}
	for _, e := range st.Entries {
		if e.Kind == journal.Moved || e.Kind == journal.Corrected && e.Change.Field == "state" {
			been[shop.State(e.Change.New)] = true
		}
	}
	now, end := st.Ticket.State, shop.HandedOver
	if now.Ended() {
		end = now
	}
	var path []PathStep
	for _, s := range shop.States() {
		if s.Ended() && s != end {
			continue
		}
		path = append(path, PathStep{Title: s.Title(), Been: been[s], Here: s == now})
	}
	return path
}

// ticketPlaces are where else in the application this ticket is worked on.
func ticketPlaces(at string, by staff.Actor) []Place {
	var places []Place
	if staff.Can(by.Role, staff.WorkOnBoards) {
		places = append(places, Place{Name: "Bench", Address: at + "/bench"})
	}
	if staff.Can(by.Role, staff.WriteQuotes) {
		places = append(places, Place{Name: "Quote", Address: at + "/quote"})
	}
	if staff.Can(by.Role, staff.HandOver) {
		places = append(places, Place{Name: "Hand-over", Address: at + "/hand-over"})
	}
	return places
}

// ticketMoney says what the quote comes to and what that means against the limit.
func ticketMoney(st *shop.Story, in TicketInput, l Locale) (string, []LimitSentence) {
	q := st.Quote()
	if q == nil {
		return "", nil
	}
	sum, err := quote.Sum(q.Lines, q.Currency)
	if err != nil {
		return "", []LimitSentence{{Text: "The quote cannot be added up: " + err.Error() + ".", Ask: true}}
	}
	var money []LimitSentence
	terms := quote.Terms{Limit: st.Ticket.Limit, NewBoard: st.NewBoard, AskPercent: in.Settings.AskPercent}
	for _, why := range terms.Reasons(sum.Gross, l.Tag()) {
		money = append(money, LimitSentence{Text: why, Ask: true})
	}
	if len(money) == 0 && sum.Gross.Minor > 0 {
		money = append(money, LimitSentence{Text: "This is within the limit of " + l.Money(*st.Ticket.Limit) + "."})
	}
	total := l.Money(sum.Gross) + ", tax included"
	if q.SentAt == nil {
		return total + " (draft, not sent)", money
	}
	return total + " (sent " + l.Moment(*q.SentAt) + ")", money
}

// ticketPapers lists what was given away. A quote's paper is found by the number
// of its version, which the paper itself holds.
func ticketPapers(st *shop.Story, l Locale) []TicketPaper {
	var out []TicketPaper
	at := TicketAddress(st.Ticket.Number)
	for _, d := range st.Documents {
		paper := TicketPaper{Text: capital(d.Kind) + " " + numeral(d.Number) + ", " + l.Moment(d.CreatedAt), Address: at + "/slip/" + numeral(d.Number)}
		if d.Kind == "quote" {
			paper.Address = at + "/quote"
			var v quote.Offer
			if json.Unmarshal(d.Content, &v) == nil && v.Version.Number > 0 {
				paper.Address += "/" + strconv.Itoa(v.Version.Number)
			}
		}
		out = append(out, paper)
	}
	return out
}
