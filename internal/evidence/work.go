package evidence

import (
	"time"

	"github.com/google/uuid"
)

// Finding is a confirmed cause.
type Finding struct {
	ID              uuid.UUID
	TicketID        uuid.UUID
	Part            string // designator, "" when it is no part
	Mode            string // way of failing, as in the profile formats: "open", "high", ...
	Words           string // in the technician's words
	ConfirmedBy     uuid.UUID
	TakenAt         time.Time
	WithdrawnAt     *time.Time
	WithdrawnReason string
}

// Fitted is a part that was put in.
type Fitted struct {
	ID       uuid.UUID
	TicketID uuid.UUID
	Part     string // designator
	What     string // what was put in
	Note     string
	PersonID uuid.UUID
	TakenAt  time.Time
}

// Seen is what the eye and nose found on a part.
type Seen struct {
	ID       uuid.UUID
	TicketID uuid.UUID
	Part     string // designator or a place in words
	What     string // one of SeenWords, or own words
	Note     string
	PersonID uuid.UUID
	TakenAt  time.Time
}

// SeenWords are the words a page offers for what can be seen.
func SeenWords() []string {
	return []string{"burnt", "bulged", "cracked", "corroded", "leaking", "missing", "repaired before"}
}
