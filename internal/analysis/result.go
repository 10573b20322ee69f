package analysis

import (
	"encoding/json"
	"strconv"
	"strings"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Result is the answer to a set of readings, and as JSON the object that
// `ohmstead diagnose --json` writes.
type Result struct {
	Profile    string     `json:"profile"`
	Table      []Row      `json:"table"`
	Suspects   []Suspect  `json:"suspects"`
	Next       []Next     `json:"next"`
	Conclusion Conclusion `json:"conclusion"`

	Sets []Set `json:"-"` // the suspects by their parts, most probable first
}

// Row is one line of the expected-against-actual table: a reading, or a check
// of the profile that was not read yet.
type Row struct {
	Check        CheckRef `json:"check"`
	Expected     *Band    `json:"expected"`                // nil where nothing can be computed; Why says why
	ExpectedHere *Band    `json:"expected_here,omitempty"` // narrowed by readings across sources; decides the verdict
	CanTell      bool     `json:"can_tell"`
	Actual       *float64 `json:"actual"` // base unit; nil when not read, or OL
	OverRange    bool     `json:"over_range"`
	Verdict      Verdict  `json:"verdict"`
	Why          string   `json:"why"` // one plain sentence

	// For those who draw the row.

	Measured   profile.Check `json:"-"` // the check with its nodes resolved
	Reading    *Reading      `json:"-"` // nil when not read
	Resolution float64       `json:"-"` // of the meter at the typical value, base unit
	Guard      Band          `json:"-"` // beyond it a reading is nonconforming: 0.05 % and 99.95 %
	Open       *Shown        `json:"-"` // what it shows with the part across which it is taken open
	Short      *Shown        `json:"-"` // and shorted; nil where the part has no such mode
	Telling    []Telling     `json:"-"` // faults that would read outside the band, plainest first; at most 6
	Settling   *Settling     `json:"-"` // nil where the reading stands at once
}

// CheckRef names a check as the formats write it.
type CheckRef struct {
	ID      string          `json:"id,omitempty"`
	State   string          `json:"state"`
	Measure profile.Measure `json:"measure"`
	Across  string          `json:"across,omitempty"`
	Red     string          `json:"red,omitempty"`
	Black   string          `json:"black,omitempty"`
	Lifted  bool            `json:"lifted,omitempty"`
	Swapped bool            `json:"swapped,omitempty"`
}

// Band is what a healthy board displays: the 0.5 % and 99.5 % quantiles about
// the value at nominal parts, in the unit's base. nil is over-range (OL), which
// stands above every number.
type Band struct {
	Low     *float64      `json:"low"`
	Typical *float64      `json:"typical"`
	High    *float64      `json:"high"`
	Unit    quantity.Unit `json:"unit"`
}

// Shown is one displayed value.
type Shown struct {
	Value     float64 // base unit; 0 when OverRange
	OverRange bool
}

// Telling is a fault that this check would show: what the meter would read.
type Telling struct {
	Fault Fault
	Shown Shown
}

// Settling says how a reading moves before it stands still.
type Settling struct {
	First   Shown   // in the first second
	Settled Shown   // at the end
	Seconds float64 // until it is within the meter's accuracy of Settled
	TellBy  float64 // seconds from which a good part and an open one differ by more than the meter can miss; +Inf: never
}

// Verdict is what a reading says of its check, in the words of JCGM 106.
type Verdict string

// The verdicts; pages show them as bad, not bad and cannot tell.
const (
	NotRead       Verdict = "" // null in JSON
	Nonconforming Verdict = "nonconforming"
	Conforming    Verdict = "conforming"
	Inconclusive  Verdict = "inconclusive"
)

// MarshalJSON writes the verdict, null when there is none.
func (v Verdict) MarshalJSON() ([]byte, error) {
	if v == NotRead {
		return []byte("null"), nil
	}
	return json.Marshal(string(v))
}

// Fault is one way in which one part fails.
type Fault struct {
	Part string       `json:"part"`
	Mode profile.Mode `json:"mode"`
}

// Suspect is one hypothesis; no faults is the healthy board.
type Suspect struct {
	Faults      []Fault `json:"faults"`
	Probability float64 `json:"probability"`
	Why         string  `json:"why"`

	Words   string  `json:"-"` // "R3 high"
	Account Account `json:"-"` // zero when nothing was read
}

// Next is one check worth making.
type Next struct {
	Check    CheckRef `json:"check"`
	GainBits float64  `json:"gain_bits"`
	Minutes  float64  `json:"minutes"`
	Why      string   `json:"why"`

	Measured profile.Check `json:"-"`
	Leaves   string        `json:"-"` // what is read when none of Would is at fault: "5.27 kΩ"
	Clears   []string      `json:"-"` // the likeliest parts that such a reading clears
	Would    []Would       `json:"-"` // what suspects would read, likeliest first
}

// Would is what a suspect would read.
type Would struct {
	Words string // "R3 open"
	Reads string // "11.1 kΩ"
}

// Status is where the diagnosis stands.
type Status string

// The statuses of a conclusion.
const (
	Conflict          Status = "conflict"
	Healthy           Status = "healthy"
	Found             Status = "found"
	Indistinguishable Status = "indistinguishable"
	Undecided         Status = "undecided"
)

// Conclusion is what may be said now.
type Conclusion struct {
	Status  Status     `json:"status"`
	Parts   []string   `json:"parts"`
	Why     string     `json:"why"`
	Sibling string     `json:"sibling,omitempty"` // conflict: the profile that fits better
	Unseen  []Fault    `json:"unseen,omitempty"`  // healthy: what could still hide
	Groups  [][]string `json:"groups,omitempty"`  // indistinguishable: the sets that remain

	Alike string         `json:"-"` // title of the sibling that would read the same where this board contradicts its profile; empty: none
	Again *profile.Check `json:"-"` // the check that Why asks to make again; nil: none
}

// mostListed is how many sets are named that no check tells apart.
const mostListed = 5

// OneOf names the sets of parts that no check tells apart, the first of them: "R1,
// or R2 and C1".
func (c Conclusion) OneOf() string {
	if len(c.Groups) == 0 {
		return strings.Join(c.Parts, ", ")
	}
	var names []string
	for _, g := range c.Groups[:min(mostListed, len(c.Groups))] {
		names = append(names, list(g))
	}
	if n := len(c.Groups) - mostListed; n > 0 {
		names = append(names, strconv.Itoa(n)+" others")
	}
	return strings.Join(names, ", or ")
}
