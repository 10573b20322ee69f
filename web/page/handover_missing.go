package page

import (
	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/ui"
)

// missing lists what a hand-over lacks and where to do it: first what stops it.
func missing(in HandOverInput, ticket string, may []ui.Option, l Locale) []MissingLine {
	st := in.Story
	var out []MissingLine
	say := func(when bool, stops bool, text, address, do string) {
		if when {
			out = append(out, MissingLine{Text: text, Address: address, Do: do, Stops: stops})
		}
	}
	bench, quoted := ticket+"/bench", ticket+"/quote"
	if !staff.Can(in.By.Role, staff.WorkOnBoards) {
		bench = "" // theirs to ask for, not to do
	}
	say(!offers(may, shop.HandedOver) && in.Trouble == "", true,
		"The board is "+st.Ticket.State.Title()+". As repaired it goes back only when it is “to be handed over”.", ticket, "Move it on the ticket")
	say(in.Trouble != "", true,
		"The board’s profile cannot be read, so its safety functions are not known. It does not go back as repaired before that is put right.", ticket, "Look at the ticket")
	say(in.Powered, false, "It was powered after it was last proven dead. Prove it dead before it is packed.", bench, "Prove it dead")
	say(st.Ticket.ProfileVersionID == nil, false,
		"The board has no profile, so the shop does not know its safety functions. If it guards a fire, a person or a machine, write below how that was proven.", bench, "Set the revision")
	say(!anyFinding(st.Findings), false, "Nothing is written down as found.", bench, "Write down what was found")
	say(len(st.Fitted) > 0 && !anyAfter(st.Readings), false, "Nothing was measured after the repair, so the slip shows no reading after it.", bench, "Measure it")
	sent := sentQuote(st)
	say(sent == nil, false, "No quote was sent; the slip bears no price.", quoted, "Write the quote")
	if sent != nil {
		if why := unanswered(st, in.Settings, sent, l); why != "" {
			say(true, false, why, quoted+"#answer", "Record the answer")
		}
	}
	return out
}

// offers tells whether a form offers a state.
func offers(may []ui.Option, s shop.State) bool {
	for _, o := range may {
		if o.Value == string(s) {
			return true
		}
	}
	return false
}

func anyFinding(list []evidence.Finding) bool {
	for _, f := range list {
		if f.WithdrawnAt == nil {
			return true
		}
	}
	return false
}

func anyAfter(list []evidence.Reading) bool {
	for _, r := range list {
		if r.Struck == nil && !r.NotPossible && r.Stage == evidence.StageAfter {
			return true
		}
	}
	return false
}

// sentQuote gives the version sent last; nil when none was.
func sentQuote(st *shop.Story) *quote.Version {
	for i := range st.Quotes {
		if st.Quotes[i].SentAt != nil {
			return &st.Quotes[i]
		}
	}
	return nil
}

// unanswered says that the customer said no to a quote, or why they should have
// been asked and no answer is on record; "" when the work is covered.
func unanswered(st *shop.Story, set shop.Settings, v *quote.Version, l Locale) string {
	totals, err := quote.Sum(v.Lines, v.Currency)
	if err != nil {
		return ""
	}
	for i := len(st.Consents) - 1; i >= 0; i-- {
		c := st.Consents[i]
		switch {
		case c.About != quote.AboutRepair || c.QuoteID == nil || *c.QuoteID != v.ID:
		case c.Answer == quote.No:
			return "The customer said no to the quote; as repaired it goes back only with a yes."
		default:
			return ""
		}
	}
	terms := quote.Terms{Limit: st.Ticket.Limit, NewBoard: st.NewBoard, AskPercent: set.AskPercent}
	if why := terms.Reasons(totals.Gross, l.Tag()); len(why) > 0 {
		return why[0] + " No answer to the quote is on record."
	}
	return ""
}
