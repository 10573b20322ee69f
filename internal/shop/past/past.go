// Package past knows what boards of a family turned out to be before: the causes
// that were confirmed on them, and how each stay went.
//
// It counts and nothing more. It knows no storage, no circuits, and not how much a
// confirmed cause weighs; that is the engine's to say.
package past

import (
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// How far back is looked.
const (
	MostStays  = 10  // lines that are shown of how boards went
	MostBoards = 200 // boards from whose causes is learned, the newest
)

// Cause is a confirmed cause, not withdrawn, on one ticket: a part and how it
// failed. What was only said in words is none.
type Cause struct {
	Ticket uuid.UUID
	Part   string // designator
	Mode   string // way of failing, as in the profile formats
}

// Causes are the confirmed causes on the newest boards of a family, in any order.
type Causes []Cause

// Boards counts the stays on which a cause was confirmed.
func (c Causes) Boards() int { return c.count(func(Cause) bool { return true }) }

// Of counts the stays on which a part was the cause, or one of them.
func (c Causes) Of(part string) int {
	return c.count(func(one Cause) bool { return one.Part == part })
}

func (c Causes) count(counts func(Cause) bool) int {
	seen := map[uuid.UUID]bool{}
	for _, one := range c {
		if counts(one) {
			seen[one.Ticket] = true
		}
	}
	return len(seen)
}

// Like says which earlier boards are like one on the bench: of its family, and
// showing the same.
type Like struct {
	Family uuid.UUID
	Board  uuid.UUID // itself, which does not count
	// Texts are the writings of what it shows, whatever the case; Prefix is how one
	// begins that says more ("2:"), "" for none. Without either, any other counts.
	Texts  []string
	Prefix string
}

// Any tells whether every indication counts.
func (l Like) Any() bool { return len(l.Texts) == 0 && l.Prefix == "" }

// Stay is how one earlier board of a family went.
type Stay struct {
	Number     int64
	State      shop.State
	Revision   string // "" when not known
	Indication string
	TakenInAt  time.Time
	Findings   []Finding // not withdrawn, in the order confirmed
	// Minutes are those between what was recorded at the bench, pauses of more than
	// Pause left out; nil when nothing was recorded there.
	Minutes *int
	// Price is the total, tax included, of the quote that the customer said yes to,
	// or of the last one sent when the board was handed over; nil without one.
	Price *quote.Money
	Back  bool // it came back as a comeback
}

// Pause is the longest time between two things recorded at the bench that still
// counts as work.
const Pause = 30 * time.Minute

// Finding is a confirmed cause as it was recorded.
type Finding struct{ Part, Mode, Words string }
