// Package quote turns parts and labour into money: line amounts, tax once per
// category and rate, totals, and what the customer's limit says to them.
//
// It knows exact decimals, minor units and how a locale writes them; it knows
// nothing of storage, pages, or of what was repaired. All prices are without
// tax; tax is added once per category and rate and rounded half away from zero,
// as EN 16931-1 demands (rule BR-CO-17).
package quote

import (
	"time"

	"github.com/google/uuid"
)

// Kind says what a line charges for.
type Kind string

// The kinds of line.
const (
	Part   Kind = "part"
	Labour Kind = "labour"
	Fee    Kind = "fee"
	Other  Kind = "other"
)

// Tax is the category (EN 16931: S standard, Z zero, E exempt, ...) and the rate
// in per cent under which a line is taxed.
type Tax struct {
	Category string
	Rate     Decimal
}

// Line is one priced line. A discount is a line with a negative quantity.
type Line struct {
	ID        uuid.UUID
	Kind      Kind
	Text      string
	Quantity  Decimal // hours for labour
	UnitPrice Decimal // in major units of the currency, without tax
	Tax       Tax
}

// Version is one state of a ticket's quote. A draft changes; once sent it is
// frozen, and a change begins the next version.
type Version struct {
	ID        uuid.UUID
	TicketID  uuid.UUID
	Number    int // 1, 2, ... within the ticket
	Currency  string
	Note      string // words to the customer, printed below the total
	Lines     []Line
	CreatedAt time.Time
	SentAt    *time.Time // nil: a draft
	SentBy    *uuid.UUID
}

// Offer is a sent quote as it is frozen on paper.
type Offer struct {
	Version Version
	Totals  Totals
}
