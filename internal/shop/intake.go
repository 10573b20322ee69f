package shop

import (
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/quote"
)

// Intake is what the counter writes down when a board comes in. A known
// customer is named by CustomerID; otherwise Name and Phone make a new one.
// A serial or own tag that is known brings the board back.
type Intake struct {
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
	Limit         *quote.Money // nil with AskFirst false: the customer's standing limit
	AskFirst      bool         // no limit: ask before any work is charged
	PromisedOn    *time.Time
	NotAComeback  bool // the board was here before, but for something else
}

// Correction changes one field of a ticket, with a reason. Field is one of
// CorrectableFields; a new value of "state" corrects a wrong state.
type Correction struct {
	Field  string
	New    string // state by its code, promised_on as 2006-01-02, limit in minor units or ""
	Reason string
}

// HandOver is what the counter says when a board goes back.
type HandOver struct {
	As     State  // HandedOver or ReturnedUnrepaired
	To     string // who took it
	Text   string // what was done, or why not, in plain words
	Advice string
	Blocks []SafetyBlock // the profile's blocks marked safety, each with its proof
}

// SafetyBlock is a block that guards something; its function must be proven
// before the board is handed over as repaired.
type SafetyBlock struct {
	Name  string
	Title string
	Proof string // how it was proven: what was done and read; "" not proven
}
