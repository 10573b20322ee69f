package page

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

// AnswerForm is a customer's answer as typed.
type AnswerForm struct {
	To     string // number of the quote's version that the person saw as sent last; "" for none
	About  string // quote.AboutRepair or AboutScrap
	Text   string // what the customer was told
	Who    string
	Answer string // quote.Yes, No or NewLimit
	Limit  string
	Way    string
	At     string // as a datetime-local field has it
	Then   string // the state to move to; "" stays
}

// AnswerFields lists the form's fields in the order of the page.
var AnswerFields = []string{"about", "text_shown", "who", "answer", "limit", "way", "answered_at", "then"}

// AnswerLine is one answer on record.
type AnswerLine struct {
	Said     string // "yes to the repair", "new limit of €120.00"
	Who      string
	Way      string
	When     string
	Version  string // of the quote it answers; "" without one
	Text     string // what the customer was told
	Recorded string // "recorded by Mirela, 4 Mar 2026, 14:21"
}

// AnswerStep is a state to which an answer may take the ticket.
type AnswerStep struct{ State, Title string }

// answers fills in the answers on record and the form for the next.
func (p *QuotePage) answers(in QuoteInput, l Locale) {
	st := in.Story
	for i := len(st.Consents) - 1; i >= 0; i-- {
		p.Answers = append(p.Answers, answerLine(st, st.Consents[i], l))
	}
	for _, t := range shop.Steps(in.By, st.Ticket.State) {
		if needsAnswer(t) {
			p.Steps = append(p.Steps, AnswerStep{State: string(t.To), Title: t.To.Title()})
		}
	}
	if in.Answer != nil {
		p.Answering = *in.Answer
		return
	}
	p.Answering = AnswerForm{To: VersionSent(st),
		About: quote.AboutRepair, Text: toRead(st, in.Settings, l), Who: st.Customer.Name, At: l.InputTime(in.Now),
	}
}

// VersionSent gives the number of the version that the customer has, "" without one.
func VersionSent(st *shop.Story) string {
	if v := sentLast(st); v != nil {
		return strconv.Itoa(v.Number)
	}
	return ""
}

func sentLast(st *shop.Story) *quote.Version {
	for i := range st.Quotes {
		if st.Quotes[i].SentAt != nil {
			return &st.Quotes[i]
		}
	}
	return nil
}

// needsAnswer tells whether a step waits for what the customer says.
func needsAnswer(t shop.Transition) bool {
	return slices.ContainsFunc(t.Needs, shop.Need.Answer)
}

func answerLine(st *shop.Story, c quote.Consent, l Locale) AnswerLine {
	a := AnswerLine{Said: said(c, l), Who: c.Who, Way: wayWords(c.Way), When: l.Moment(c.AnsweredAt), Text: c.TextShown}
	a.Recorded = "recorded " + l.Moment(c.RecordedAt)
	if name := personIn(st, c.PersonID); name != "" {
		a.Recorded = "recorded by " + name + ", " + l.Moment(c.RecordedAt)
	}
	if c.QuoteID != nil {
		for _, v := range st.Quotes {
			if v.ID == *c.QuoteID {
				a.Version = strconv.Itoa(v.Number)
			}
		}
	}
	return a
}

// said says what the customer said.
func said(c quote.Consent, l Locale) string {
	about := " to the repair"
	if c.About == quote.AboutScrap {
		about = " to scrapping the board"
	}
	if c.Answer == quote.NewLimit && c.Limit != nil {
		return "yes up to a new limit of " + l.Money(*c.Limit)
	}
	return string(c.Answer) + about
}

// wayWords completes "answered ...".
func wayWords(way string) string {
	if way == "in person" {
		return way
	}
	return "by " + way
}

// toRead proposes what to tell the customer: the quote sent last, in a sentence.
func toRead(st *shop.Story, set shop.Settings, l Locale) string {
	v := sentLast(st)
	if v == nil {
		return ""
	}
	totals, err := quote.Sum(v.Lines, v.Currency)
	if err != nil {
		return ""
	}
	name := "Our quote"
	if n := QuoteNumber(st, v); n > 0 {
		name = "Quote " + strconv.FormatInt(n, 10)
	}
	text := name + ": repair of " + boardWords(st.Board) + ", " + l.Money(totals.Gross) + ", tax included."
	if fee := feeGross(set, v.Currency); fee.Minor > 0 {
		text += " Without the repair the examination fee of " + l.Money(fee) + " is charged."
	}
	return text
}

const inputTime = "2006-01-02T15:04"

// InputTime writes a time as a datetime-local field has it, in the shop's zone.
func (l Locale) InputTime(t time.Time) string { return l.in(t).Format(inputTime) }

// ReadInputTime reads what InputTime wrote; seconds, which some browsers add,
// are read too.
func (l Locale) ReadInputTime(s string) (time.Time, error) {
	zone := l.zone
	if zone == nil {
		zone = time.UTC
	}
	for _, layout := range []string{inputTime, inputTime + ":05"} {
		if t, err := time.ParseInLocation(layout, strings.TrimSpace(s), zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fault.New(fault.Invalid, "Enter day and time.")
}

func answerOptions() []ui.Option {
	return []ui.Option{
		{Value: string(quote.Yes), Label: "yes"}, {Value: string(quote.No), Label: "no"},
		{Value: string(quote.NewLimit), Label: "yes, up to a new limit"},
	}
}

func aboutOptions() []ui.Option {
	return []ui.Option{{Value: quote.AboutRepair, Label: "the repair"}, {Value: quote.AboutScrap, Label: "scrapping the board"}}
}

func wayOptions() []ui.Option {
	var out []ui.Option
	for _, w := range quote.Ways() {
		out = append(out, ui.Option{Value: w, Label: w})
	}
	return out
}

func (p QuotePage) stepOptions() []ui.Option {
	out := []ui.Option{{Value: "", Label: "leave it where it is"}}
	for _, s := range p.Steps {
		out = append(out, ui.Option{Value: s.State, Label: s.Title})
	}
	return out
}
