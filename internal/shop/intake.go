package shop

import (
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
)

// Intake is what the counter writes down when a board comes in. A known
// customer is named by CustomerID; otherwise Name and Phone make a new one.
// A serial or own tag that is known brings the board back.
type Intake struct {
	TicketID      uuid.UUID // made with the form: the same intake sent twice is one ticket; uuid.Nil: a new one
	CustomerID    *uuid.UUID
	Name          string
	Phone         string
	Email         string
	FamilyID      *uuid.UUID
	RevisionID    *uuid.UUID
	Serial        string
	OwnTag        string
	Complaint     string
	WhenHappens   string
	Indication    string
	Condition     string
	Accessories   string
	TouchedBefore string
	IfNotRepaired string
	Bay           string
	Limit         *quote.Money // nil: the customer's standing limit
	AskFirst      bool         // no limit at all: ask before any work is charged
	PromisedOn    *time.Time
	NotAComeback  bool // the board was here before, but for something else
}

// Check refuses an intake with a message by field, named as the fields are in
// the database: name, phone, email, complaint, serial, limit, ...
func (in Intake) Check() error {
	f := form{}
	if in.CustomerID == nil {
		f.contact(in.Name, in.Phone, in.Email)
	}
	for field, text := range map[string]string{
		"complaint": in.Complaint, "when_happens": in.WhenHappens, "indication": in.Indication,
		"condition": in.Condition, "accessories": in.Accessories, "touched_before": in.TouchedBefore,
	} {
		f.long(field, text, maxText)
	}
	for field, text := range map[string]string{"serial": in.Serial, "own_tag": in.OwnTag, "bay": in.Bay} {
		f.long(field, text, maxLine)
	}
	f.need("complaint", in.Complaint, "Write down what the customer says is wrong, in their words.")
	if in.Serial != "" && SerialKey(in.Serial) == "" {
		f["serial"] = "Enter the serial number as printed, or leave it empty."
	}
	if in.OwnTag != "" && SerialKey(in.OwnTag) == "" {
		f["own_tag"] = "Enter the tag’s letters or digits, or leave it empty."
	}
	f.say("if_not_repaired", checkWish(in.IfNotRepaired))
	if in.Limit != nil && in.AskFirst {
		f["limit"] = "Enter a limit or choose to ask first, not both."
	}
	if in.Limit != nil && in.Limit.Minor < 0 {
		f["limit"] = "Enter a limit of 0 or more."
	}
	return fault.Form(f)
}

// Says tells whether a ticket is what this intake makes: the same customer, the
// same board, the same words and terms. What storage fills in where the intake
// left it open is not compared.
func (in Intake) Says(k Ticket, c Customer, b Board) bool {
	told := [...]string{in.Complaint, in.WhenHappens, in.Indication, in.Condition, in.Accessories, in.TouchedBefore, in.IfNotRepaired, in.Bay}
	stored := [...]string{k.Complaint, k.WhenHappens, k.Indication, k.Condition, k.Accessories, k.TouchedBefore, k.IfNotRepaired, k.Bay}
	for i := range told {
		if strings.TrimSpace(told[i]) != strings.TrimSpace(stored[i]) {
			return false
		}
	}
	return in.isFrom(c) && in.isOf(b) && in.terms(k)
}

func (in Intake) isFrom(c Customer) bool {
	if in.CustomerID != nil {
		return *in.CustomerID == c.ID
	}
	return strings.TrimSpace(in.Name) == c.Name && in.Phone == c.Phone && in.Email == c.Email
}

func (in Intake) isOf(b Board) bool {
	left := func(typed, stored string) bool { return typed == "" || SerialKey(typed) == SerialKey(stored) }
	open := func(chosen, stored *uuid.UUID) bool {
		return chosen == nil || stored != nil && *chosen == *stored
	}
	return left(in.Serial, b.Serial) && left(in.OwnTag, b.OwnTag) && open(in.FamilyID, b.FamilyID) && open(in.RevisionID, b.RevisionID)
}

// terms tells whether a ticket has the intake's limit and promised day.
func (in Intake) terms(k Ticket) bool {
	if in.PromisedOn == nil != (k.PromisedOn == nil) || in.PromisedOn != nil && !in.PromisedOn.Equal(*k.PromisedOn) {
		return false
	}
	switch {
	case in.Limit != nil:
		return k.Limit != nil && *k.Limit == *in.Limit
	case in.AskFirst:
		return k.Limit == nil
	}
	return true // the customer's standing limit, whatever that was
}

// checkWish gives what is wrong with a wish, "" when nothing is.
func checkWish(wish string) string {
	if wish == "" || wish == WishReturn || wish == WishScrap {
		return ""
	}
	return "Choose what to do with a board that is not repaired."
}

// contact checks who a new or changed customer is.
func (f form) contact(name, phone, email string) {
	f.long("name", name, maxLine)
	f.need("name", name, "Enter the customer’s name.")
	switch {
	case phone != "":
		f.say("phone", checkPhone(phone))
	case email == "":
		f["phone"] = "Enter a phone number or an e-mail address, so that we can ask."
	}
	if email != "" {
		f.say("email", checkEmail(email))
	}
}

// Check refuses a customer with a message by field: name, phone, email, note,
// standing_limit.
func (c Customer) Check() error {
	f := form{}
	f.contact(c.Name, c.Phone, c.Email)
	f.long("note", c.Note, maxText)
	if c.StandingLimit != nil && c.StandingLimit.Minor < 0 {
		f["standing_limit"] = "Enter a limit of 0 or more."
	}
	return fault.Form(f)
}

// Check refuses a family with a message by field: name, title, new_board.
func (fam Family) Check() error {
	f := form{}
	f.long("name", fam.Name, maxLine)
	f.need("name", fam.Name, "Enter the family’s name.")
	f.long("title", fam.Title, maxLine)
	if fam.NewBoard != nil && fam.NewBoard.Minor < 0 {
		f["new_board"] = "Enter a price of 0 or more."
	}
	return fault.Form(f)
}
