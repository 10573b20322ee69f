package profile

import (
	"fmt"
	"strings"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

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
		rule.Least, rule.Most = sane[rule.Unit][0], sane[rule.Unit][1]
		p.Params[rule.Name] = b.Value(n, rule)
	}
	if kind == Switch && b.Flag(n, "closed", false) {
		p.Params["closed"] = 1
	}
	b.doubts(n, p)
	return p
}

// sane is what a part's parameters may be by their unit, least and most: far
// beyond what is made, and within what can be solved.
var sane = map[quantity.Unit][2]float64{
	quantity.Ohm: {1e-6, 1e12}, quantity.Farad: {1e-15, 1e3}, quantity.Volt: {1e-3, 1e6}, quantity.Plain: {1e-3, 1e6}, quantity.Percent: {0, 100},
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
		b.pin(nodes[i])
		out = append(out, Pin{Name: name, Node: nodes[i].Text})
	}
	return out
}

func (b *builder) namedPins(n *written.Node, ref string, rule kindRule) []Pin {
	b.IsMap(n, "pins of "+ref, rule.named...)
	var out []Pin
	for _, name := range rule.named {
		out = append(out, Pin{Name: name, Node: b.Need(n, name)})
		b.pin(n.Get(name))
	}
	return out
}

// pin keeps where the file itself first names a node.
func (b *builder) pin(n *written.Node) {
	if n == nil || n.File != b.file {
		return
	}
	if _, ok := b.pinned[n.Text]; !ok {
		b.pinned[n.Text] = n.Position
	}
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
