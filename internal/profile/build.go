package profile

import (
	"fmt"
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
	blind   bool // parts are wrong: what they would have been is not known
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
	b.dropped = map[*written.Node]bool{}
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

// parts reads the parts; their pins make the nodes.
func (b *builder) parts(n *written.Node) {
	for _, e := range b.Entries(n, "parts", maxParts) {
		p := b.part(e)
		b.profile.index.parts[p.Ref] = len(b.profile.Parts)
		b.profile.Parts = append(b.profile.Parts, p)
		for _, pin := range p.Pins {
			b.profile.addNode(pin.Node)
		}
	}
	b.blind = len(b.errs) > 0
}

// part reads one part. A part that is wrong has its name at least, so that one
// slip does not make an error of everything that names it.
func (b *builder) part(e written.Entry) Part {
	n := e.Value
	if n.Kind != written.Map {
		b.errs.Add(n.Position, n.Text, fmt.Sprintf("part %s is %s", e.Key, n.Kind), "a map with kind and pins")
		return Part{Ref: e.Key}
	}
	kind := Kind(b.Need(n, "kind"))
	rule, ok := kinds[kind]
	if !ok {
		if kind != "" {
			b.errs.Add(n.Get("kind").Position, string(kind), "an unknown kind of part", "a kind such as resistor, capacitor or diode")
		}
		return Part{Ref: e.Key}
	}
	keys := []string{"kind", "pins", "where", "package", "rating", "marking", "safety", "photo", "note"}
	for _, p := range rule.params {
		keys = append(keys, p.Name)
	}
	if kind == Switch {
		keys = append(keys, "closed")
	}
	b.IsMap(n, string(kind)+" "+e.Key, keys...)
	p := Part{
		Ref: e.Key, Kind: kind, Pins: b.pins(n, e.Key, rule), Params: map[string]float64{},
		Where: b.Text(n, "where"), Package: b.Text(n, "package"), Marking: b.Text(n, "marking"), Note: b.Text(n, "note"),
		Rating: b.rating(n.Get("rating")), Safety: b.Flag(n, "safety", false), Photo: b.photo(n.Get("photo")),
	}
	for _, rule := range rule.params {
		p.Params[rule.Name] = b.Value(n, rule)
	}
	if kind == Switch && b.Flag(n, "closed", false) {
		p.Params["closed"] = 1
	}
	b.doubts(n, p)
	return p
}

// doubts warns of what is allowed but probably a slip.
func (b *builder) doubts(n *written.Node, p Part) {
	if v := p.Params["value"]; p.Kind == Resistor && v >= 1 && !quantity.Preferred(v) { // shunts have round values
		near := quantity.Format(quantity.E192.Nearest(v), 0, quantity.Ohm)
		b.warn(n.Get("value").Position, n.Get("value").Text, p.Ref+" has no preferred value (IEC 60063)", near+", the nearest")
	}
	if len(p.Pins) == 2 && p.Pins[0].Node == p.Pins[1].Node && p.Pins[0].Node != "" {
		b.warn(n.Get("pins").Position, "", p.Ref+" has both pins on one node", "")
	}
}

// pins reads the pins in the order of the table of kinds.
func (b *builder) pins(n *written.Node, ref string, rule kindRule) []Pin {
	pins := n.Get("pins")
	switch {
	case pins == nil:
		b.errs.Add(n.Position, "", "pins of "+ref+" are missing", rule.pinsExpected())
	case pins.Kind == written.List && rule.list != nil:
		return b.listedPins(pins, rule)
	case pins.Kind == written.Map && rule.named != nil:
		return b.namedPins(pins, ref, rule)
	default:
		b.errs.Add(pins.Position, pins.Text, fmt.Sprintf("pins of %s are %s", ref, pins.Kind), rule.pinsExpected())
	}
	return nil
}

func (b *builder) listedPins(n *written.Node, rule kindRule) []Pin {
	nodes := b.Texts(n, "pins", 1000)
	if len(nodes) != len(rule.list) {
		b.errs.Add(n.Position, "", fmt.Sprintf("%d pins", len(n.Items)), rule.pinsExpected())
		return nil
	}
	var out []Pin
	for i, name := range rule.list {
		out = append(out, Pin{Name: name, Node: nodes[i].Text})
	}
	return out
}

func (b *builder) namedPins(n *written.Node, ref string, rule kindRule) []Pin {
	b.IsMap(n, "pins of "+ref, rule.named...)
	var out []Pin
	for _, name := range rule.named {
		out = append(out, Pin{Name: name, Node: b.Need(n, name)})
	}
	return out
}

// pinsExpected says how pins of the kind are written.
func (r kindRule) pinsExpected() string {
	var ways []string
	if r.list != nil {
		ways = append(ways, "a list of two nodes")
	}
	if r.named != nil {
		ways = append(ways, "a map with "+strings.Join(r.named, ", "))
	}
	return strings.Join(ways, " or ")
}

func (b *builder) rating(n *written.Node) Rating {
	if n == nil || !b.IsMap(n, "rating", "volts", "watts") {
		return Rating{}
	}
	return Rating{
		Volts: b.Value(n, defaulted("volts", quantity.Volt, 0)),
		Watts: b.Value(n, defaulted("watts", quantity.Watt, 0)),
	}
}

func (b *builder) photo(n *written.Node) *Photo {
	if n == nil || !b.IsMap(n, "photo", "x", "y") {
		return nil
	}
	axis := func(name string) float64 {
		return b.Value(n, written.Rule{Name: name, Unit: quantity.Plain, Required: true, Zero: true})
	}
	return &Photo{X: axis("x"), Y: axis("y")}
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
			b.errs.Add(e.Position, e.Key, "a point may not bear a node's name", "another name")
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
			b.errs.Add(ref.Position, ref.Text, "not a capacitor", "a capacitor")
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
