package evidence

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
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

// RepairedBefore is the one word for what can be seen that is no damage.
const RepairedBefore = "repaired before"

// SeenWords are the words a page offers for what can be seen.
func SeenWords() []string {
	return []string{"burnt", "bulged", "cracked", "corroded", "leaking", "missing", RepairedBefore}
}

// Instrument is one of the shop's meters, with the description of its make.
type Instrument struct {
	ID              uuid.UUID
	Name            string // "M-1"
	MeterVersionID  uuid.UUID
	MeterName       string
	MeterYAML       []byte     // the description, an ohmstead/meter/1 file
	CalibratedUntil *time.Time // a day: midnight UTC; nil: not known
}

// maxWords is the longest free text, in characters.
const maxWords = 2000

// Check refuses a finding that says nothing, with a message on field "words".
func (f Finding) Check() error {
	bad := map[string]string{}
	if strings.TrimSpace(f.Words) == "" && (f.Part == "" || f.Mode == "") {
		bad["words"] = "Name the part and how it failed, or say in words what was wrong."
	}
	tooLong(bad, "words", f.Words, maxWords)
	tooLong(bad, "part", f.Part, maxPlace)
	tooLong(bad, "mode", f.Mode, maxPlace)
	return fault.Form(bad)
}

// Check refuses a fitted part without a place, on field "part".
func (f Fitted) Check() error {
	bad := map[string]string{}
	if strings.TrimSpace(f.Part) == "" {
		bad["part"] = "Name the part that was fitted, such as R12."
	}
	tooLong(bad, "part", f.Part, maxPlace)
	tooLong(bad, "what", f.What, maxWords)
	tooLong(bad, "note", f.Note, maxWords)
	return fault.Form(bad)
}

// Check refuses something seen without a place or a word for it, on fields
// "part" and "what".
func (f Seen) Check() error {
	bad := map[string]string{}
	if strings.TrimSpace(f.Part) == "" {
		bad["part"] = "Name the part or the place."
	}
	if strings.TrimSpace(f.What) == "" {
		bad["what"] = "Say what is to be seen there."
	}
	tooLong(bad, "part", f.Part, maxPlace)
	tooLong(bad, "what", f.What, maxPlace)
	tooLong(bad, "note", f.Note, maxWords)
	return fault.Form(bad)
}

// tooLong refuses what is no text of at most max characters.
func tooLong(bad map[string]string, field, text string, max int) {
	if utf8.RuneCountInString(text) > max || !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
		bad[field] = fmt.Sprintf("Use at most %d characters of plain text.", max)
	}
}
