package page

import (
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
	"ohmstead/internal/quote/estimate"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/ui"
)

// QuotePage is a ticket's quote at work: its lines, what they come to, what that
// means against the limit, what the bench has done that is not in it yet, what
// was sent and what the customer answered.
type QuotePage struct {
	Frame     Frame
	Refusal   Refusal
	Ticket    string // number
	Address   string // of the ticket's page
	Subject   string // "SEDGE D, serial 4711, for Brook Farm"
	Standing  string // where the quote stands, in a sentence
	Form      QuoteForm
	Rows      []QuoteRowView
	Totals    *TotalsView // nil while a line cannot be read, or without lines
	Currency  string
	Limits    []LimitSentence
	Work      []WorkChoice
	Fee       string      // "Examination fee €25.00, credited on repair"; "" when there is none
	Unpriced  []int       // lines at a price of 0, as numbered on the page
	CanWait   bool        // sending may also put the ticket to waiting for a yes
	Taxes     []quote.Tax // the shop's, for the choice on each line
	Frozen    bool        // the version that counts was sent; a change begins the next
	Sent      []PaperLine // the lines of a version that is only read here
	Open      bool        // the form is shown although the version is frozen
	Closed    bool        // the board has left or the ticket is void: nothing changes any more
	Conflict  *QuoteConflict
	Versions  []VersionLine
	Answering AnswerForm
	AnswerBad Refusal
	Answers   []AnswerLine
	Steps     []AnswerStep
}

// QuoteRowView is a row of the form with what it comes to.
type QuoteRowView struct {
	QuoteRow
	Number int    // from 1
	Amount Figure // empty while a row cannot be read
	First  bool   // cannot move up
	Last   bool   // cannot move down
	New    bool   // the empty row at the end
	Free   bool   // stored without a price
}

// LimitSentence is one plain sentence about the total and what was agreed.
type LimitSentence struct {
	Text string
	Ask  bool // the customer has to be asked
}

// WorkChoice is a repair that one tap puts into the quote.
type WorkChoice struct {
	Do    string // what the button sends
	Title string // "Replace R13 (open)"
	In    bool   // the lines speak of it already
}

// QuoteConflict shows what somebody else stored while this form was open.
type QuoteConflict struct {
	Who   string
	Lines []PaperLine
	Note  string
}

// VersionLine is one version in the list.
type VersionLine struct {
	Number  string
	Address string // of the paper
	What    string // "draft, not sent", "sent 4 Mar 2026, 14:20 by Mirela as quote 17"
	Total   string
}

// QuoteInput is what the quote's page is built from.
type QuoteInput struct {
	Story    *shop.Story
	Site     shop.Site
	Settings shop.Settings
	By       staff.Actor
	Now      time.Time

	Typed   *QuoteForm   // nil: the stored version is shown
	Lines   []quote.Line // what Typed means; nil when it cannot be read
	Refusal Refusal
	Clash   bool // what was typed met a change made elsewhere

	Answer    *AnswerForm // nil: a new, empty one
	AnswerBad Refusal
}

// NewQuote builds the page of a ticket's quote.
func NewQuote(f Frame, in QuoteInput) QuotePage {
	st := in.Story
	p := QuotePage{
		Ticket: strconv.FormatInt(st.Ticket.Number, 10), Address: TicketAddress(st.Ticket.Number),
		Subject: boardFor(st), Refusal: in.Refusal, AnswerBad: in.AnswerBad,
		Currency: QuoteCurrency(st, in.Site),
	}
	f.Title = "Quote for ticket " + p.Ticket + ": " + BoardName(st.Board.FamilyName, st.Board.RevisionName) + ", " + st.Customer.Name
	p.Frame = f
	current := st.Quote()
	p.Taxes = in.Settings.Taxes
	p.Frozen = current != nil && current.SentAt != nil
	p.Closed = st.Ticket.State.Ended() || st.Ticket.VoidedAt != nil
	if current != nil && (p.Frozen || p.Closed) {
		p.Sent = PaperLines(current.Lines, p.Currency, f.Locale)
	}
	p.Open = in.Typed != nil || current == nil && !p.Closed
	p.Standing = standing(st, f.Locale, current)
	lines := p.fill(in, f.Locale, current)
	p.price(in, f.Locale, lines)
	p.offer(in, f.Locale)
	if in.Clash {
		p.Conflict = clash(st, f.Locale, p.Currency)
	}
	p.Versions = versionLines(st, f.Locale)
	p.answers(in, f.Locale)
	return p
}

