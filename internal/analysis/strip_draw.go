package analysis

import (
	"math"

	"ohmstead/internal/circuit"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Strip draws a block in a state: what every node of its path stands at on a
// healthy board, and the rows of a result's table that were or can be read
// there. With an empty state it takes the first powered one that has the source
// of which the block's pin speaks, else the first powered one; with no table it
// draws the healthy board alone. Errors are of kind fault.NotFound, or a
// *circuit.Unsolved.
func (m *Model) Strip(block, state string, table []Row) (*StripView, error) {
	b, ok := m.profile.Block(block)
	if !ok {
		return nil, fault.New(fault.NotFound, "The profile %s has no block %q.", m.profile.ID, block)
	}
	if state == "" {
		state = m.stripState(b)
	}
	s, ok := m.profile.State(state)
	if !ok {
		return nil, fault.New(fault.NotFound, "The profile %s has no state %q.", m.profile.ID, state)
	}
	levels, err := m.Levels(state)
	if err != nil {
		return nil, err
	}
	v := &StripView{Block: b, State: s}
	for _, name := range b.Path {
		v.Stages = append(v.Stages, m.stage(name, state, levels, table))
	}
	v.Believes = m.belief(b, s, levels, table)
	return v, nil
}

// stripState gives the state in which a block is drawn when none is asked for.
func (m *Model) stripState(b *profile.Block) string {
	first := profile.Cold
	for _, s := range m.profile.States {
		if s.ID != profile.Cold && first == profile.Cold {
			first = s.ID
		}
		for _, src := range s.Sources {
			if b.Believes != nil && src.Name == b.Believes.Of {
				return s.ID
			}
		}
	}
	return first
}

// stage gives one place of a strip.
func (m *Model) stage(name, state string, levels map[string]Level, table []Row) Stage {
	st := Stage{Name: name}
	if part, ok := m.profile.Part(name); ok {
		st.Part = part
	} else {
		st.Node, _ = m.profile.Node(name)
		st.Level = levels[st.Node]
	}
	for _, row := range table {
		c := row.Measured
		if st.Part != nil && c.Across == name || st.Part == nil && c.State == state && c.Measure == profile.MeasureDCVolts && c.RedNode == st.Node {
			st.Rows = append(st.Rows, row)
		}
	}
	return st
}

// Levels gives what every node of the healthy board stands at in a state, by
// name, against the node that is its zero. Without parts there are none.
func (m *Model) Levels(state string) (map[string]Level, error) {
	out := map[string]Level{}
	if len(m.profile.Parts) == 0 {
		return out, nil
	}
	board, err := m.profile.Board(state)
	if err != nil {
		return nil, err
	}
	all, err := board.Solver.Levels()
	if err != nil {
		return nil, err
	}
	for n, l := range all {
		name := board.Circuit.Name(circuit.Node(n))
		zero := m.profile.Zero(name, state)
		level := Level{Zero: zero, Low: l.Low, Typical: l.Volts, High: l.High, Floating: l.Floating}
		if z, ok := board.Circuit.Find(zero); ok && !all[z].Floating {
			level.Low -= all[z].Volts
			level.Typical -= all[z].Volts
			level.High -= all[z].Volts
		}
		if l.Floating {
			level.Typical = math.NaN()
		}
		out[name] = level
	}
	return out, nil
}

// belief works out what the controller believes: the source's value in
// proportion to the node, as on a healthy board.
func (m *Model) belief(b *profile.Block, s *profile.State, levels map[string]Level, table []Row) *Belief {
	if b.Believes == nil {
		return nil
	}
	src, ok := sourceOf(s, b.Believes.Of)
	level := levels[b.Believes.Node]
	if !ok || level.Floating || level.Typical == 0 {
		return nil
	}
	out := &Belief{Of: src.Name, Unit: quantity.Volt, Node: b.Believes.Node, Nominal: levels[src.Plus].Typical - levels[src.Minus].Typical}
	if src.Kind == profile.AmpsSource {
		out.Unit, out.Nominal = quantity.Ampere, src.Amps
	}
	ratio := out.Nominal / level.Typical
	out.FullScale = b.Believes.FullScale * ratio
	for _, row := range table {
		c := row.Measured
		if c.State != s.ID || c.Measure != profile.MeasureDCVolts || row.Actual == nil || row.Reading.Moving != Still {
			continue
		}
		v := *row.Actual
		if c.RedNode == b.Believes.Node && c.BlackNode == level.Zero {
			full := v >= b.Believes.FullScale
			out.Read = &Believed{Volts: v, Value: min(v, b.Believes.FullScale) * ratio, FullScale: full}
		}
		if sign := across(c, src); sign != 0 && src.Kind != profile.AmpsSource {
			v *= sign
			out.Actual = &v
			out.ActualNote = "read across " + src.Name
		}
	}
	return out
}

func sourceOf(s *profile.State, name string) (profile.Source, bool) {
	for _, src := range s.Sources {
		if src.Name == name {
			return src, true
		}
	}
	return profile.Source{}, false
}
