package page

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
	"ohmstead/web/ui"
)

// BenchPage is the reading screen of one ticket.
type BenchPage struct {
	Frame    Frame
	Number   string
	Address  string // of the ticket's bench: "/tickets/2041/bench"
	Ticket   string // of the ticket's own page
	Edge     ui.Edge
	OnBench  bool   // the ticket's state is "on the bench"
	State    string // the ticket's state in words
	Version  string // of the ticket, as this page saw it
	Said     string // what was just stored, in a sentence; "" nothing
	Refusal  Refusal
	Unknown  *UnknownBoard // nil when a profile is known
	Correct  *UnknownBoard // what was typed to set another revision, when its own form is not there any more; nil: nothing
	Trouble  string        // why the engine said nothing; "" when it did
	Meter    MeterChoice
	Strips   []StripChoice
	Strip    *ui.Strip
	Check    *CheckPanel  // the check at hand; nil when there is none
	Panels   []CheckPanel // the other checks, for the page that lost its network
	Free     *FreeEntry   // a reading that no check describes; nil when not asked for
	Gate     GatePanel
	Power    []PowerCard // the powered states, and what matters before them
	Powered  string      // the state in which it stands powered, in words; "" when not
	Tape     []TapeLine  // newest first
	Suspects *SuspectList
	Pending  bool       // the suspects are still being worked out
	Reload   string     // where the page is loaded again to see them
	Before   string     // which suspects were the cause on other boards; "" none
	Past     *PastTable // what earlier boards like this one turned out to be
	Table    ExpectedTable
	Offline  OfflineTable // what the page knows without the network
	Marks    Marks
}

// BenchInput is everything from which the page is made.
type BenchInput struct {
	Story       *shop.Story
	Model       *bench.Model     // nil: no profile is known
	Judged      *bench.Judgement // nil: no profile, or the engine refused
	Trouble     string           // why the engine refused
	Strip       *analysis.StripView
	Good        map[profile.Key]bench.GoodBoards // what known-good boards read, by check
	Gate        evidence.Gate
	Limits      evidence.Limits
	Meter       *meter.Meter          // in hand
	Instrument  *evidence.Instrument  // whose it is; nil: the built-in default
	Instruments []evidence.Instrument // the shop's meters
	Revisions   []shop.Revision       // to choose from when the board's own is not known
	Past        *PastInput            // how earlier boards like it went; nil: its family is not known
	Causes      past.Causes           // confirmed on other boards of the family
	Check       string                // id of the check at hand, "" to be chosen
	After       string                // id of the check that was read last: the next is looked for behind it
	Free        bool                  // a free entry was asked for
	Stored      uuid.UUID             // the reading that was just stored
	NewID       func() string         // makes UUIDv7s for the forms
	Entry       bench.Entry           // of a refused form, as typed
	Proof       map[string]string
	Fields      map[string]string // of a refused small form, as typed
	Refused     error             // why the form came back
	Form        string            // which form came back: "reading", "gate", "seen", …
	Locale      Locale
	Now         time.Time
}

// NewBench makes the page; the caller adds the frame.
func NewBench(in BenchInput) BenchPage {
	t := in.Story.Ticket
	p := BenchPage{
		Number: strconv.FormatInt(t.Number, 10), Address: BenchAddress(t.Number), Ticket: TicketAddress(t.Number),
		OnBench: t.State == shop.OnBench, State: t.State.Title(), Version: strconv.FormatInt(t.Version, 10),
		Trouble: in.Trouble,
	}
	in.Check = in.chosen()
	switch in.Form { // the other forms show theirs beside their fields
	case "strike", "power":
		p.Refusal = RefusalOf(in.Refused)
	}
	p.Powered = in.poweredTitle()
	p.Edge = edgeOf(in)
	p.Meter = meterChoice(in)
	p.Gate = gateOf(in)
	p.Power = powerCards(in)
	p.Tape = tapeOf(in)
	p.Marks = marksOf(in)
	p.Past = pastOf(in.Past, in.Locale)
	if in.Model == nil {
		p.Unknown = unknownOf(in)
		p.Free = freeOf(in)
		return p
	}
	p.Table = tableOf(in)
	p.Strips = stripChoices(in)
	p.Strip = stripOf(in)
	p.Suspects = suspectsOf(in)
	if in.Form == "revision" && (p.Suspects == nil || p.Suspects.Other == nil) { // its form is not there any more
		p.Correct = correctOf(in)
	}
	if in.Judged != nil {
		p.Pending, p.Reload = in.Judged.Pending, p.Address+afterQuery(in.After)
	}
	if p.Suspects != nil {
		p.Before = foundBefore(in.Causes, in.Judged.Result.Sets)
	}
	p.Offline = offlineOf(in)
	if in.Free {
		p.Free = freeOf(in)
		return p
	}
	p.checks(in)
	for _, line := range p.Tape {
		if line.ID == in.Stored.String() {
			p.Said = line.sentence()
		}
	}
	return p
}

