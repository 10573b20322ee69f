package shop

import (
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// Correction changes one field of a ticket, with a reason. Field is one of
// CorrectableFields. New holds the text; a state by its code, promised_on as
// 2006-01-02, limit in minor units, customer by its key; "" empties promised_on,
// limit (ask first) and texts other than the complaint.
type Correction struct {
	Field  string
	New    string
	Reason string
}

// CorrectableFields lists what may be corrected.
func CorrectableFields() []string {
	return []string{"complaint", "when_happens", "indication", "condition", "accessories",
		"touched_before", "if_not_repaired", "bay", "promised_on", "limit", "serial", "customer", "state"}
}

// FieldWords names a field that can be corrected as a sentence does: "the promised
// day".
func FieldWords(field string) string {
	switch field {
	case "when_happens":
		return "when it happens"
	case "touched_before":
		return "who worked on it before"
	case "if_not_repaired":
		return "wish if not repaired"
	case "promised_on":
		return "promised day"
	case "revision":
		return "family and revision"
	}
	return field
}

// Check refuses a correction with a message on its field or on "reason".
func (c Correction) Check() error {
	if !slices.Contains(CorrectableFields(), c.Field) {
		return fault.New(fault.Invalid, "%q cannot be corrected.", c.Field)
	}
	f := form{}
	f.long("reason", c.Reason, maxReason)
	f.need("reason", c.Reason, "Say why it was wrong.")
	longest := maxText
	if c.Field == "serial" || c.Field == "bay" {
		longest = maxLine
	}
	f.long(c.Field, c.New, longest)
	f.say(c.Field, c.badValue())
	return fault.Form(f)
}

// badValue gives what is wrong with the new value, "" when nothing is.
func (c Correction) badValue() string {
	switch c.Field {
	case "complaint":
		if c.New == "" {
			return "Write down what the customer says is wrong, in their words."
		}
	case "if_not_repaired":
		return checkWish(c.New)
	case "promised_on":
		if _, err := time.Parse(time.DateOnly, c.New); c.New != "" && err != nil {
			return "Enter a day, or leave it empty."
		}
	case "limit":
		if n, err := strconv.ParseInt(c.New, 10, 64); c.New != "" && (err != nil || n < 0) {
			return "Enter a limit of 0 or more, or leave it empty to ask first."
		}
	case "customer":
		if _, err := uuid.Parse(c.New); err != nil {
			return "Choose a customer."
		}
	case "state":
		if !State(c.New).Valid() {
			return "Choose a state."
		}
	}
	return ""
}

// Allowed refuses a correction that the actor's role does not cover, and one that
// would end the ticket: an end needs its slip or consent, so it is only reached
// by its own step. now is the state in which the ticket is.
func (c Correction) Allowed(by staff.Actor, now State) error {
	if c.Field != "state" {
		return by.May(staff.TakeIn)
	}
	to := State(c.New)
	switch {
	case to.Ended():
		return fault.New(fault.Conflict, "%s is not reached by a correction: hand the board over, or record the consent.", to.Title())
	case to == now:
		return fault.Field("state", "The board is already %s.", now.Title())
	case now.Ended():
		return by.May(staff.HandOver)
	}
	return by.May(staff.RecordAnswers)
}
