package bench

import (
	"math"
	"strings"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
)

// Supply stands for the supply terminals in proofs of boards that store no
// energy, or of which nothing is known: pulling the plug is a promise, a reading
// across the terminals is evidence. So such a board is proven dead like any other.
const Supply = "supply"

// Store is a place where energy may wait.
type Store struct {
	Part  string        // designator, or Supply
	Known *profile.Part // nil for Supply
	Volts float64       // the most that any state of the profile puts across it; 0 when not known
}

// Stores lists what must be proven dead before cold work. m may be nil.
func (m *Model) Stores() []Store {
	if m == nil || len(m.Profile.StoredEnergy) == 0 {
		return []Store{{Part: Supply}}
	}
	var out []Store
	for _, ref := range m.Profile.StoredEnergy {
		s := Store{Part: ref}
		if part, ok := m.Profile.Part(ref); ok {
			s.Known = part
			s.Volts = m.voltsAcross(part)
		}
		out = append(out, s)
	}
	return out
}

// voltsAcross gives the most that a source connects straight across a part.
func (m *Model) voltsAcross(part *profile.Part) float64 {
	most := 0.0
	if len(part.Pins) != 2 {
		return 0
	}
	a, b := part.Pins[0].Node, part.Pins[1].Node
	for _, st := range m.Profile.States {
		for _, s := range st.Sources {
			if s.Kind == profile.VoltsSource && (s.Plus == a && s.Minus == b || s.Plus == b && s.Minus == a) {
				most = max(most, math.Abs(s.Volts)*(1+s.Tolerance))
			}
		}
	}
	return most
}

// Gate gives the state of the gate of a ticket at a moment. m may be nil.
func (m *Model) Gate(story *shop.Story, l evidence.Limits, now time.Time) evidence.Gate {
	var names []string
	for _, s := range m.Stores() {
		names = append(names, s.Part)
	}
	return evidence.GateAt(now, names, story.DeadProofs, story.Power, l)
}

// Powered gives the state in which the board stands powered, "" when it is
// not. Of two events at the same moment the one that switches on counts.
func Powered(story *shop.Story) string {
	var last *evidence.PowerEvent
	for i := range story.Power {
		p := &story.Power[i]
		if last == nil || p.TakenAt.After(last.TakenAt) || p.TakenAt.Equal(last.TakenAt) && p.On {
			last = p
		}
	}
	if last == nil || !last.On {
		return ""
	}
	return last.State
}

// asOf is the story as it stood at a moment, as far as the gate looks at it.
func asOf(story *shop.Story, at time.Time) *shop.Story {
	var s shop.Story
	for _, p := range story.Power {
		if !p.TakenAt.After(at) {
			s.Power = append(s.Power, p)
		}
	}
	for _, p := range story.DeadProofs {
		if !p.TakenAt.After(at) {
			s.DeadProofs = append(s.DeadProofs, p)
		}
	}
	return &s
}

// Bar is what stands in the way of a check.
type Bar string

// The bars.
const (
	Free      Bar = ""           // nothing does
	ProveDead Bar = "prove_dead" // the board must be proven dead first
	PowerUp   Bar = "power_up"   // the board must stand in the check's powered state
	PowerOff  Bar = "power_off"  // the board is powered, the check is a cold one
	WeakMeter Bar = "weak_meter" // the meter is not rated for the state
)

// Bar tells what stands in the way of measuring in a state. Volts on an
// unpowered board are how it is proven dead: nothing stands in their way but power.
func (m *Model) Bar(state string, measure profile.Measure, g evidence.Gate, powered string) Bar {
	switch {
	case state == profile.Cold && powered != "":
		return PowerOff
	case state == profile.Cold && measure != profile.MeasureDCVolts && measure != profile.MeasureACVolts &&
		g.State != evidence.DeadResistance:
		return ProveDead
	case state == profile.Cold:
		return Free
	case m != nil && m.Weak(state):
		return WeakMeter
	case powered != state:
		return PowerUp
	}
	return Free
}

