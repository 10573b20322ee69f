package profile

// index finds parts, points, states, checks and blocks by name.
type index struct {
	parts, points, states, checks, blocks map[string]int
	nodes                                 map[string]bool
}

func newIndex() index {
	return index{parts: map[string]int{}, points: map[string]int{}, states: map[string]int{},
		checks: map[string]int{}, blocks: map[string]int{}, nodes: map[string]bool{}}
}

// addNode keeps a node in the order of its first mention.
func (p *Profile) addNode(node string) {
	if node != "" && !p.index.nodes[node] {
		p.index.nodes[node] = true
		p.Nodes = append(p.Nodes, node)
	}
}

// Pin gives the node of a pin by the pin's name in the table of kinds, empty
// when the part has no such pin.
func (p *Part) Pin(name string) string {
	for _, pin := range p.Pins {
		if pin.Name == name {
			return pin.Node
		}
	}
	return ""
}

// Param gives a parameter in base units, defaults filled in; see Part.Params.
// A name that the kind does not have gives 0.
func (p *Part) Param(name string) float64 { return p.Params[name] }

// Part finds a part by designator.
func (p *Profile) Part(ref string) (*Part, bool) {
	i, ok := p.index.parts[ref]
	if !ok {
		return nil, false
	}
	return &p.Parts[i], true
}

// Point finds a named place.
func (p *Profile) Point(name string) (*Point, bool) {
	i, ok := p.index.points[name]
	if !ok {
		return nil, false
	}
	return &p.Points[i], true
}

// State finds a state by id.
func (p *Profile) State(id string) (*State, bool) {
	i, ok := p.index.states[id]
	if !ok {
		return nil, false
	}
	return &p.States[i], true
}

// Check finds a check of the profile by id.
func (p *Profile) Check(id string) (*Check, bool) {
	i, ok := p.index.checks[id]
	if !ok {
		return nil, false
	}
	return &p.Checks[i], true
}

// Block finds a block by id.
func (p *Profile) Block(id string) (*Block, bool) {
	i, ok := p.index.blocks[id]
	if !ok {
		return nil, false
	}
	return &p.Blocks[i], true
}

// Node gives the node of a place: a point's node, or the node of that name. In
// a profile without parts every name is a place.
func (p *Profile) Node(place string) (string, bool) {
	if pt, ok := p.Point(place); ok {
		return pt.Node, true
	}
	return place, p.index.nodes[place] || len(p.Parts) == 0
}

// Key gives what makes a check this measurement: state, measure, both nodes in
// order, and the part when it is lifted.
func (c Check) Key() Key {
	k := Key{State: c.State, Measure: c.Measure, Red: c.RedNode, Black: c.BlackNode}
	if c.Lifted {
		k.Lifted = c.Across
	}
	return k
}
