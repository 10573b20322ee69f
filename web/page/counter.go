package page

import (
	"fmt"
	"time"

	"ohmstead/internal/shop"
)

// CounterPage is what is in the shop, in the order of the job, and whom to call
// today.
type CounterPage struct {
	Frame  Frame
	Calls  []Call
	Groups []CounterGroup
	More   bool // there are more boards than are listed
}

// CounterGroup is the boards of one state.
type CounterGroup struct {
	State string // its code, for the heading's id
	Title string // "On the bench"
	Count string // "3 boards"
	Lines []TicketLine
}

// Call is a customer to be called, in a sentence.
type Call struct {
	Customer string
	Phone    string
	Why      string // "has been ready to be collected"; Since follows
	Number   string
	Address  string
	Board    string
	Since    string
	Late     string
}

// NewCounter sorts what is in the shop into its page. open comes in the order of
// the states.
func NewCounter(f Frame, open []shop.Summary, more bool, now time.Time) CounterPage {
	p := CounterPage{Frame: f, More: more}
	late := 0
	for _, t := range open {
		line := TicketLineOf(t, f.Locale, now)
		if n := len(p.Groups); n == 0 || p.Groups[n-1].State != string(t.State) {
			p.Groups = append(p.Groups, CounterGroup{State: string(t.State), Title: capital(t.State.Title())})
		}
		g := &p.Groups[len(p.Groups)-1]
		g.Lines = append(g.Lines, line)
		if line.Late != "" {
			late++
		}
		if why := callFor(t.State); why != "" {
			p.Calls = append(p.Calls, Call{Customer: t.CustomerName, Phone: groupPhone(t.PhoneDigits), Why: why,
				Number: line.Number, Address: line.Address, Board: line.Board, Since: line.Since, Late: line.Late})
		}
	}
	for i := range p.Groups {
		p.Groups[i].Count = count(len(p.Groups[i].Lines), "board")
	}
	p.Frame.Title = counterTitle(len(open), late, more)
	return p
}

// counterTitle says what is in the shop in a sentence.
func counterTitle(open, late int, more bool) string {
	switch {
	case open == 0:
		return "No board is in the shop."
	case more:
		return "In the shop: more than " + count(open, "board") + "."
	case late == 0:
		return "In the shop: " + count(open, "board") + ", none late."
	}
	return fmt.Sprintf("In the shop: %s, %d late.", count(open, "board"), late)
}

// callFor says why a customer is to be called; "" when there is no reason.
func callFor(s shop.State) string {
	switch s {
	case shop.WaitingForYes:
		return "has waited for a yes or a no"
	case shop.ToHandOver:
		return "has been ready to be collected"
	}
	return ""
}
