// Package journal is what a ticket remembers: one entry a change, with who,
// when and why, never altered. It knows the kinds of entry and how to say them
// in a sentence; it knows no storage and no rules.
package journal

import (
	"time"

	"github.com/google/uuid"
)

// Kind says what kind of change an entry records.
type Kind string

// The kinds of entry.
const (
	TakenIn      Kind = "taken_in"
	Moved        Kind = "moved"     // Old and New are states
	Corrected    Kind = "corrected" // Field, Old, New, Reason
	Voided       Kind = "voided"
	Revision     Kind = "revision" // the board's revision was set; Old and New are names
	Readings     Kind = "readings" // Note says how many
	Struck       Kind = "struck"
	DeadProof    Kind = "dead_proof"
	Power        Kind = "power"
	Found        Kind = "found"
	Withdrawn    Kind = "withdrawn"
	Fitted       Kind = "fitted"
	Seen         Kind = "seen"
	Overruled    Kind = "overruled"    // Note is the part or place, New the ruling on a reading
	Reconsidered Kind = "reconsidered" // an overruling was withdrawn
	QuoteEdited  Kind = "quote_edited"
	QuoteSent    Kind = "quote_sent"
	Answered     Kind = "answered"
	Limit        Kind = "limit"      // the answer changed the authorised limit
	Documented   Kind = "documented" // a document was frozen
)

// Change is what an entry says about it; which fields are used depends on the
// kind. It is stored as JSON and may gain fields, never lose one.
type Change struct {
	Field   string     `json:"field,omitempty"`
	Old     string     `json:"old,omitempty"`
	New     string     `json:"new,omitempty"`
	Reason  string     `json:"reason,omitempty"`
	Note    string     `json:"note,omitempty"`
	Subject *uuid.UUID `json:"subject,omitempty"` // the reading, quote, document, ... it is about
}

// Entry is one change of a ticket.
type Entry struct {
	ID            uuid.UUID
	TicketID      uuid.UUID
	TicketVersion int64 // the ticket's version after it; gapless within a ticket
	Kind          Kind
	Change        Change
	PersonID      uuid.UUID
	PersonName    string
	DeviceID      *uuid.UUID
	TakenAt       time.Time // by whoever did it
	ReceivedAt    time.Time // by the database's side
}
