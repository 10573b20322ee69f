package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
)

// DeadProof is one reading of one store of energy, both ways round, between two
// proofs of the meter. All three belong together: without the second proof
// nothing is proven (NFPA 70E 120.5: live, dead, live).
type DeadProof struct {
	ID              uuid.UUID
	TicketID        uuid.UUID
	Part            string     // the capacitor or battery whose legs were touched
	Volts           float64    // red on plus
	VoltsSwapped    float64    // and the other way round
	BeforeAt        *time.Time // the meter was proved on a known DC source, same range
	BeforeOK        bool
	ReadAt          time.Time
	AfterAt         *time.Time // and proved again
	AfterOK         bool
	HandlingLimit   float64 // volts, the shop's limit at that time
	ResistanceLimit float64
	Result          GateState // what this reading alone allows
	PersonID        uuid.UUID
	DeviceID        *uuid.UUID
	TakenAt         time.Time
	ReceivedAt      time.Time
}

// PowerEvent says that the board was powered or unpowered; either closes the gate.
type PowerEvent struct {
	ID         uuid.UUID
	TicketID   uuid.UUID
	On         bool
	Hazardous  bool   // false: extra-low voltage (up to 60 V DC) from a limited supply
	State      string // the profile's state, "live", "injected"
	Note       string // "contact lost" when a device that powered it went silent
	PersonID   uuid.UUID
	DeviceID   *uuid.UUID
	TakenAt    time.Time
	ReceivedAt time.Time
}

// GateState is what the gate before cold work allows.
type GateState string

// The states of the gate. Unproven is the default and where it falls back to.
const (
	Unproven       GateState = "unproven"
	DeadHandling   GateState = "dead_handling"   // may be handled
	DeadResistance GateState = "dead_resistance" // resistance and diode checks may be made
	LowVolts       GateState = "low_volts"
	Live           GateState = "live"
)

// Limits are the volts up to which a store counts as dead.
type Limits struct {
	Handling   float64 // at most MaxHandling
	Resistance float64 // at most MaxResistance
}

// The limits as shipped; an owner may only tighten them. Common practice, no source.
const (
	MaxHandling   = 5.0
	MaxResistance = 0.1
)

// ProofHolds is how long a reading counts before the gate falls back, and how
// far from it the two proofs of the meter may lie. Common practice, no source.
const ProofHolds = 10 * time.Minute

// maxLowVolts is where extra-low voltage ends (IEC 62368-1, ES1: 60 V DC).
const maxLowVolts = 60.0

// Gate is the state of the gate at one moment, and why.
type Gate struct {
	State   GateState
	Volts   float64   // the highest volts of the readings it rests on
	ReadAt  time.Time // the oldest of them; zero when it rests on none
	Until   time.Time // when it falls back to unproven; zero when it does not
	Missing []string  // stores of energy still to be proven
	Why     string    // one sentence
}

// Check refuses a proof without a store of energy, a time or finite volts, with a
// message by field: part, volts, read_at.
func (p DeadProof) Check() error {
	bad := map[string]string{}
	if strings.TrimSpace(p.Part) == "" {
		bad["part"] = "Name the capacitor or battery on whose legs you read."
	}
	tooLong(bad, "part", p.Part, maxPlace)
	if v := p.Worst(); math.IsNaN(v) || math.IsInf(v, 0) {
		bad["volts"] = "Enter the volts read, both ways round."
	}
	if p.ReadAt.IsZero() {
		bad["read_at"] = "The time of the reading is missing. Read again."
	}
	return fault.Form(bad)
}

// Worst gives the higher of the two readings, without its sign.
func (p DeadProof) Worst() float64 { return math.Max(math.Abs(p.Volts), math.Abs(p.VoltsSwapped)) }

// complete tells whether the meter was proved before and after the reading, in
// that order and close enough to it.
func (p DeadProof) complete() bool {
	if p.BeforeAt == nil || p.AfterAt == nil || !p.BeforeOK || !p.AfterOK {
		return false
	}
	before, after := p.ReadAt.Sub(*p.BeforeAt), p.AfterAt.Sub(p.ReadAt)
	return before >= 0 && after >= 0 && before <= ProofHolds && after <= ProofHolds
}