// BarOf tells what stands in the way of storing a reading from a form. One
// whose form was drawn while the way was free counts, though the gate has fallen
// back since: the reading was taken then, and the form's id says when that was
// (a UUIDv7 begins with its time). A meter that is not rated is never let through.
func (m *Model) BarOf(r evidence.Reading, story *shop.Story, l evidence.Limits, now time.Time) Bar {
	measure := profile.Measure(r.Measure)
	bar := m.Bar(r.State, measure, m.Gate(story, l, now), Powered(story))
	drawn := time.Unix(r.ID.Time().UnixTime())
	if bar == Free || bar == WeakMeter || drawn.After(now) || now.Sub(drawn) >= evidence.ProofHolds {
		return bar
	}
	then := asOf(story, drawn)
	if m.Bar(r.State, measure, m.Gate(then, l, drawn), Powered(then)) == Free {
		return Free
	}
	return bar
}

// Hazard tells how dangerous a powered state is. A state that is not in the
// profile, or no profile at all, is hazardous unless it is called injected.
func (m *Model) Hazard(state string) profile.Hazard {
	if m != nil {
		if st, ok := m.Profile.State(state); ok {
			return st.Hazard
		}
	}
	if state == profile.Cold {
		return profile.HazardNone
	}
	if state == Injected {
		return profile.ExtraLowVoltage
	}
	return profile.Hazardous
}

// The powered states that a board without a profile may stand in.
const (
	LiveState = "live"
	Injected  = "injected" // up to 60 V DC from a current-limited supply
)

// StateVolts gives the highest volts that a state's sources may put between two
// nodes, DC or rms, tolerance included.
func (m *Model) StateVolts(state string) float64 {
	st, ok := m.Profile.State(state)
	if !ok {
		return 0
	}
	most := 0.0
	for _, s := range st.Sources {
		for _, v := range []float64{s.Volts * (1 + s.Tolerance), s.VoltsAC * (1 + s.Tolerance), s.AtMost} {
			if !math.IsInf(v, 0) && !math.IsNaN(v) {
				most = max(most, math.Abs(v))
			}
		}
	}
	return most
}

// Weak tells whether the meter may not be used in a state: its rated volts lie
// below what the state holds, or, in a hazardous state, its file gives no rating.
func (m *Model) Weak(state string) bool {
	if m.Hazard(state) != profile.Hazardous {
		return false
	}
	return m.Meter.RatedVolts < m.StateVolts(state) || m.Meter.RatedVolts == 0
}

// LiveCommon tells whether the common is live in a state.
func (m *Model) LiveCommon(state string) bool {
	if m == nil {
		return true
	}
	st, ok := m.Profile.State(state)
	return ok && st.LiveCommon
}

// SafetyNote says in short sentences what matters before a state is powered
// up. They defer to local codes and licensed practice.
func (m *Model) SafetyNote(state string) []string {
	if m.Hazard(state) != profile.Hazardous {
		return []string{
			"Current-limited supply, at most 60 V DC, on the dead board; set the limit before you connect.",
			"Bus capacitors charge: the board counts as low volts until it is proven dead again.",
		}
	}
	lines := []string{
		"Behind an isolating transformer, one board to it, output unearthed. An autotransformer isolates nothing; no RCD protects you here.",
		"First through a series limiter: read the bus first. It limits current, not voltage.",
		"Cover or face shield, wrist strap off, one hand, someone within call, emergency-off in reach.",
	}
	if m.LiveCommon(state) {
		lines = append(lines, "The common is live, the low-voltage side too: no earthed iron, no oscilloscope earth, no USB or serial lead unless isolated.")
	}
	return append(lines, m.meterNote(state), "Local codes and licensed practice come before this page.")
}

// meterNote says whether the meter suits a state.
func (m *Model) meterNote(state string) string {
	if m == nil {
		return "Meter, leads and clips CAT II 600 V or better, rated in DC for the bus; no lead in the current socket."
	}
	name := m.Meter.Name
	if c := strings.TrimSpace(m.Meter.Category); c != "" {
		name += " (" + c + ")"
	}
	if m.Weak(state) {
		return "The meter " + name + " is not rated for this state: hot checks with it are refused."
	}
	return "Meter " + name + "; leads and clips rated alike; no lead in the current socket."
}