// fill puts the rows on the page and gives the lines they mean.
func (p *QuotePage) fill(in QuoteInput, l Locale, current *quote.Version) []quote.Line {
	lines := in.Lines
	if in.Typed == nil {
		p.Form = QuoteForm{Seen: strconv.FormatInt(in.Story.Ticket.Version, 10), Note: TermsNote(in.Settings, p.Currency, l)}
		if current != nil {
			lines, p.Form.Note = current.Lines, current.Note
			p.Form.Rows = RowsOf(current.Lines, p.Currency, l)
		}
	} else {
		p.Form = *in.Typed
		if in.Clash {
			p.Form.Seen = strconv.FormatInt(in.Story.Ticket.Version, 10)
		}
	}
	for i, r := range p.Form.Rows {
		p.Rows = append(p.Rows, QuoteRowView{QuoteRow: r, Number: i + 1, First: i == 0, Last: i == len(p.Form.Rows)-1})
	}
	blank := QuoteRow{Kind: string(quote.Part), Quantity: "1", Tax: TaxCode(estimate.UsualTax(in.Settings))}
	p.Rows = append(p.Rows, QuoteRowView{QuoteRow: blank, Number: len(p.Rows) + 1, New: true})
	return lines
}

// price adds up what the rows come to and holds it against the limit.
func (p *QuotePage) price(in QuoteInput, l Locale, lines []quote.Line) {
	if len(lines) == 0 {
		return
	}
	totals, err := quote.Sum(lines, p.Currency)
	if err != nil {
		return
	}
	view := NewTotals(totals, l)
	p.Totals = &view
	for i := range lines {
		if i < len(p.Form.Rows) {
			p.Rows[i].Amount = view.Lines[i]
			if lines[i].UnitPrice == 0 {
				p.Rows[i].Free = true
				p.Unpriced = append(p.Unpriced, i+1)
			}
		}
	}
	terms := quote.Terms{Limit: in.Story.Ticket.Limit, NewBoard: in.Story.NewBoard, AskPercent: in.Settings.AskPercent}
	p.Limits = LimitSentences(terms, totals.Gross, l)
	if p.Frozen && in.Typed == nil {
		p.Limits = afterAnswer(p.Limits, in.Story, l)
	}
}

// afterAnswer puts what the customer said to the version that counts in the place
// of the reasons to ask.
func afterAnswer(limits []LimitSentence, st *shop.Story, l Locale) []LimitSentence {
	for i := len(st.Consents) - 1; i >= 0; i-- {
		c := st.Consents[i]
		if c.About != quote.AboutRepair || c.QuoteID == nil || *c.QuoteID != st.Quote().ID {
			continue
		}
		said := "The customer said " + said(c, l) + " (" + c.Who + ", " + wayWords(c.Way) + ", " + l.Moment(c.AnsweredAt) + ")."
		if c.Answer == quote.Yes {
			limits = slices.DeleteFunc(limits, func(s LimitSentence) bool { return s.Ask })
		}
		return append([]LimitSentence{{Text: said}}, limits...)
	}
	return limits
}

// offer lists the work that one tap puts into the quote.
func (p *QuotePage) offer(in QuoteInput, l Locale) {
	said := p.Form.spoken()
	for _, w := range estimate.From(in.Story.Findings, in.Story.Fitted, in.Settings) {
		p.Work = append(p.Work, WorkChoice{Do: "add-" + w.Key, Title: w.Title, In: w.In(said)})
	}
	if fee := estimate.Fee(in.Settings); len(fee) > 0 && !hasFee(said) {
		p.Fee = "Examination fee " + l.plainMoney(in.Settings.ExaminationFee, p.Currency)
		if len(fee) > 1 {
			p.Fee += ", credited on repair"
		}
	}
	for _, t := range shop.Steps(in.By, in.Story.Ticket.State) {
		p.CanWait = p.CanWait || t.To == shop.WaitingForYes
	}
}

