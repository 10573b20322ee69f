package page

import (
	"encoding/json"
	"strconv"
	"strings"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// PaperHead is what stands at the top of every paper that leaves the shop.
type PaperHead struct {
	Shop     string
	Address  []string // lines
	Title    string   // "Quote 17"
	Day      string
	Facts    []PaperFact
	Customer string
}

// PaperFact is a name and what belongs to it: "Board", "SEDGE D, serial 4711".
type PaperFact struct{ Name, Text string }

// PaperLine is a line of a quote as printed.
type PaperLine struct {
	Kind     string
	Text     string
	Quantity Figure // labour has the unit h
	Price    Figure
	Tax      string
	Amount   Figure
}

// QuotePaper is a version of a quote as it is printed.
type QuotePaper struct {
	Frame  Frame
	Back   string // address of the quote's page
	Head   PaperHead
	Draft  bool
	Lines  []PaperLine
	Totals TotalsView
	Note   []string // lines
}

// NewQuotePaper sets one version of a ticket's quote on paper.
func NewQuotePaper(f Frame, st *shop.Story, site shop.Site, v *quote.Version) (QuotePaper, error) {
	totals, err := quote.Sum(v.Lines, v.Currency)
	if err != nil {
		return QuotePaper{}, err
	}
	ticket := strconv.FormatInt(st.Ticket.Number, 10)
	p := QuotePaper{
		Frame: f, Back: TicketAddress(st.Ticket.Number) + "/quote", Draft: v.SentAt == nil,
		Lines: PaperLines(v.Lines, v.Currency, f.Locale), Totals: NewTotals(totals, f.Locale), Note: textLines(v.Note),
	}
	p.Head = PaperHead{Shop: site.Name, Address: textLines(site.Address), Customer: st.Customer.Name, Title: "Draft of a quote", Day: f.Locale.Date(v.CreatedAt)}
	if n := QuoteNumber(st, v); n > 0 {
		p.Head.Title = "Quote " + strconv.FormatInt(n, 10)
	} else if v.SentAt != nil {
		p.Head.Title = "Quote " + ticket + "/" + strconv.Itoa(v.Number)
	}
	if v.SentAt != nil {
		p.Head.Day = f.Locale.Date(*v.SentAt)
	}
	p.Head.Facts = []PaperFact{
		{"Board", boardWords(st.Board)}, {"Ticket", ticket + ", version " + strconv.Itoa(v.Number) + " of the quote"},
		{"Reported", st.Ticket.Complaint},
	}
	p.Frame.Title = p.Head.Title + ", ticket " + ticket
	return p, nil
}

// PaperLines sets the lines of a quote in columns.
func PaperLines(lines []quote.Line, currency string, l Locale) []PaperLine {
	quantities, prices, amounts := make([]string, len(lines)), make([]string, len(lines)), make([]string, len(lines))
	for i, line := range lines {
		quantities[i], prices[i] = line.Quantity.String(), priceText(line.UnitPrice, currency)
		if net, err := quote.LineNet(line, currency); err == nil {
			amounts[i] = net.Plain()
		}
	}
	q, p, a := l.Figures(quantities...), l.ofMoney().Figures(prices...), l.ofMoney().Figures(amounts...)
	out := make([]PaperLine, len(lines))
	for i, line := range lines {
		if line.Kind == quote.Labour {
			q[i].Unit = "h"
		}
		out[i] = PaperLine{Kind: string(line.Kind), Text: line.Text, Quantity: q[i], Price: p[i], Tax: taxWords(line.Tax, l), Amount: a[i]}
	}
	return out
}

// QuoteNumber finds the number under which a version was frozen; 0 when it was not.
func QuoteNumber(st *shop.Story, v *quote.Version) int64 {
	for _, d := range st.Documents {
		var frozen quote.Offer
		if d.Kind == "quote" && json.Unmarshal(d.Content, &frozen) == nil && frozen.Version.ID == v.ID {
			return d.Number
		}
	}
	return 0
}

// textLines cuts a text into its lines, without empty ones at the ends.
func textLines(s string) []string {
	s = strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n"))
	if s == "" {
		return nil
	}
	return strings.Split(s, "\n")
}
