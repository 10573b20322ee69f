package page

import (
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/shop"
)

// TicketLine is one board's stay in a list of such.
type TicketLine struct {
	Number   string // "2041"
	Address  string // of the ticket's page
	Board    string // "SEDGE D", "SEDGE, revision not known", "board not known yet"
	Serial   string // "" when there is none
	Why      string // why it is here: the indication, otherwise the complaint
	Customer string
	Phone    string // digits
	State    string // "on the bench"
	Since    string // "since Tuesday"
	Age      string // how long in this state: "3 days"
	Promised string // "Fri 28 Nov"; "" when nothing was promised
	Late     string // "3 days late"; "" when it is not
	Move     string // whose move it is: "ours", "the customer’s", "a supplier’s", "the clock’s"
	Bay      string
	Comeback bool
}

// TicketLineOf makes the line of a ticket as it stands now.
func TicketLineOf(t shop.Summary, l Locale, now time.Time) TicketLine {
	line := TicketLine{
		Number: strconv.FormatInt(t.Number, 10), Address: TicketAddress(t.Number),
		Board: BoardName(t.FamilyName, t.RevisionName), Serial: t.Serial, Why: t.Indication,
		Customer: t.CustomerName, Phone: t.PhoneDigits, State: t.State.Title(),
		Since: l.since(t.StateSince, now), Age: l.age(t.StateSince, now),
		Move: whoseMove(t.State), Bay: t.Bay, Comeback: t.Comeback,
	}
	if line.Why == "" {
		line.Why = t.Complaint
	}
	if t.PromisedOn != nil {
		line.Promised = l.Day(*t.PromisedOn)
	}
	if late := l.daysLate(t.PromisedOn, now); late > 0 && !t.State.Ended() {
		line.Late = count(late, "day") + " late"
	}
	return line
}

// TicketAddress is where a ticket's page is found.
func TicketAddress(number int64) string { return "/tickets/" + strconv.FormatInt(number, 10) }

// BoardName says what kind of board it is.
func BoardName(family, revision string) string {
	switch {
	case family == "":
		return "board not known yet"
	case revision == "":
		return family + ", revision not known"
	}
	return family + " " + revision
}

// whoseMove says who has to do something next; "" when nobody has.
func whoseMove(s shop.State) string {
	switch s {
	case shop.TakenIn, shop.OnShelf, shop.OnBench:
		return "ours"
	case shop.WaitingForYes, shop.ToHandOver:
		return "the customer’s"
	case shop.WaitingForPart:
		return "a supplier’s"
	case shop.OnSoak:
		return "the clock’s"
	}
	return ""
}

// ReadAloud answers "is it ready?" in one line that can be read to the caller.
func ReadAloud(t shop.Summary, l Locale, now time.Time) string {
	s := "Ticket " + strconv.FormatInt(t.Number, 10) + ", " + BoardName(t.FamilyName, t.RevisionName) + ": "
	s += stateAloud(t.State, l.since(t.StateSince, now), l.on(t.StateSince, now))
	if t.PromisedOn != nil && !t.State.Ended() {
		if l.daysLate(t.PromisedOn, now) > 0 {
			s += "; it was promised " + l.forDay(*t.PromisedOn, now) + " and is late"
		} else {
			s += "; promised " + l.forDay(*t.PromisedOn, now)
		}
	}
	return s + "."
}

// stateAloud says a state to a customer.
func stateAloud(s shop.State, since, on string) string {
	switch s {
	case shop.TakenIn:
		return "taken in " + on + ", not looked at yet"
	case shop.OnShelf:
		return "on the shelf " + since + ", waiting for its turn"
	case shop.WaitingForYes:
		return "waiting for your yes " + since
	case shop.OnSoak:
		return "running under load " + since
	case shop.ToHandOver:
		return "ready to be collected " + since
	case shop.HandedOver, shop.ReturnedUnrepaired, shop.Scrapped:
		return s.Title() + " " + on
	}
	return s.Title() + " " + since
}

// groupPhone sets a number in groups that can be read out: the last four digits,
// threes before them, and what is left.
func groupPhone(digits string) string {
	if len(digits) < 7 || strings.Trim(digits, "0123456789") != "" {
		return digits
	}
	rest, out := digits[:len(digits)-4], digits[len(digits)-4:]
	for len(rest) > 4 {
		rest, out = rest[:len(rest)-3], rest[len(rest)-3:]+" "+out
	}
	return rest + " " + out
}
