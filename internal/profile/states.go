package profile

import (
	"fmt"
	"math"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// What a state may have that does not call itself hazardous, in volts: direct, and
// the peak of alternating (the limits of IEC 62368-1 for what may be touched, from
// memory).
const (
	extraLow   = 60.0
	extraLowAC = 42.4
)

// states reads the states; cold always exists and is the first.
func (b *builder) states(n *written.Node) {
	p := b.profile
	p.States = []State{{ID: Cold, Title: "unpowered", Hazard: HazardNone, Switches: map[string]bool{}}}
	p.index.states[Cold] = 0
	for _, e := range b.Entries(n, "states", maxStates) {
		if !b.IsMap(e.Value, "state "+e.Key, "title", "note", "hazard", "setup_minutes", "live_common", "sources", "switches") {
			continue
		}
		if e.Key == Cold {
			b.coldState(e.Value)
			continue
		}
		s := b.state(e)
		p.index.states[s.ID] = len(p.States)
		p.States = append(p.States, s)
	}
}

// coldState reads what a file may say of the unpowered board.
func (b *builder) coldState(n *written.Node) {
	for _, key := range []string{"hazard", "live_common", "sources"} {
		if v := n.Get(key); v != nil {
			b.errs.Add(v.Position, v.Text, "the cold state has no "+key+": it is unpowered", "")
		}
	}
	s := &b.profile.States[0]
	if t := b.Text(n, "title"); t != "" {
		s.Title = t
	}
	s.Note = b.Text(n, "note")
	s.SetupMinutes = b.Value(n, written.Rule{Name: "setup_minutes", Unit: quantity.Plain, Zero: true})
	s.Switches = b.switches(n.Get("switches"))
}

func (b *builder) state(e written.Entry) State {
	n := e.Value
	s := State{ID: e.Key, Title: b.Text(n, "title"), Note: b.Text(n, "note"), Hazard: Hazardous, Switches: b.switches(n.Get("switches")),
		SetupMinutes: b.Value(n, written.Rule{Name: "setup_minutes", Unit: quantity.Plain, Default: 5, Zero: true})}
	if n.Get("hazard") != nil {
		s.Hazard = Hazard(b.Text(n, "hazard"))
		switch s.Hazard {
		case HazardNone, ExtraLowVoltage, Hazardous:
		default:
			b.errs.Add(n.Get("hazard").Position, string(s.Hazard), "not a hazard", "none, extra_low_voltage or hazardous")
		}
	}
	s.LiveCommon = b.Flag(n, "live_common", s.Hazard == Hazardous)
	for _, item := range b.List(n.Get("sources"), "sources", maxSources) {
		if src, ok := b.source(item, s.Hazard); ok {
			s.Sources = append(s.Sources, src)
		}
	}
	b.chained(n, s)
	for _, src := range s.Sources {
		b.profile.addNode(src.Plus)
		b.profile.addNode(src.Minus)
	}
	return s
}

// switches reads the overrides of a state.
func (b *builder) switches(n *written.Node) map[string]bool {
	out := map[string]bool{}
	for _, e := range b.Entries(n, "switches", maxParts) {
		part, ok := b.profile.Part(e.Key)
		switch {
		case !ok && e.Value.File != b.file:
			b.dropped[e.Value] = true
		case (!ok || part.Kind != Switch) && !b.blind:
			b.errs.Add(e.Position, e.Key, "no switch of this name", "a part of kind switch")
		case e.Value.Text != "closed" && e.Value.Text != "open":
			b.errs.Add(e.Value.Position, e.Value.Text, "not a position of a switch", "closed or open")
		default:
			out[e.Key] = e.Value.Text == "closed"
		}
	}
	return out
}

// source reads one source; false when it was dropped or has no name.
func (b *builder) source(n *written.Node, h Hazard) (Source, bool) {
	before := len(b.errs)
	b.IsMap(n, "a source", "name", "plus", "minus", "volts", "amps", "holds", "volts_ac", "frequency", "at_most", "tolerance", "limit")
	src := Source{Name: b.Need(n, "name"), Plus: b.Need(n, "plus"), Minus: b.Need(n, "minus"),
		Tolerance: b.Value(n, tolerance(0)), Limit: b.Value(n, defaulted("limit", quantity.Ampere, 2))}
	b.drive(n, &src)
	if len(b.errs) > before {
		return src, src.Name != ""
	}
	b.sourceHazard(n, src, h)
	if src.Plus == src.Minus {
		b.errs.Add(n.Get("minus").Position, src.Minus, "plus and minus of a source are the same node", "")
	}
	b.connected(n, src.Name)
	return src, !b.dropped[n]
}

// connected drops an inherited source whose node lost its parts, and warns of
// one that no part ever had.
func (b *builder) connected(n *written.Node, name string) {
	for _, key := range []string{"plus", "minus"} {
		ref := n.Get(key)
		switch {
		case len(b.profile.Parts) == 0 || b.profile.index.nodes[ref.Text]:
		case b.base != nil && b.base.hasPartOn(ref.Text) && ref.File != b.file:
			b.dropped[n] = true
		default:
			b.warn(ref.Position, ref.Text, "no part is connected to this node of source "+name, "a node of a part")
		}
	}
}

func (p *Profile) hasPartOn(node string) bool {
	for i := range p.Parts {
		if p.Parts[i].touches(node) {
			return true
		}
	}
	return false
}

// drive reads what a source gives: exactly one of four.
func (b *builder) drive(n *written.Node, src *Source) {
	for _, kind := range []SourceKind{VoltsSource, AmpsSource, HoldsSource, ACSource} {
		v := n.Get(string(kind))
		if v == nil {
			continue
		}
		if src.Kind != "" {
			b.errs.Add(v.Position, v.Text, fmt.Sprintf("a source gives either %s or %s", src.Kind, kind), "one of them")
			continue
		}
		src.Kind = kind
	}
	positive := func(name string, u quantity.Unit) written.Rule { return required(name, u) }
	switch src.Kind {
	case VoltsSource:
		src.Volts = b.Value(n, written.Rule{Name: "volts", Unit: quantity.Volt, Required: true, Zero: true, Minus: true})
	case AmpsSource:
		src.Amps = b.Value(n, written.Rule{Name: "amps", Unit: quantity.Ampere, Required: true, Zero: true})
		src.AtMost = b.Value(n, positive("at_most", quantity.Volt))
	case HoldsSource:
		src.AtMost = b.Value(n, positive("at_most", quantity.Volt))
		if h := n.Get("holds"); b.IsMap(h, "holds", "node", "volts", "to") {
			src.Holds = Holds{Node: b.Need(h, "node"), To: b.Text(h, "to"),
				Volts: b.Value(h, written.Rule{Name: "volts", Unit: quantity.Volt, Required: true, Zero: true, Minus: true})}
		}
	case ACSource:
		src.VoltsAC = b.Value(n, positive("volts_ac", quantity.Volt))
		src.Frequency = b.Value(n, positive("frequency", quantity.Hertz))
	default:
		b.errs.Add(n.Position, "", "the source gives nothing", "volts, amps, holds or volts_ac")
		return
	}
	b.idle(n, src.Kind)
}

// idle refuses keys that mean nothing for the kind of source, and warns of a
// limit that would not be one.
func (b *builder) idle(n *written.Node, kind SourceKind) {
	if v := n.Get("at_most"); v != nil && kind != AmpsSource && kind != HoldsSource {
		b.errs.Add(v.Position, v.Text, "at_most belongs to amps and holds", "")
	}
	if v := n.Get("frequency"); v != nil && kind != ACSource {
		b.errs.Add(v.Position, v.Text, "frequency belongs to volts_ac", "")
	}
	if v := n.Get("limit"); v != nil && (kind == AmpsSource || kind == ACSource) {
		b.warn(v.Position, v.Text, "limit has no effect on a source of "+string(kind), "")
	}
}

// sourceHazard refuses a state that calls itself harmless and is not.
func (b *builder) sourceHazard(n *written.Node, src Source, h Hazard) {
	low, high := src.span()
	limit, of := extraLow, "V"
	if src.Kind == ACSource {
		limit, of = extraLowAC, "V peak"
	}
	if h != Hazardous && max(-low, high) > limit {
		b.errs.Add(n.Position, "", fmt.Sprintf("source %s can have more than %g %s in a state with hazard %s", src.Name, limit, of, h), "hazard: hazardous")
	}
}

// span gives the least and the most volts of plus above minus, tolerance included.
func (s Source) span() (low, high float64) {
	switch s.Kind {
	case ACSource:
		peak := s.VoltsAC * math.Sqrt2 * (1 + s.Tolerance)
		return -peak, peak
	case VoltsSource:
		a, b := s.Volts*(1-s.Tolerance), s.Volts*(1+s.Tolerance)
		return min(a, b), max(a, b)
	}
	return 0, s.AtMost
}

// chained refuses a state that calls itself harmless and in which sources stand on
// each other so that more lies between two nodes than any of them gives.
func (b *builder) chained(n *written.Node, s State) {
	if s.Hazard == Hazardous {
		return
	}
	for _, src := range s.Sources {
		if low, high := src.span(); max(-low, high) > extraLow {
			return // and was refused by itself
		}
	}
	var nodes []string
	for _, src := range s.Sources {
		nodes = append(nodes, src.Plus, src.Minus)
	}
	for _, x := range nodes {
		reach := s.reach(x)
		for _, y := range nodes {
			if reach[y] > extraLow {
				b.errs.Add(n.Get("sources").Position, "", fmt.Sprintf("the sources can have %.0f V between %s and %s in a state with hazard %s",
					reach[y], x, y, s.Hazard), "hazard: hazardous")
				return
			}
		}
	}
}

// reach gives the most volts, without sign, that the sources of a state can have
// between a node and each node that they join to it, by the first way found.
func (s State) reach(from string) map[string]float64 {
	type span struct{ low, high float64 }
	at := map[string]span{from: {}}
	for waiting := []string{from}; len(waiting) > 0; waiting = waiting[1:] {
		here := at[waiting[0]]
		step := func(to string, low, high float64) {
			if _, known := at[to]; !known {
				at[to] = span{here.low + low, here.high + high}
				waiting = append(waiting, to)
			}
		}
		for _, src := range s.Sources {
			low, high := src.span()
			switch waiting[0] {
			case src.Minus:
				step(src.Plus, low, high)
			case src.Plus:
				step(src.Minus, -high, -low)
			}
		}
	}
	out := map[string]float64{}
	for node, v := range at {
		out[node] = max(-v.low, v.high)
	}
	return out
}

// zeros resolves the nodes that sources hold, now that all nodes are known.
func (b *builder) zeros(n *written.Node) {
	for i := range b.profile.States {
		s := &b.profile.States[i]
		kept := s.Sources[:0]
		for _, src := range s.Sources {
			item := find(n.Get(s.ID).Get("sources"), "name", src.Name)
			if src.Holds.Node != "" && !b.holds(item, &src.Holds, s.ID) {
				continue
			}
			kept = append(kept, src)
		}
		s.Sources = kept
	}
}

func (b *builder) holds(item *written.Node, h *Holds, state string) bool {
	n := item.Get("holds")
	node, ok := b.place(n.Get("node"), item)
	if !ok {
		return false
	}
	to, ok := b.zero(n.Get("to"), item, n.Get("node").Text, state)
	h.Node, h.To = node, to
	return ok
}

// place resolves a place that a key names.
func (b *builder) place(ref, whole *written.Node) (string, bool) {
	node, ok := b.profile.Node(ref.Text)
	if !ok {
		b.gone(ref, whole, "no point and no node of this name", "a point or a node")
	}
	return node, ok
}

// zero resolves the place that is the zero of another: as written, or the default.
func (b *builder) zero(ref, whole *written.Node, place, state string) (string, bool) {
	if ref == nil {
		return b.profile.zero(place, state), true
	}
	return b.place(ref, whole)
}

// find gives the entry of a list with this identity.
func find(list *written.Node, key, id string) *written.Node {
	for _, item := range list.Items {
		if v := item.Get(key); v != nil && v.Text == id {
			return item
		}
	}
	return nil
}