// gateAbove tells whether "Prove dead" stands where the next step is, and not
// further down.
func (p *BenchPage) gateAbove() bool {
	if p.Free != nil {
		return p.Powered == "" && !p.Gate.Open
	}
	return p.Check != nil && p.Check.Bar == bench.ProveDead
}

// BenchAddress is where a ticket's bench is found.
func BenchAddress(number int64) string { return TicketAddress(number) + "/bench" }

// BenchTitle is the page's title as a sentence: "Ticket 2041: SEDGE D, two
// blinks, on the bench with Tobin."
func BenchTitle(story *shop.Story, m *bench.Model) string {
	t := story.Ticket
	s := "Ticket " + strconv.FormatInt(t.Number, 10) + ": " + BoardName(story.Board.FamilyName, story.Board.RevisionName)
	if shown := indicationWords(t.Indication, m); shown != "" {
		s += ", " + shown
	}
	s += ", " + t.State.Title()
	if who := benchPerson(story); who != "" && t.State == shop.OnBench {
		s += " with " + who
	}
	return s + "."
}

// indicationWords says what the board shows, in the profile's words when it
// knows them.
func indicationWords(written string, m *bench.Model) string {
	written = strings.TrimSpace(written)
	if m == nil || written == "" {
		return written
	}
	code := m.Code(written)
	for _, i := range m.Profile.Indications {
		if i.Code == code && i.Shows != "" {
			return i.Shows
		}
	}
	if code == "none" {
		return "shows nothing"
	}
	return written
}

// benchPerson names who took the ticket to the bench.
func benchPerson(story *shop.Story) string {
	for _, e := range slices.Backward(story.Entries) {
		if e.Change.New == string(shop.OnBench) {
			return e.PersonName
		}
	}
	return ""
}

// checks fills in the check at hand and, for a page that has lost its network,
// all others.
func (p *BenchPage) checks(in BenchInput) {
	own := in.Model.Profile.Checks
	for i := range own {
		panel := panelOf(in, own[i], i+1, len(own))
		if own[i].ID == in.Check {
			p.Check = &panel
		}
		p.Panels = append(p.Panels, panel)
	}
}

// chosen gives the check at hand: the one asked for, or the next to be made.
func (in BenchInput) chosen() string {
	if in.Model == nil || in.Free {
		return ""
	}
	if _, known := in.Model.Profile.Check(in.Check); known {
		return in.Check
	}
	if in.Judged == nil {
		return ""
	}
	return in.Judged.Next(in.Model.Profile, in.After)
}

// afterQuery keeps in an address which check was read last.
func afterQuery(check string) string {
	if check == "" {
		return ""
	}
	return "?after=" + url.QueryEscape(check)
}

// poweredTitle says in which state the board stands powered.
func (in BenchInput) poweredTitle() string {
	state := bench.Powered(in.Story)
	if state == "" || in.Model == nil {
		return state
	}
	if st, ok := in.Model.Profile.State(state); ok && st.Title != "" {
		return st.Title
	}
	return state
}

// row finds the newest row of a check, nil when the engine gave none.
func (in BenchInput) row(c profile.Check) *analysis.Row {
	if in.Judged == nil {
		return nil
	}
	return in.Judged.Row(c.Key())
}

// typed gives back what a refused form of that name held in a field.
func (in BenchInput) typed(form, field string) string {
	if in.Form != form {
		return ""
	}
	return in.Fields[field]
}

// refusal is the refusal of that form alone.
func (in BenchInput) refusal(form string) Refusal {
	if in.Form != form {
		return Refusal{}
	}
	return RefusalOf(in.Refused, entryFields...)
}

// entryFields is the order in which the reading form's problems are listed.
var entryFields = []string{"id", "check", "state", "measure", "across", "red", "black", "typed", "residue"}
