package evidence

import (
	"time"

	"github.com/google/uuid"
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

// ProofHolds is how long a reading counts before the gate falls back.
const ProofHolds = 10 * time.Minute

// Gate is the state of the gate at one moment, and why.
type Gate struct {
	State   GateState
	Volts   float64   // the highest volts of the readings it rests on
	ReadAt  time.Time // the oldest of them; zero when unproven without a reading
	Until   time.Time // when it falls back to unproven
	Missing []string  // stores of energy still to be read
	Why     string    // one sentence
}
