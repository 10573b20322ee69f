package profile

// islands gives every node the node that stands for its island: the nodes that
// are connected in a state. What an optocoupler or a capacitor separates is
// separate; everything else joins, whether it conducts or not.
type islands map[string]string

// newIslands gives the islands of every state, its sources connected.
func newIslands(p *Profile) map[string]islands {
	out := make(map[string]islands, len(p.States))
	for _, s := range p.States {
		is := islands{}
		for _, node := range p.Nodes {
			is[node] = node
		}
		for i := range p.Parts {
			is.joinPart(&p.Parts[i])
		}
		for _, src := range s.Sources {
			is.join(src.Plus, src.Minus)
		}
		for _, node := range p.Nodes { // from now on it is only read
			is[node] = is.root(node)
		}
		out[s.ID] = is
	}
	return out
}

func (is islands) joinPart(part *Part) {
	switch part.Kind {
	case Capacitor:
	case Optocoupler:
		is.join(part.Pin("anode"), part.Pin("cathode"))
		is.join(part.Pin("collector"), part.Pin("emitter"))
	default:
		for _, pin := range part.Pins {
			is.join(part.Pins[0].Node, pin.Node)
		}
	}
}

func (is islands) join(a, b string) { is[is.root(a)] = is.root(b) }

func (is islands) root(node string) string {
	for is[node] != node && is[node] != "" {
		node = is[node]
	}
	return node
}

// zero gives the node against which a place is read when nothing else is said:
// the zero that its point names; the board's ground where it is connected in
// the state; the minus of the first source on the place's island (of the state,
// otherwise of any state); the ground.
func (p *Profile) zero(place, state string) string {
	node := place
	if pt, ok := p.Point(place); ok {
		if pt.To != "" {
			return pt.To
		}
		node = pt.Node
	}
	is := p.islands[state]
	home := is.root(node)
	if home == is.root(p.Ground) {
		return p.Ground
	}
	s, ok := p.State(state)
	if !ok {
		return p.Ground
	}
	sources := s.Sources
	for _, other := range p.States {
		sources = append(sources[:len(sources):len(sources)], other.Sources...)
	}
	for _, src := range sources {
		if is.root(src.Plus) == home || is.root(src.Minus) == home {
			return src.Minus
		}
	}
	return p.Ground
}
