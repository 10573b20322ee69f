package evidence

import (
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
)

// Overrule is somebody at the bench knowing better than the analysis: a part that
// is good whatever the readings say, or a reading that says something else than
// its verdict.
type Overrule struct {
	ID              uuid.UUID
	TicketID        uuid.UUID
	Part            string     // ruled out as a suspect; "" when it is about a reading
	ReadingID       *uuid.UUID // whose verdict is overruled; nil when it is about a part
	Verdict         Ruling     // of the reading
	Reason          string
	PersonID        uuid.UUID
	TakenAt         time.Time
	WithdrawnAt     *time.Time
	WithdrawnReason string
}

// Ruling is a verdict that a person gives.
type Ruling string

// The rulings; "cannot tell" needs no overruling.
const (
	RuledBad    Ruling = "bad"
	RuledNotBad Ruling = "not_bad"
)

// Check refuses an overruling without a subject or a reason, with a message by
// field: "part", "verdict", "reason".
func (o Overrule) Check() error {
	bad := map[string]string{}
	switch {
	case o.ReadingID == nil && strings.TrimSpace(o.Part) == "":
		bad["part"] = "Name the part that is not to blame, such as R12."
	case o.ReadingID != nil && o.Verdict != RuledBad && o.Verdict != RuledNotBad:
		bad["verdict"] = "Say whether the reading is bad or not bad."
	}
	if strings.TrimSpace(o.Reason) == "" {
		bad["reason"] = "Say how you know; it stays beside your name."
	}
	tooLong(bad, "part", o.Part, maxPlace)
	tooLong(bad, "reason", o.Reason, maxWords)
	return fault.Form(bad)
}

// RuledOut lists the parts that stand as ruled out, in the order in which they
// were.
func RuledOut(list []Overrule) []string {
	var out []string
	for _, o := range list {
		if o.Part != "" && o.WithdrawnAt == nil {
			out = append(out, o.Part)
		}
	}
	return out
}

// Ruled finds the ruling that stands on a reading, the newest first; nil when none
// does.
func Ruled(list []Overrule, reading uuid.UUID) *Overrule {
	for i := len(list) - 1; i >= 0; i-- {
		if o := &list[i]; o.ReadingID != nil && *o.ReadingID == reading && o.WithdrawnAt == nil {
			return o
		}
	}
	return nil
}
