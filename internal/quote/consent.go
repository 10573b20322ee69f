package quote

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
)

// Answer is what a customer said.
type Answer string

// The answers.
const (
	Yes      Answer = "yes"
	No       Answer = "no"
	NewLimit Answer = "new_limit" // "go ahead up to ..."
)

// What a consent is about.
const (
	AboutRepair = "repair"
	AboutScrap  = "scrap"
)

// Ways lists the ways by which an answer comes, as a form offers them.
func Ways() []string { return []string{"phone", "in person", "e-mail", "message", "letter"} }

// Consent is a customer's answer: to which text, who gave it, by which way.
// It is never changed; a new answer is a new consent.
type Consent struct {
	ID         uuid.UUID
	TicketID   uuid.UUID
	QuoteID    *uuid.UUID // the sent version it answers, nil without one
	About      string     // AboutRepair or AboutScrap
	TextShown  string     // what was read out or shown
	Who        string     // who answered
	Answer     Answer
	Limit      *Money // with NewLimit: up to here, tax included
	Way        string // one of Ways
	AnsweredAt time.Time
	PersonID   uuid.UUID // who wrote it down
	RecordedAt time.Time
}

// Same tells whether two consents are one answer written down twice: a form that
// was sent again.
func (c Consent) Same(o Consent) bool {
	sameLimit := c.Limit == nil && o.Limit == nil || c.Limit != nil && o.Limit != nil && *c.Limit == *o.Limit
	sameQuote := c.QuoteID == nil && o.QuoteID == nil || c.QuoteID != nil && o.QuoteID != nil && *c.QuoteID == *o.QuoteID
	return sameLimit && sameQuote && c.TicketID == o.TicketID && c.About == o.About && c.TextShown == o.TextShown &&
		c.Who == o.Who && c.Answer == o.Answer && c.Way == o.Way && c.AnsweredAt.Equal(o.AnsweredAt)
}

// Check refuses a consent that proves nothing, with a message by field: about,
// text_shown, who, answer, limit, way.
func (c Consent) Check() error {
	bad := map[string]string{}
	if c.About != AboutRepair && c.About != AboutScrap {
		bad["about"] = "Choose what was asked: the repair, or scrapping."
	}
	if strings.TrimSpace(c.TextShown) == "" || !plain(c.TextShown, 4000) {
		bad["text_shown"] = "Write down what the customer was told, in at most 4000 characters."
	}
	if strings.TrimSpace(c.Who) == "" || !plain(c.Who, 200) {
		bad["who"] = "Write down who answered, in at most 200 characters."
	}
	if !slices.Contains(Ways(), c.Way) {
		bad["way"] = "Choose by which way the answer came."
	}
	switch {
	case c.Answer != Yes && c.Answer != No && c.Answer != NewLimit:
		bad["answer"] = "Choose yes, no or a new limit."
	case c.Answer == NewLimit && c.About == AboutScrap:
		bad["answer"] = "Scrapping takes a yes or a no."
	case c.Answer == NewLimit && (c.Limit == nil || c.Limit.Minor <= 0):
		bad["limit"] = "Enter the new limit."
	case c.Answer != NewLimit && c.Limit != nil:
		bad["limit"] = "Leave the limit empty, or choose a new limit as the answer."
	}
	return fault.Form(bad)
}
