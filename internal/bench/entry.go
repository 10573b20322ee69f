package bench

import (
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Entry is a reading as it was keyed in: texts as typed, keys as pressed. As
// JSON it is what a tablet sends.
type Entry struct {
	ID     string `json:"id"`              // UUIDv7, made where the reading was taken
	Check  string `json:"check,omitempty"` // id in the profile; empty: state, measure and places say it
	State  string `json:"state,omitempty"` // of the board
	Place         // where, when no check says it
	Typed  string `json:"typed,omitempty"`  // as typed; "-" is the same as NotPossible
	Moving string `json:"moving,omitempty"` // "up" or "down": still creeping
	// Residue is the DC volts found between the points before a resistance
	// reading, as typed.
	Residue     string `json:"residue,omitempty"`
	Subject     string `json:"subject,omitempty"` // "old": the removed part, "new": the new one
	Lifted      bool   `json:"lifted,omitempty"`
	Swapped     bool   `json:"swapped,omitempty"` // red and black changed over, as seen from the check
	NotOnMetal  bool   `json:"not_on_metal,omitempty"`
	Agrees      bool   `json:"agrees,omitempty"` // one tap: it reads what a good one reads
	NotPossible bool   `json:"not_possible,omitempty"`
	// Band is what Agrees agreed with, as the device showed it; nil: ask the engine.
	Band *Range `json:"band,omitempty"`

	// TakenAt is by the device's clock; zero, or what no clock that is right would
	// say: now.
	TakenAt time.Time `json:"taken_at,omitzero"`
	Offset  int       `json:"offset,omitempty"` // minutes east of UTC on the device
	Seq     int64     `json:"seq,omitempty"`    // counts the device's readings
}

// Place is what is measured and where the probes are.
type Place struct {
	Measure string `json:"measure,omitempty"`
	Red     string `json:"red,omitempty"`
	Black   string `json:"black,omitempty"`
	Across  string `json:"across,omitempty"` // a part, instead of red and black
}

// Range is the band that "agrees" agreed with, in the base unit; nil is
// over-range.
type Range struct {
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// Sitting is what an entry's reading takes from the ticket and the person.
type Sitting struct {
	TicketID         uuid.UUID
	ProfileVersionID *uuid.UUID
	MeterVersionID   *uuid.UUID // nil: the built-in default meter
	PersonID         uuid.UUID
	DeviceID         *uuid.UUID
	Now              time.Time
	Fitted           []evidence.Fitted // readings after the first of them are of stage "after"
}

// A device whose clock is wrong would put its readings before or after everything
// else: before a part was fitted, say, that they were taken to prove.
const (
	clockSlack  = 5 * time.Minute     // how far its clock may be ahead of ours
	longestAway = 90 * 24 * time.Hour // how long it may be without the network
)

// Reading makes the reading of an entry. m may be nil: without a profile the
// entry has to say state, measure and places itself. The error is of kind
// fault.Invalid with a message by field; the reading that comes with it holds
// whatever could be understood, for those who keep it all the same.
func (m *Model) Reading(e Entry, s Sitting) (evidence.Reading, error) {
	problems := map[string]string{}
	r := evidence.Reading{
		TicketID: s.TicketID, ProfileVersionID: s.ProfileVersionID, MeterVersionID: s.MeterVersionID, PersonID: s.PersonID, DeviceID: s.DeviceID,
		DeviceSeq: e.Seq, Moving: e.Moving, Subject: e.Subject, Agrees: e.Agrees,
		TakenAt: e.TakenAt, TakenOffset: e.Offset, Stage: evidence.StageBefore,
	}
	var err error
	if r.ID, err = uuid.Parse(e.ID); err != nil {
		problems["id"] = "The reading has no number of its own. Load the page again; what you typed is kept."
	}
	if r.TakenAt.Before(s.Now.Add(-longestAway)) || r.TakenAt.After(s.Now.Add(clockSlack)) {
		r.TakenAt = s.Now
	}
	for _, f := range s.Fitted {
		if !f.TakenAt.After(r.TakenAt) {
			r.Stage = evidence.StageAfter
		}
	}
	if e.NotOnMetal {
		r.Condition = evidence.ConditionNotOnMetal
	}
	m.locate(&r, e, problems)
	typeIn(&r, e, problems)
	if m != nil {
		m.agree(&r, e, problems)
	} else if r.Agrees {
		problems["typed"] = "Nothing is known of what a good one reads here. Type what the meter shows."
	}
	return r, fault.Form(problems)
}

// locate says what was measured and where, from the check or from the entry.
func (m *Model) locate(r *evidence.Reading, e Entry, problems map[string]string) {
	r.CheckKey, r.State, r.Measure = e.Check, e.State, e.Measure
	r.Red, r.Black, r.Across = strings.TrimSpace(e.Red), strings.TrimSpace(e.Black), strings.TrimSpace(e.Across)
	r.Lifted, r.Swapped = e.Lifted, e.Swapped
	if e.Check != "" && m != nil {
		if c, ok := m.Profile.Check(e.Check); ok {
			m.takeFrom(r, *c)
		} else {
			problems["check"] = "The profile has no check \"" + e.Check + "\". Choose another one, or enter the reading freely."
		}
	}
	if r.State == "" {
		problems["state"] = "Say how the board stands: cold, or in which powered state."
	}
	if profile.Measure(r.Measure).Unit() == quantity.Plain {
		problems["measure"] = "Say what the meter was set to."
	}
	if r.Across == "" && r.Red == "" && problems["check"] == "" {
		problems["red"] = "Say where the red probe was, or across which part."
	}
	if r.Across != "" && r.Red+r.Black != "" {
		problems["across"] = "Give a part, or two places; not both."
	}
	if (r.Lifted || r.Subject != "") && r.Across == "" && problems["check"] == "" {
		problems["across"] = "Only a part can be lifted, removed or new. Say which."
	}
	if m != nil && len(problems) == 0 {
		m.placeProblem(*r, problems)
	}
	if r.CheckKey == "" {
		r.CheckKey = m.keyOf(*r)
	}
}

// takeFrom fills in a check of the profile. The keys that were pressed turn it
// into a neighbouring measurement: swapped back, or lifted.
func (m *Model) takeFrom(r *evidence.Reading, c profile.Check) {
	r.State, r.Measure = c.State, string(c.Measure)
	r.Red, r.Black, r.Across = c.Red, c.Black, c.Across
	changed := r.Swapped || r.Lifted && !c.Lifted
	r.Swapped = r.Swapped != c.Swapped
	r.Lifted = r.Lifted || c.Lifted
	if changed {
		r.CheckKey = ""
	}
}

// keyOf names a measurement: the profile's check that it is, or its place
// written out.
func (m *Model) keyOf(r evidence.Reading) string {
	if m != nil {
		if c, err := m.measured(r); err == nil && c.ID != "" {
			return c.ID
		}
	}
	key := r.Across
	if key == "" {
		key = r.Red
		if r.Black != "" {
			key += " to " + r.Black
		}
	}
	if r.Lifted {
		key += " lifted"
	}
	if r.Swapped {
		key += " swapped"
	}
	return key
}

// typeIn understands what was typed.
func typeIn(r *evidence.Reading, e Entry, problems map[string]string) {
	r.Typed = strings.TrimSpace(e.Typed)
	r.NotPossible = e.NotPossible || r.Typed == "-" || r.Typed == "−"
	unit := profile.Measure(r.Measure).Unit()
	switch {
	case r.NotPossible:
		r.Typed, r.Agrees = "-", false
	case r.Agrees && r.Typed == "":
	default:
		r.Agrees = false
		v, err := quantity.Parse(r.Typed, unit)
		if err != nil {
			problems["typed"] = typedProblem(err)
			return
		}
		r.OverRange = v.OverRange
		if !v.OverRange {
			r.Value = &v.Number
		}
	}
	if residue := strings.TrimSpace(e.Residue); residue != "" {
		v, err := quantity.Parse(residue, quantity.Volt)
		if err != nil || v.OverRange {
			problems["residue"] = "Type the volts between the points, such as 0.02."
			return
		}
		r.Residue = &v.Number
	}
}

// typedProblem says what is wrong with a typed value and what is expected.
func typedProblem(err error) string {
	var q *quantity.Error
	if !errors.As(err, &q) {
		return "This is not understood. Type what the meter shows."
	}
	if strings.TrimSpace(q.Text) == "" {
		return "Nothing is typed. Type what the meter shows: " + q.Expected + ", or OL."
	}
	return "“" + q.Text + "”: " + q.Problem + ". Type " + q.Expected + "."
}

// agree fills in the band that "agrees" agreed with.
func (m *Model) agree(r *evidence.Reading, e Entry, problems map[string]string) {
	if !r.Agrees {
		return
	}
	band := e.Band
	if band == nil {
		band = m.bandOf(*r)
	}
	if band == nil || (band.Low == nil) != (band.High == nil) {
		problems["typed"] = "What a good one reads here cannot be said in one band. Type what the meter shows."
		return
	}
	r.BandLow, r.BandHigh = band.Low, band.High
}