// spoken gives the rows as lines by their words alone, also where a number in
// them cannot be read.
func (f QuoteForm) spoken() []quote.Line {
	var out []quote.Line
	for _, r := range f.Rows {
		out = append(out, quote.Line{Kind: quote.Kind(r.Kind), Text: r.Text})
	}
	return out
}

func hasFee(lines []quote.Line) bool {
	return slices.ContainsFunc(lines, func(l quote.Line) bool { return l.Kind == quote.Fee })
}

// boardFor says which board it is and whose.
func boardFor(st *shop.Story) string {
	return boardWords(st.Board) + ", for " + st.Customer.Name
}

// boardWords says which board it is: kind and serial number or own tag.
func boardWords(b shop.Board) string {
	s := BoardName(b.FamilyName, b.RevisionName)
	if b.Serial != "" {
		s += ", serial " + b.Serial
	} else if b.OwnTag != "" {
		s += ", tag " + b.OwnTag
	}
	return s
}

// QuoteCurrency is the currency of the quote: a version keeps its own.
func QuoteCurrency(st *shop.Story, site shop.Site) string {
	if v := st.Quote(); v != nil {
		return v.Currency
	}
	return site.Currency
}

// standing says where the quote stands.
func standing(st *shop.Story, l Locale, current *quote.Version) string {
	switch {
	case st.Ticket.VoidedAt != nil:
		return "The ticket is void; its quote does not change any more."
	case current == nil && st.Ticket.State.Ended():
		return "Nothing was quoted."
	case current == nil:
		return "Nothing is quoted yet."
	case current.SentAt == nil && current.Number > 1:
		return "This is the draft of version " + strconv.Itoa(current.Number) + "; the customer has version " + strconv.Itoa(current.Number-1) + "."
	case current.SentAt == nil:
		return "This is a draft; nothing was sent yet."
	}
	return "Version " + strconv.Itoa(current.Number) + " counts: " + sentWords(st, l, current) + "."
}

// sentWords says when, by whom and under which number a version was sent.
func sentWords(st *shop.Story, l Locale, v *quote.Version) string {
	s := "sent " + l.Moment(*v.SentAt)
	if v.SentBy != nil {
		if name := personIn(st, *v.SentBy); name != "" {
			s += " by " + name
		}
	}
	if n := QuoteNumber(st, v); n > 0 {
		s += " as quote " + strconv.FormatInt(n, 10)
	}
	return s
}

// personIn finds a person's name in what the ticket remembers; "" when it does not.
func personIn(st *shop.Story, id uuid.UUID) string {
	for _, e := range st.Entries {
		if e.PersonID == id {
			return e.PersonName
		}
	}
	return ""
}

func versionLines(st *shop.Story, l Locale) []VersionLine {
	var out []VersionLine
	for i := range st.Quotes {
		v := &st.Quotes[i]
		n := strconv.Itoa(v.Number)
		line := VersionLine{Number: n, Address: TicketAddress(st.Ticket.Number) + "/quote/" + n, What: "draft, not sent"}
		if v.SentAt != nil {
			line.What = sentWords(st, l, v)
		}
		if totals, err := quote.Sum(v.Lines, v.Currency); err == nil {
			line.Total = l.Money(totals.Gross)
		}
		out = append(out, line)
	}
	return out
}

// clash shows what is stored now beside what was typed.
func clash(st *shop.Story, l Locale, currency string) *QuoteConflict {
	c := &QuoteConflict{Who: "somebody"}
	for i := len(st.Entries) - 1; i >= 0; i-- {
		if e := st.Entries[i]; isQuoteEntry(e.Kind) {
			c.Who = e.PersonName + ", " + l.Moment(e.ReceivedAt)
			break
		}
	}
	if v := st.Quote(); v != nil {
		c.Lines, c.Note = PaperLines(v.Lines, currency, l), v.Note
	}
	return c
}

func (p QuotePage) taxOptions(chosen string) []ui.Option {
	return TaxOptions(p.Taxes, chosen, p.Frame.Locale)
}

// unpricedWords asks whether lines without a price are meant.
func (p QuotePage) unpricedWords() string {
	if len(p.Unpriced) == 1 {
		return "Line " + strconv.Itoa(p.Unpriced[0]) + " is free of charge"
	}
	var n []string
	for _, i := range p.Unpriced {
		n = append(n, strconv.Itoa(i))
	}
	return "Lines " + sentenceList(n) + " are free of charge"
}
