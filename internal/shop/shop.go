// Package shop knows the shop's own rules: customers, boards, tickets and their
// states, what an intake must say, what a search means, what a hand-over needs.
//
// It knows no storage and no HTTP. What people may do stands in staff, what was
// measured in evidence, money in quote, the record of changes in shop/journal.
package shop

import (
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
)

// Site is one shop of the company.
type Site struct {
	ID        uuid.UUID
	Name      string
	Address   string // printed on slips
	TZ        string // IANA name, "Europe/Lisbon"
	Locale    string // BCP 47, "pt-PT"
	Currency  string // ISO 4217
	CreatedAt time.Time
}

// Customer is whose board it is.
type Customer struct {
	ID            uuid.UUID
	Name          string
	Phone         string // as typed
	PhoneDigits   string // digits only, see PhoneDigits
	Email         string
	StandingLimit *quote.Money // a trader's limit for every board; nil: agreed each time
	Note          string
	Version       int64
	CreatedAt     time.Time
	ErasedAt      *time.Time
}

// Family is a kind of board; Revision one of its printings.
type Family struct {
	ID       uuid.UUID
	Name     string       // "SEDGE"
	Title    string       // "drive for borehole pumps"
	NewBoard *quote.Money // a new board fitted, tax included; nil: not known
}

// Revision is one printing of a family, with the newest profile known for it.
type Revision struct {
	ID               uuid.UUID
	FamilyID         uuid.UUID
	FamilyName       string
	Name             string     // "D"
	ProfileVersionID *uuid.UUID // newest; nil: no profile yet
	ProfileKey       string     // the profile's own id, "sedge-d"
}

// Profile is one immutable version of what is known about a revision.
type Profile struct {
	ID          uuid.UUID
	Key         string // the profile's own id, equal to its file's name
	Family      string
	FamilyTitle string
	RevisionID  uuid.UUID
	Revision    string
	YAML        []byte // as written
	Flattened   []byte // with what it is based on merged in
	SHA256      []byte // of Flattened
	ParentID    *uuid.UUID
	Author      string
	Reason      string
	CreatedAt   time.Time
}

// Board is the physical thing, known again when it returns.
type Board struct {
	ID           uuid.UUID
	Serial       string // as printed, "" when there is none
	OwnTag       string // our own tag on it, "" when there is none
	FamilyID     *uuid.UUID
	RevisionID   *uuid.UUID
	FamilyName   string // "" when not known
	RevisionName string
	CreatedAt    time.Time
}

// Ticket is one board's stay in the shop.
type Ticket struct {
	ID               uuid.UUID
	SiteID           uuid.UUID
	Number           int64 // gapless within the site; what people see
	BoardID          uuid.UUID
	CustomerID       uuid.UUID
	State            State
	StateSince       time.Time
	ComebackOf       *uuid.UUID // the earlier ticket
	ComebackNumber   *int64     // its number; nil when it is another site's, which counts for itself
	ProfileVersionID *uuid.UUID // the profile it is measured against
	PromisedOn       *time.Time // a day: midnight UTC
	Bay              string
	Limit            *quote.Money // authorised, tax included; nil: ask before any work is charged
	Complaint        string       // in the customer's words
	WhenHappens      string
	Indication       string // what the board showed
	Condition        string
	Accessories      string
	TouchedBefore    string // who worked on it before
	IfNotRepaired    string // WishReturn or WishScrap, "" not asked
	Version          int64  // counts the journal's entries
	TakenInAt        time.Time
	VoidedAt         *time.Time
	VoidReason       string
}

// What to do with a board that will not be repaired.
const (
	WishReturn = "return"
	WishScrap  = "scrap"
)

// Summary is a ticket's line in a list.
type Summary struct {
	ID           uuid.UUID
	SiteID       uuid.UUID
	Number       int64
	State        State
	StateSince   time.Time
	CustomerID   uuid.UUID
	CustomerName string
	PhoneDigits  string
	FamilyName   string
	RevisionName string
	Serial       string
	Indication   string
	Complaint    string
	Bay          string
	PromisedOn   *time.Time
	TakenInAt    time.Time
	Comeback     bool
	Version      int64
}

// Document is a paper as it was given away: numbered, frozen.
type Document struct {
	ID        uuid.UUID
	SiteID    uuid.UUID
	TicketID  uuid.UUID
	Kind      string // "slip" or "quote"
	Number    int64  // gapless within site and kind
	Content   []byte // JSON: Slip or quote.Version
	PersonID  uuid.UUID
	CreatedAt time.Time
}
