package page

import (
	"time"

	"ohmstead/internal/shop"
)

// ticketFacts lists what was written down about the ticket, the customer first.
func ticketFacts(st *shop.Story, l Locale, now time.Time) []Fact {
	t := st.Ticket
	facts := []Fact{
		customerFact(st.Customer, l),
		{Name: "Phone", Text: st.Customer.Phone},
		{Name: "E-mail", Text: st.Customer.Email},
		{Name: "Board", Text: BoardName(st.Board.FamilyName, st.Board.RevisionName), Field: "revision"},
		{Name: "Serial", Text: st.Board.Serial, Field: "serial"},
		{Name: "Our own tag", Text: st.Board.OwnTag},
		{Name: "Complaint", Text: t.Complaint, Field: "complaint"},
		{Name: "Indication", Text: t.Indication, Field: "indication"},
		{Name: "When it happens", Text: t.WhenHappens, Field: "when_happens"},
		{Name: "Worked on before by", Text: t.TouchedBefore, Field: "touched_before"},
		{Name: "Accessories", Text: t.Accessories, Field: "accessories"},
		{Name: "Condition", Text: t.Condition, Field: "condition"},
		limitFact(t, l),
		promisedFact(t, l, now),
		{Name: "If not repaired", Text: wishWords(t.IfNotRepaired), Field: "if_not_repaired"},
		{Name: "Bay", Text: t.Bay, Field: "bay"},
		{Name: "Taken in", Text: l.Moment(t.TakenInAt)},
	}
	if t.ComebackNumber != nil {
		facts = append(facts, Fact{Name: "Comeback of", Text: "ticket " + numeral(*t.ComebackNumber), Link: TicketAddress(*t.ComebackNumber)})
	}
	out := facts[:0]
	for _, f := range facts {
		if f.Text == "" && f.Field == "" {
			continue // nothing to read and nothing to put right
		}
		if f.Text == "" {
			f.Text, f.Quiet = "not written down", true
		}
		out = append(out, f)
	}
	return out
}

func customerFact(c shop.Customer, l Locale) Fact {
	f := Fact{Name: "Customer", Text: c.Name, Field: "customer"}
	if c.ErasedAt != nil {
		f.Text = "erased on " + l.Date(*c.ErasedAt) + " as the customer asked"
	}
	return f
}

func limitFact(t shop.Ticket, l Locale) Fact {
	f := Fact{Name: "Limit", Text: "none: ask before any work is charged", Field: "limit"}
	if t.Limit != nil {
		f.Text = l.Money(*t.Limit) + ", tax included"
	}
	return f
}

func promisedFact(t shop.Ticket, l Locale, now time.Time) Fact {
	f := Fact{Name: "Promised for", Field: "promised_on"}
	if t.PromisedOn == nil {
		return f
	}
	f.Text = l.Day(*t.PromisedOn)
	if late := l.daysLate(t.PromisedOn, now); late > 0 && !t.State.Ended() {
		f.Late = count(late, "day") + " late"
	}
	return f
}

// wishWords says what becomes of a board that is not repaired; "" not asked.
func wishWords(wish string) string {
	switch wish {
	case shop.WishReturn:
		return "give it back"
	case shop.WishScrap:
		return "scrap it"
	}
	return ""
}
