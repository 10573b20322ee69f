package profile

import (
	"math"
	"strings"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// builder turns a merged tree into a Profile.
//
// What is inherited was sound in the parent, so when it now names something
// that is not there, that thing was removed: the builder drops it and what
// depends on it. The same in what the file itself says is an error.
type builder struct {
	written.Fields
	file    string
	profile *Profile
	errs    written.Errors
	base    *Profile // what it is based on, nil when it stands alone
	dropped map[*written.Node]bool
	pinned  map[string]written.Position // where the file itself first puts a pin on a node
	blind   bool                        // parts are wrong: what they would have been is not known
}

func (b *builder) build(tree *written.Node) {
	b.IsMap(tree, "a board profile", "format", "id", "based_on", "flattened_from", "title", "family", "revision",
		"note", "ground", "stored_energy", "hazardous_live", "alike", "ambient", "parts", "points", "states",
		"checks", "blocks", "indications")
	p := b.profile
	p.Title = b.Text(tree, "title")
	if tree.Get("title") == nil {
		b.errs.Add(tree.Position, "", "title is missing", "")
	}
	p.Revision, p.Note = b.Text(tree, "revision"), b.Text(tree, "note")
	family, _, _ := strings.Cut(p.Title, ",")
	if p.Family = b.Text(tree, "family"); p.Family == "" {
		p.Family = strings.TrimSpace(family)
	}
	p.index = newIndex()
	b.dropped, b.pinned = map[*written.Node]bool{}, map[string]written.Position{}
	b.parts(tree.Get("parts"))
	b.ground(tree)
	b.ambient(tree.Get("ambient"))
	b.states(tree.Get("states"))
	b.points(tree.Get("points"))
	p.islands = newIslands(p)
	b.zeros(tree.Get("states"))
	b.energy(tree)
	b.checks(tree.Get("checks"))
	b.alike(tree.Get("alike"))
	b.blocks(tree.Get("blocks"))
	b.indications(tree.Get("indications"))
}

// gone deals with a reference that leads nowhere: inherited, the whole that
// holds it is dropped; otherwise it is an error. whole is nil when the reference
// itself is what is dropped.
func (b *builder) gone(ref, whole *written.Node, problem, expected string) {
	if b.blind {
		return
	}
	if ref.File == b.file {
		b.errs.Add(ref.Position, ref.Text, problem, expected)
		return
	}
	if whole == nil {
		whole = ref
	}
	b.dropped[whole] = true
}

// prune gives the tree without what was dropped.
func (b *builder) prune(n *written.Node) *written.Node {
	out := *n
	out.Items, out.Entries = nil, nil
	for _, item := range n.Items {
		if !b.dropped[item] {
			out.Items = append(out.Items, b.prune(item))
		}
	}
	for _, e := range n.Entries {
		if !b.dropped[e.Value] {
			e.Value = b.prune(e.Value)
			out.Entries = append(out.Entries, e)
		}
	}
	return &out
}

func (b *builder) warn(at written.Position, text, problem, expected string) {
	es := written.Errors(b.profile.Warnings)
	es.Add(at, text, problem, expected)
	b.profile.Warnings = es
}

// ground reads the zero of the board. It must be a node of a part, when there
// are parts: every reading that names no black lead depends on it.
func (b *builder) ground(tree *written.Node) {
	p := b.profile
	n := tree.Get("ground")
	if n == nil {
		if len(p.Parts) > 0 {
			b.errs.Add(tree.Position, "", "ground is missing", "the node that reads 0 V")
		}
		return
	}
	p.Ground = b.Need(tree, "ground")
	if len(p.Parts) > 0 && !p.index.nodes[p.Ground] && p.Ground != "" && !b.blind {
		b.errs.Add(n.Position, n.Text, "no part is connected to this node", "the node that reads 0 V")
	}
	p.addNode(p.Ground)
}

func (b *builder) ambient(n *written.Node) {
	b.profile.Ambient = Ambient{Typical: 25, Tolerance: 5}
	if n == nil || !b.IsMap(n, "ambient", "typical", "tolerance") {
		return
	}
	rule := written.Rule{Unit: quantity.Celsius, Zero: true}
	for _, f := range []struct {
		key string
		to  *float64
	}{{"typical", &b.profile.Ambient.Typical}, {"tolerance", &b.profile.Ambient.Tolerance}} {
		rule.Name, rule.Default = f.key, *f.to
		if *f.to = b.Value(n, rule); *f.to > 150 {
			b.errs.Add(n.Get(f.key).Position, n.Get(f.key).Text, "no bench is that warm", "at most 150 °C")
		}
	}
}

// points reads the named places to touch.
func (b *builder) points(n *written.Node) {
	p := b.profile
	for _, e := range b.Entries(n, "points", maxPoints) {
		v := e.Value
		b.IsMap(v, "point "+e.Key, "node", "to", "where", "note", "photo")
		pt := Point{Name: e.Key, Node: b.Need(v, "node"), To: b.Text(v, "to"), Where: b.Text(v, "where"),
			Note: b.Text(v, "note"), Photo: b.photo(v.Get("photo"))}
		if p.index.nodes[e.Key] {
			at := e.Position
			if pin, ok := b.pinned[e.Key]; ok && e.Value.File != b.file {
				at = pin // an inherited point was there first
			}
			b.errs.Add(at, e.Key, "a point may not bear a node's name", "another name")
		}
		b.nodeExists(v, "node")
		b.nodeExists(v, "to")
		if b.dropped[v] {
			continue
		}
		p.index.points[pt.Name] = len(p.Points)
		p.Points = append(p.Points, pt)
	}
}

// nodeExists checks that a key of n names a node; when it is inherited and
// names none, n is dropped.
func (b *builder) nodeExists(n *written.Node, key string) {
	ref := n.Get(key)
	if ref != nil && !b.profile.index.nodes[ref.Text] && len(b.profile.Parts) > 0 {
		b.gone(ref, n, "no part is connected to this node", "a node of a part")
	}
}

// energy reads the lists of capacitors to prove dead and of live nodes.
func (b *builder) energy(tree *written.Node) {
	p := b.profile
	for _, ref := range b.Texts(tree.Get("stored_energy"), "stored_energy", maxParts) {
		part, ok := p.Part(ref.Text)
		switch {
		case !ok && len(p.Parts) > 0:
			b.gone(ref, nil, "no such part", "a capacitor")
			continue
		case ok && part.Kind != Capacitor && !b.blind:
			b.gone(ref, nil, "not a capacitor", "a capacitor")
			continue
		}
		p.StoredEnergy = append(p.StoredEnergy, ref.Text)
	}
	for _, ref := range b.Texts(tree.Get("hazardous_live"), "hazardous_live", maxParts) {
		node, ok := p.Node(ref.Text)
		if !ok {
			b.gone(ref, nil, "no part is connected to this node", "a node")
			continue
		}
		p.HazardousLive = append(p.HazardousLive, node)
	}
}

var inf = math.Inf(1)
