// Package evidence holds what was measured, seen and done on a board, as it is
// stored: readings and their strikes, proofs that the board is dead, powered
// events, findings, fitted parts, things seen. All of it is append-only.
//
// It knows the rules that need nothing but this evidence, the gate before cold
// work above all. It knows no circuit, no profile, no storage.
package evidence

import (
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
)

// Reading is one measurement that was made, or could not be made. Its ID comes
// from the device that took it (UUIDv7): sent twice, it is stored once.
type Reading struct {
	ID               uuid.UUID
	TicketID         uuid.UUID
	Stage            string // StageBefore or StageAfter a part was fitted
	CheckKey         string // the check's id in the profile, or a place written out
	State            string // of the board: "cold", "live", ... as in the profile
	Measure          string // "resistance", "diode", "dc_volts", ...
	Red, Black       string // where the probes were
	Across           string // a part, instead of red and black
	Lifted           bool
	Swapped          bool
	Subject          string   // "" in place, SubjectOld the removed part, SubjectNew the new one
	Typed            string   // as typed, "6.78k", "OL"; "-" when not possible
	Value            *float64 // in ohm, volt, farad or henry; nil when there is no number
	OverRange        bool
	Agrees           bool     // one tap "agrees": the band, not a number
	BandLow          *float64 // what "agrees" agreed with; nil is over-range
	BandHigh         *float64
	Moving           string   // "", "up" or "down": it was still creeping
	Residue          *float64 // volts found between the points beforehand
	Condition        string   // "", ConditionNotOnMetal
	NotPossible      bool     // the check cannot be made on this board: never offer it again
	MeterVersionID   *uuid.UUID
	ProfileVersionID *uuid.UUID
	PersonID         uuid.UUID
	DeviceID         *uuid.UUID
	DeviceSeq        int64
	TakenAt          time.Time // by the device's clock
	TakenOffset      int       // minutes east of UTC on the device
	ReceivedAt       time.Time // by ours; set when stored
	Struck           *Strike   // nil while it counts
}

// Values of Stage, Subject and Condition.
const (
	StageBefore         = "before"
	StageAfter          = "after"
	SubjectOld          = "old"
	SubjectNew          = "new"
	ConditionNotOnMetal = "not_on_metal"
)

// Strike takes a reading out of the count; the reading stays.
type Strike struct {
	ReadingID uuid.UUID
	Reason    string
	PersonID  uuid.UUID
	At        time.Time
}

// Receipt says what became of one reading that was sent.
type Receipt struct {
	ID      uuid.UUID
	Outcome Outcome
	Text    string // for the person; empty when stored
}

// Outcome is what became of something a device sent.
type Outcome string

// The outcomes. Kept means: not applied, but nothing is lost; it waits in the
// inbound record with its error.
const (
	Stored  Outcome = "stored"
	Already Outcome = "already" // the same, stored before
	Kept    Outcome = "kept"
)

// maxPlace is the longest name of a check, place or condition, in characters.
const maxPlace = 120

// Check refuses a reading that says nothing or contradicts itself. The error is
// a fault.Invalid whose text names what is wrong.
func (r Reading) Check() error {
	outcomes := 0
	for _, is := range []bool{r.Value != nil, r.OverRange, r.Agrees, r.NotPossible} {
		if is {
			outcomes++
		}
	}
	switch {
	case r.ID.Version() != 7:
		return fault.New(fault.Invalid, "The reading’s id is no UUIDv7.")
	case r.Measure == "" || r.State == "":
		return fault.New(fault.Invalid, "A reading names the board’s state and what was measured.")
	case r.Across == "" && r.Red == "":
		return fault.New(fault.Invalid, "A reading names where it was taken.")
	case r.Across != "" && (r.Red != "" || r.Black != ""):
		return fault.New(fault.Invalid, "A reading is taken across a part or between two places, not both.")
	case outcomes != 1:
		return fault.New(fault.Invalid, "A reading is a number, OL, agrees, or not possible: one of them.")
	case r.TakenAt.IsZero():
		return fault.New(fault.Invalid, "A reading says when it was taken.")
	case r.TakenOffset < -24*60 || r.TakenOffset > 24*60:
		return fault.New(fault.Invalid, "The device’s time zone is out of range.")
	}
	return r.checkWords()
}

// checkWords refuses words that are not of their list, overlong ones, and
// numbers that are none.
func (r Reading) checkWords() error {
	for _, w := range []struct {
		word  string
		among []string
	}{
		{r.Stage, []string{StageBefore, StageAfter}},
		{r.Subject, []string{"", SubjectOld, SubjectNew}},
		{r.Condition, []string{"", ConditionNotOnMetal}},
		{r.Moving, []string{"", "up", "down"}},
	} {
		if !slices.Contains(w.among, w.word) {
			return fault.New(fault.Invalid, "%q is none of %q.", w.word, w.among)
		}
	}
	for _, text := range []string{r.CheckKey, r.State, r.Measure, r.Red, r.Black, r.Across, r.Typed} {
		if utf8.RuneCountInString(text) > maxPlace || !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
			return fault.New(fault.Invalid, "A name is longer than %d characters, or no text.", maxPlace)
		}
	}
	for _, n := range []*float64{r.Value, r.BandLow, r.BandHigh, r.Residue} {
		if n != nil && (math.IsNaN(*n) || math.IsInf(*n, 0)) {
			return fault.New(fault.Invalid, "A reading needs a finite number.")
		}
	}
	return nil
}
