package page

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

// GatePanel is "Prove dead": what must be read before cold work, and what was.
type GatePanel struct {
	Action  string
	Check   string // the check at hand, to come back to
	Open    bool   // resistance and diode checks may be made
	Why     string // one sentence: what the gate rests on, or why it stays closed
	Until   string // clock time at which it falls back
	Limits  string // "handling at most 5 V; resistance and diode checks at most 0.1 V between the points"
	Stores  []StoreLine
	Before  ui.Input // when the meter was proved, and proved again
	After   ui.Input
	Refusal Refusal
	Zone    string // of the shop, for the keys that fill in the time
	Powered bool   // nothing can be proven while it is powered
}

// StoreLine is one store of energy and the fields for its two readings.
type StoreLine struct {
	Part    string
	Name    string // "C1, 330 µF" or "The supply terminals"
	Where   string // where to measure
	Holds   string // what it may hold: "up to 356 V, 25 J when full"; "" when not known
	ID      string // UUIDv7 of the proof
	Volts   ui.Input
	Swapped ui.Input
	Last    string // the newest reading that still counts: "0.03 V at 14:05"; "" none
}

// gateOf makes the panel.
func gateOf(in BenchInput) GatePanel {
	g := GatePanel{
		Action: BenchAddress(in.Story.Ticket.Number) + "/dead", Check: in.Check, Zone: in.Locale.zoneName(),
		Open: in.Gate.State == evidence.DeadResistance,
		Why:  in.Gate.Why, Refusal: in.refusal("gate"), Powered: bench.Powered(in.Story) != "",
		Limits: fmt.Sprintf("Dead for handling: at most %s. For resistance and diode checks: at most %s between the points.",
			in.Locale.value(min(in.Limits.Handling, evidence.MaxHandling), 0, quantity.Volt),
			in.Locale.value(min(in.Limits.Resistance, evidence.MaxResistance), 0, quantity.Volt)),
		Before: ui.Input{Name: "before_at", Label: "Meter proved before, at", Type: "time", Required: true,
			Hint: "On a known DC source, same range."},
		After: ui.Input{Name: "after_at", Label: "Proved again after, at", Type: "time", Required: true,
			Hint: "Without this second proof nothing is proven."},
	}
	if in.Gate.State == evidence.DeadHandling {
		g.Why += " It may be handled; resistance and diode checks need less between the points."
	}
	if !in.Gate.Until.IsZero() && (g.Open || in.Gate.State == evidence.DeadHandling) {
		g.Until = in.Locale.Clock(in.Gate.Until)
	}
	for _, f := range []*ui.Input{&g.Before, &g.After} {
		f.Value, f.Problem = in.Proof[f.Name], g.Refusal.Problem(f.Name)
	}
	for _, s := range in.Model.Stores() {
		g.Stores = append(g.Stores, storeLine(in, s, g.Refusal))
	}
	return g
}

// storeLine makes the line of one store.
func storeLine(in BenchInput, s bench.Store, r Refusal) StoreLine {
	line := StoreLine{Part: s.Part, Name: "The supply terminals", Where: "across the terminals where it was fed, on the board's own pins",
		ID: in.NewID(), Last: lastProof(in, s.Part)}
	if s.Known != nil {
		line.Name = s.Known.Ref
		if c := s.Known.Param("value"); c > 0 && s.Known.Kind == profile.Capacitor {
			line.Name += ", " + in.Locale.value(c, 0, quantity.Farad)
		}
		line.Where = storeWhere(s.Known)
		line.Holds = storeHolds(in.Locale, s)
	}
	line.Volts = ui.Input{Name: "volts:" + s.Part, Label: "V, red on plus", Mode: "text"}
	line.Swapped = ui.Input{Name: "swapped:" + s.Part, Label: "V, red on minus", Mode: "text"}
	for _, f := range []*ui.Input{&line.Volts, &line.Swapped} {
		f.Value, f.Problem = in.Proof[f.Name], r.Problem(f.Name)
	}
	return line
}

// storeWhere says where a store is measured: on its own legs.
func storeWhere(part *profile.Part) string {
	var pins []string
	for _, pin := range part.Pins {
		pins = append(pins, pin.Node)
	}
	s := "on its own legs, " + strings.Join(pins, " and ")
	if part.Where != "" {
		s += "; " + part.Where
	}
	return s
}

// storeHolds says what a capacitor holds when it is full: ½CV². It is what the
// board's own source may leave there, no prediction of what is left now.
func storeHolds(l Locale, s bench.Store) string {
	if s.Volts <= 0 {
		return ""
	}
	text := "may hold up to " + l.value(s.Volts, threeDigits(s.Volts), quantity.Volt)
	if c := s.Known.Param("value"); s.Known.Kind == profile.Capacitor && c > 0 {
		joules := c * s.Volts * s.Volts / 2
		text += fmt.Sprintf(", %s J", l.Decimal(fmt.Sprintf("%.3g", joules)))
	}
	return text
}

// lastProof says what was read of a store last, while it counts.
func lastProof(in BenchInput, part string) string {
	for i := len(in.Story.DeadProofs) - 1; i >= 0; i-- {
		p := in.Story.DeadProofs[i]
		if p.Part != part || in.Now.Sub(p.ReadAt) >= evidence.ProofHolds {
			continue
		}
		return in.Locale.plainVolts(p.Worst()) + " at " + in.Locale.Clock(p.ReadAt)
	}
	return ""
}