// Judge says what one reading of one store allows under the shop's limits. High
// volts count whether or not the meter was proved; low volts only prove something
// between two good proofs.
func Judge(p DeadProof, l Limits) GateState {
	handling, resistance := min(l.Handling, MaxHandling), min(l.Resistance, MaxResistance)
	v := p.Worst()
	switch {
	case math.IsNaN(v):
		return Unproven
	case v > maxLowVolts:
		return Live
	case v > MaxHandling:
		return LowVolts
	case !p.complete():
		return Unproven
	case v <= resistance:
		return DeadResistance
	case v <= handling:
		return DeadHandling
	}
	return LowVolts // between the owner's tighter limit and ours
}

// GateAt gives the state of the gate at a moment. stores names every store of
// energy that the profile knows; with none, whatever was read counts, and nothing
// read proves nothing. A powered board is live or on low volts; any powered event
// makes earlier proofs worthless; so does their age.
func GateAt(now time.Time, stores []string, proofs []DeadProof, power []PowerEvent, l Limits) Gate {
	var since time.Time
	if last := lastPower(power); last != nil {
		if last.On {
			return powered(*last)
		}
		since = last.TakenAt
	}
	latest := map[string]DeadProof{}
	for _, p := range proofs {
		old, known := latest[p.Part]
		if p.holds(now, since) && (!known || !p.ReadAt.Before(old.ReadAt)) {
			latest[p.Part] = p
		}
	}
	return weigh(stores, latest, l)
}

// lastPower gives the newest powered event; of two at the same moment, one that
// switches on counts.
func lastPower(power []PowerEvent) *PowerEvent {
	var last *PowerEvent
	for i := range power {
		p := &power[i]
		if last == nil || p.TakenAt.After(last.TakenAt) || p.TakenAt.Equal(last.TakenAt) && p.On {
			last = p
		}
	}
	return last
}

// powered gives the gate of a board that is switched on.
func powered(p PowerEvent) Gate {
	if p.Hazardous {
		return Gate{State: Live, Why: "The board is powered with hazardous voltage."}
	}
	return Gate{State: LowVolts, Why: "The board is powered with extra-low voltage."}
}

// holds tells whether a reading still counts: not too old, not from the future
// (a device's clock may be a minute off), begun after the board was last powered.
func (p DeadProof) holds(now, since time.Time) bool {
	begun := p.ReadAt
	if p.BeforeAt != nil {
		begun = *p.BeforeAt
	}
	age := now.Sub(p.ReadAt)
	return age < ProofHolds && age > -time.Minute && begun.After(since)
}

// severity orders what single stores allow, worst last.
var severity = []GateState{DeadResistance, DeadHandling, Unproven, LowVolts, Live}

// weigh joins the stores' latest readings: the worst one rules, a store without
// a reading is unproven.
func weigh(stores []string, latest map[string]DeadProof, l Limits) Gate {
	var g Gate
	worst := 0
	parts := slices.Clone(stores)
	for part := range latest {
		if !slices.Contains(parts, part) {
			parts = append(parts, part)
		}
	}
	slices.Sort(parts)
	for _, part := range parts {
		state := Unproven
		if p, read := latest[part]; read {
			state = Judge(p, l)
			g.Volts = math.Max(g.Volts, p.Worst())
			if g.ReadAt.IsZero() || p.ReadAt.Before(g.ReadAt) {
				g.ReadAt = p.ReadAt
			}
		}
		if state == Unproven {
			g.Missing = append(g.Missing, part)
		}
		worst = max(worst, slices.Index(severity, state))
	}
	g.State = severity[worst]
	if len(parts) == 0 {
		g.State = Unproven
	}
	if !g.ReadAt.IsZero() {
		g.Until = g.ReadAt.Add(ProofHolds)
	}
	g.Why = g.why()
	return g
}

// why says in a sentence what the gate rests on.
func (g Gate) why() string {
	switch g.State {
	case DeadResistance, DeadHandling:
		return fmt.Sprintf("At most %.3g V was read, between two proofs of the meter.", g.Volts)
	case LowVolts, Live:
		return fmt.Sprintf("%.3g V was read.", g.Volts)
	}
	if len(g.Missing) > 0 {
		return "Still to be proven dead: " + strings.Join(g.Missing, ", ") + "."
	}
	return "Nothing was read in the last 10 minutes."
}
