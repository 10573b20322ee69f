package page

import (
	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// TicketStep is one step that the person may take next.
type TicketStep struct {
	To      string // the state's code
	Button  string // what pressing it does
	Ask     string // question for the reason; "" when none is needed
	Link    string // the step is taken on a page of its own
	Missing string // what must be there first, "the customer's yes"; "" the step may be taken
}

// ticketSteps offers the steps that the role may take from where the ticket
// stands. Those that need an answer or a slip lead to where it is given.
func ticketSteps(st *shop.Story, by staff.Actor) (steps []TicketStep, waits string) {
	at := TicketAddress(st.Ticket.Number)
	for _, tr := range shop.Steps(by, st.Ticket.State) {
		step := TicketStep{To: string(tr.To), Button: stepButton(tr)}
		facts := answersOf(st)
		if err := shop.Step(by, tr.From, tr.To, facts); fault.Fields(err)["reason"] != "" {
			step.Ask = reasonQuestion(tr)
		}
		facts.Reason = "any"
		err := shop.Step(by, tr.From, tr.To, facts)
		switch {
		case tr.To == shop.HandedOver || tr.To == shop.ReturnedUnrepaired:
			step.Link = at + "/hand-over"
		case err != nil:
			step.Missing, step.Link = needWords(tr), at+"/quote#answer"
		}
		steps = append(steps, step)
	}
	if len(steps) == 0 && !st.Ticket.State.Ended() {
		waits = "The next step is a technician’s."
	}
	return steps, waits
}

// needWords says what a step needs.
func needWords(tr shop.Transition) string {
	var needs []string
	for _, n := range tr.Needs {
		needs = append(needs, string(n))
	}
	return sentenceList(needs)
}

// answersOf says which answers of the customer count for the next step.
func answersOf(st *shop.Story) shop.Facts {
	var f shop.Facts
	for _, c := range st.Consents {
		if c.About == quote.AboutScrap {
			f.ScrapYes = c.Answer == quote.Yes // the last one counts
			continue
		}
		if c.RecordedAt.Before(st.Ticket.StateSince) {
			continue
		}
		f.Yes = f.Yes || c.Answer == quote.Yes || c.Answer == quote.NewLimit
		f.No = f.No || c.Answer == quote.No
	}
	return f
}

// reasonID names the field for a step's reason; the messages of a refused step
// lead to its own.
func (p TicketPage) reasonID(s TicketStep) string {
	if p.Typed.To == s.To {
		return "f-reason"
	}
	return "reason-" + s.To
}

// stepButton says what a step does.
func stepButton(tr shop.Transition) string {
	switch tr.To {
	case shop.OnShelf:
		return "Put it on the shelf"
	case shop.OnBench:
		if tr.From == shop.OnSoak || tr.From == shop.ToHandOver {
			return "Take it back to the bench"
		}
		return "Take it to the bench"
	case shop.WaitingForYes:
		return "Wait for the customer’s yes"
	case shop.WaitingForPart:
		return "Wait for a part"
	case shop.OnSoak:
		return "Put it on soak"
	case shop.ToHandOver:
		return "Have it ready to be handed over"
	case shop.HandedOver:
		return "Hand it over"
	case shop.ReturnedUnrepaired:
		return "Return it unrepaired"
	case shop.Scrapped:
		return "Scrap it"
	}
	return capital(tr.To.Title())
}

// reasonQuestion asks for a step's reason.
func reasonQuestion(tr shop.Transition) string {
	switch tr.To {
	case shop.WaitingForYes:
		return "What does the customer have to say yes to?"
	case shop.WaitingForPart:
		return "Which part, and from whom?"
	case shop.OnBench:
		return "Why does it go back to the bench?"
	}
	return "Why?"
}
