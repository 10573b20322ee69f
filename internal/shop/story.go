package shop

import (
	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop/journal"
)

// Story is all there is to know about one ticket. Lists are oldest first;
// quotes newest first.
type Story struct {
	Ticket     Ticket
	Customer   Customer
	Board      Board
	NewBoard   *quote.Money // what a new board of this family costs fitted
	Entries    []journal.Entry
	Readings   []evidence.Reading // in the order taken, struck ones too
	Findings   []evidence.Finding
	Fitted     []evidence.Fitted
	Seen       []evidence.Seen
	Overrules  []evidence.Overrule // withdrawn ones too
	DeadProofs []evidence.DeadProof
	Power      []evidence.PowerEvent
	Quotes     []quote.Version
	Consents   []quote.Consent
	Documents  []Document
	Before     []Summary // the board's other tickets, newest first
}

// Quote gives the version that counts: the draft, or the last one sent; nil
// when there is none.
func (s *Story) Quote() *quote.Version {
	if len(s.Quotes) == 0 {
		return nil
	}
	return &s.Quotes[0]
}
