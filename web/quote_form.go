package web

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/quote/estimate"
	"ohmstead/internal/shop"
	"ohmstead/web/page"
)

// quoteForm takes the quote as it was typed; rows in which nothing was typed
// are left out.
func quoteForm(r *http.Request) page.QuoteForm {
	f := page.QuoteForm{
		Seen: r.PostFormValue("seen"), Note: oneKindOfBreak(r.PostFormValue("note")),
		Free: r.PostFormValue("free"), Wait: r.PostFormValue("wait"),
	}
	n, _ := strconv.Atoi(r.PostFormValue("rows")) // what cannot be read is no rows
	for i := range min(max(n, 0), quote.MaxLines+1) {
		get := func(name string) string { return r.PostFormValue(name + "-" + strconv.Itoa(i)) }
		row := page.QuoteRow{ID: get("id"), Kind: get("kind"), Text: get("text"), Quantity: get("quantity"), Price: get("price"), Tax: get("tax")}
		if row.ID != "" || !row.Blank() {
			f.Rows = append(f.Rows, row)
		}
	}
	return f
}

// changed gives the form after the step that a button asked for: "up-2",
// "down-0", "remove-1", "add-R13", "fee". Anything else changes nothing.
func changed(f page.QuoteForm, do string, st *shop.Story, set shop.Settings, v *visit) page.QuoteForm {
	what, which, _ := strings.Cut(do, "-")
	switch what {
	case "fee":
		f.Rows = append(f.Rows, newRows(estimate.Fee(set), st, v)...)
	case "add":
		for _, w := range estimate.From(st.Findings, st.Fitted, set) {
			if w.Key == which {
				f.Rows = append(f.Rows, newRows(w.Lines(), st, v)...)
			}
		}
	case "up", "down", "remove":
		if i, err := strconv.Atoi(which); err == nil && i >= 0 && i < len(f.Rows) {
			f.Rows = rearranged(f.Rows, what, i)
		}
	}
	return f
}

// newRows writes proposed lines as rows of the form.
func newRows(lines []quote.Line, st *shop.Story, v *visit) []page.QuoteRow {
	rows := page.RowsOf(lines, page.QuoteCurrency(st, v.site), v.locale)
	for i := range rows {
		rows[i].ID = "" // not stored yet
	}
	return rows
}

func rearranged(rows []page.QuoteRow, what string, i int) []page.QuoteRow {
	switch {
	case what == "remove":
		return append(rows[:i:i], rows[i+1:]...)
	case what == "up" && i > 0:
		rows[i-1], rows[i] = rows[i], rows[i-1]
	case what == "down" && i < len(rows)-1:
		rows[i], rows[i+1] = rows[i+1], rows[i]
	}
	return rows
}

// fieldOf names the form's field for what a line's check calls it.
var fieldOf = map[string]string{"kind": "kind", "text": "text", "quantity": "quantity", "unit_price": "price", "tax": "tax"}

// readQuote turns rows into lines; every field that cannot be read is named in
// the error.
func readQuote(f page.QuoteForm, locale string) ([]quote.Line, error) {
	if len(f.Rows) > quote.MaxLines {
		return nil, fault.New(fault.Invalid, "A quote holds at most %d lines. Take some out, or put them together.", quote.MaxLines)
	}
	problems := map[string]string{}
	if len([]rune(f.Note)) > maxNote {
		problems["note"] = "Use at most " + strconv.Itoa(maxNote) + " characters."
	}
	var lines []quote.Line
	for i, row := range f.Rows {
		line, bad := readRow(row, locale)
		for field, text := range bad {
			problems[field+"-"+strconv.Itoa(i)] = text
		}
		lines = append(lines, line)
	}
	if err := fault.Form(problems); err != nil {
		return nil, err
	}
	return lines, nil
}

// maxNote is the longest text that goes with a quote, in characters.
const maxNote = 2000

// readRow reads one row and gives what is wrong with it by field.
func readRow(row page.QuoteRow, locale string) (quote.Line, map[string]string) {
	bad := map[string]string{}
	line := quote.Line{Kind: quote.Kind(row.Kind), Text: trim(row.Text)}
	if row.ID != "" {
		line.ID, _ = uuid.Parse(row.ID) // what is no key makes a new line
	}
	var err error
	line.Quantity, err = quote.ParseDecimal(row.Quantity, locale, "a quantity")
	note(bad, "quantity", err)
	line.UnitPrice, err = quote.ParseDecimal(row.Price, locale, "a price")
	note(bad, "price", err)
	line.Tax, _ = page.ReadTax(row.Tax) // a category that is none is refused below
	for field, text := range fault.Fields(line.Check()) {
		if bad[fieldOf[field]] == "" {
			bad[fieldOf[field]] = text
		}
	}
	return line, bad
}

// readyToSend refuses to freeze a quote without lines, or with lines that have
// no price unless somebody said that this is meant.
func readyToSend(f page.QuoteForm, lines []quote.Line) error {
	if len(lines) == 0 {
		return fault.New(fault.Invalid, "There is nothing to send: the quote has no lines.")
	}
	for _, l := range lines {
		if l.UnitPrice == 0 && f.Free != "yes" {
			return fault.Field("free", "Enter the missing price, or tick here that the line is free of charge.")
		}
	}
	return nil
}

func answerForm(r *http.Request) page.AnswerForm {
	get := r.PostFormValue
	return page.AnswerForm{
		To: get("to_version"), About: get("about"), Text: oneKindOfBreak(get("text_shown")), Who: get("who"), Answer: get("answer"),
		Limit: get("limit"), Way: get("way"), At: get("answered_at"), Then: get("then"),
	}
}

// readAnswer turns what was typed into a consent to the version sent last, which
// has to be the one that was read to the customer.
func readAnswer(f page.AnswerForm, st *shop.Story, v *visit) (quote.Consent, error) {
	problems := map[string]string{}
	c := quote.Consent{
		TicketID: st.Ticket.ID, About: f.About, TextShown: trim(f.Text), Who: trim(f.Who),
		Answer: quote.Answer(f.Answer), Way: f.Way,
	}
	if f.To != page.VersionSent(st) {
		return c, fault.New(fault.Conflict, "Another version of the quote was sent since this form was opened. "+
			"Look at it, make sure that it is the one the customer answered, then record the answer.")
	}
	for _, q := range st.Quotes {
		if q.SentAt != nil {
			c.QuoteID = &q.ID
			break
		}
	}
	var err error
	c.AnsweredAt, err = v.locale.ReadInputTime(f.At)
	note(problems, "answered_at", err)
	if err == nil && c.AnsweredAt.After(v.now.Add(tooEarly)) {
		problems["answered_at"] = "This moment has not come yet. Enter when the customer answered."
	}
	if trim(f.Limit) != "" {
		limit, err := quote.ParseMoney(f.Limit, v.site.Currency, v.site.Locale)
		note(problems, "limit", err)
		c.Limit = &limit
	}
	addFields(problems, c.Check())
	if f.Then != "" && !shop.State(f.Then).Valid() {
		problems["then"] = "Choose where the board goes."
	}
	return c, fault.Form(problems)
}