// edgeOf gives the state that stands round the screen.
func edgeOf(in BenchInput) ui.Edge {
	e := ui.Edge{Kind: ui.EdgeUnproven, Words: ui.UnprovenWords, Why: in.Gate.Why}
	volts := in.Locale.plainVolts(in.Gate.Volts)
	switch in.Gate.State {
	case evidence.Live:
		e.Kind, e.Words = ui.EdgeLive, "LIVE"
	case evidence.LowVolts:
		e.Kind, e.Words = ui.EdgeLow, "LOW VOLTS"
	case evidence.DeadResistance, evidence.DeadHandling:
		e.Kind, e.Volts = ui.EdgeRead, volts
		e.ReadAt, e.Lapses = in.Gate.ReadAt, in.Gate.Until
		e.Remains = max(0, int(in.Gate.Until.Sub(in.Now).Seconds()))
		e.Words = fmt.Sprintf("READ %s, %d min ago", volts, max(0, int(in.Now.Sub(in.Gate.ReadAt).Minutes())))
		e.Why = "Read at " + in.Locale.Clock(in.Gate.ReadAt) + "; counts until " + in.Locale.Clock(in.Gate.Until) + "."
		if in.Gate.State == evidence.DeadHandling {
			e.Why = "May be handled; too much for resistance and diode checks. " + e.Why
		}
	}
	if p := in.poweredTitle(); p != "" {
		e.Why = "Powered: " + p + ", since " + in.Locale.Clock(poweredSince(in)) + "."
	}
	return e
}

// plainVolts writes volts as a meter shows them in a hurry: "0.03 V", "12.4 V".
func (l Locale) plainVolts(v float64) string {
	places := 2
	switch {
	case v >= 100:
		places = 0
	case v >= 10:
		places = 1
	}
	return l.Decimal(strconv.FormatFloat(v, 'f', places, 64)) + " V"
}

// zoneName is the shop's time zone by its IANA name.
func (l Locale) zoneName() string {
	if l.zone == nil {
		return "UTC"
	}
	return l.zone.String()
}

// poweredSince gives when the board was powered last.
func poweredSince(in BenchInput) (at time.Time) {
	for _, p := range in.Story.Power {
		if p.On && p.TakenAt.After(at) {
			at = p.TakenAt
		}
	}
	return at
}

// PowerCard is one powered state: what matters before it, and the button.
type PowerCard struct {
	State   string
	Title   string
	Hazard  string // "hazardous", "extra-low voltage"
	Safety  []string
	Refused string // why it may not be used for hot checks with this meter; "" when it may
	Grave   bool   // hazardous
	Needed  bool   // the check at hand needs it
}

// powerCards lists the powered states of the profile, or the two that a board
// without a profile may stand in.
func powerCards(in BenchInput) []PowerCard {
	if in.Model == nil {
		return []PowerCard{
			powerCard(in, bench.LiveState, "powered as in the machine"),
			powerCard(in, bench.Injected, "up to 60 V DC from a current-limited supply"),
		}
	}
	var out []PowerCard
	for _, st := range in.Model.Profile.States {
		if st.ID == profile.Cold {
			continue
		}
		title := st.Title
		if title == "" {
			title = st.ID
		}
		out = append(out, powerCard(in, st.ID, title))
	}
	return out
}

func powerCard(in BenchInput, state, title string) PowerCard {
	c := PowerCard{State: state, Title: title, Hazard: "extra-low voltage", Safety: in.Model.SafetyNote(state)}
	if in.Model.Hazard(state) == profile.Hazardous {
		c.Hazard, c.Grave = "hazardous", true
	}
	if in.Model.Hazard(state) == profile.HazardNone {
		c.Hazard = "no hazard"
	}
	if in.Model != nil && in.Model.Weak(state) {
		c.Refused = weakMeter(in, state)
	}
	if in.Model != nil {
		if chk, ok := in.Model.Profile.Check(in.Check); ok {
			c.Needed = chk.State == state
		}
	}
	return c
}

// weakMeter says why hot checks are refused.
func weakMeter(in BenchInput, state string) string {
	m := in.Model.Meter
	rated := "gives no rated volts"
	if m.RatedVolts > 0 {
		rated = "is rated for " + in.Locale.value(m.RatedVolts, 0, quantity.Volt)
	}
	return fmt.Sprintf("This state holds up to %s; the meter %s %s. Use a meter that is rated for it.",
		in.Locale.value(in.Model.StateVolts(state), threeDigits(in.Model.StateVolts(state)), quantity.Volt), m.Name, rated)
}

// EdgeState is the state of the board as a page asks for it again.
type EdgeState struct {
	Kind    ui.EdgeKind `json:"kind"`
	Words   string      `json:"words"`
	Why     string      `json:"why"`
	ReadAt  int64       `json:"read_at,omitempty"` // unix milliseconds, of a reading
	Lapses  int64       `json:"lapses,omitempty"`
	Volts   string      `json:"volts,omitempty"`
	Version int64       `json:"version"` // of the ticket
	Pending bool        `json:"pending"` // suspects are still being worked out
}

// EdgeStateOf makes that answer.
func EdgeStateOf(g evidence.Gate, story *shop.Story, m *bench.Model, l Locale, now time.Time) EdgeState {
	e := edgeOf(BenchInput{Gate: g, Story: story, Model: m, Locale: l, Now: now})
	s := EdgeState{Kind: e.Kind, Words: e.Words, Why: e.Why, Volts: e.Volts, Version: story.Ticket.Version}
	if e.Kind == ui.EdgeRead {
		s.ReadAt, s.Lapses = e.ReadAt.UnixMilli(), e.Lapses.UnixMilli()
	}
	return s
}
