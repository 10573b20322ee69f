package analysis

import (
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Moving says that a reading was still creeping when it was taken.
type Moving string

// The ways a reading creeps.
const (
	Still      Moving = ""
	MovingUp   Moving = "up" // in cold resistance: a lower bound of the settled value
	MovingDown Moving = "down"
)

// Reading is one row of what was measured, in time order.
type Reading struct {
	Line  int           // of the file, 1 is the header; 0 when it came from elsewhere
	Check profile.Check // resolved; ID is empty when no check of the profile is the same measurement
	Value quantity.Value

	NotPossible bool     // "-": the check cannot be made on this board
	Moving      Moving   // still creeping
	Residue     *float64 // DC volts found between the points before it, nil when not read

	// Fitted is the designator that is new from this row on, empty otherwise.
	// A row that only fits a part has an empty Check.State.
	Fitted string
}

// Bare tells whether the row only fits a part and reads nothing.
func (r Reading) Bare() bool { return r.Fitted != "" && r.Check.State == "" }
