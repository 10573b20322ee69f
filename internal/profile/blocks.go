package profile

import (
	"fmt"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// blocks reads what belongs together.
func (b *builder) blocks(n *written.Node) {
	p := b.profile
	for _, e := range b.Entries(n, "blocks", maxBlocks) {
		v := e.Value
		if !b.IsMap(v, "block "+e.Key, "title", "note", "path", "parts", "believes", "safety") {
			continue
		}
		bl := Block{ID: e.Key, Title: b.Text(v, "title"), Note: b.Text(v, "note"), Safety: b.Flag(v, "safety", false)}
		bl.Path = b.path(v.Get("path"))
		for _, ref := range b.Texts(v.Get("parts"), "parts of block "+e.Key, maxParts) {
			if _, ok := p.Part(ref.Text); !ok && len(p.Parts) > 0 {
				b.gone(ref, nil, "no such part", "a designator")
				continue
			}
			bl.Parts = append(bl.Parts, ref.Text)
		}
		bl.Believes = b.believes(v.Get("believes"))
		p.index.blocks[bl.ID] = len(p.Blocks)
		p.Blocks = append(p.Blocks, bl)
	}
}

// path reads the way of the signal: designators, points and nodes. A path that
// is inherited and leads through something removed is dropped whole.
func (b *builder) path(n *written.Node) []string {
	p := b.profile
	var out []string
	for _, ref := range b.Texts(n, "path", maxPath) {
		_, isPart := p.Part(ref.Text)
		if _, isPlace := p.Node(ref.Text); !isPart && !isPlace {
			b.gone(ref, n, "no part, point or node of this name", "a part, a point or a node")
		}
		out = append(out, ref.Text)
	}
	if n == nil || b.dropped[n] {
		return nil
	}
	for i := range out {
		b.stray(n, out, i)
	}
	return out
}

// stray warns of a part in a path that does not touch the node beside it.
func (b *builder) stray(n *written.Node, path []string, i int) {
	part, ok := b.profile.Part(path[i])
	if !ok {
		return
	}
	for _, j := range []int{i - 1, i + 1} {
		if j < 0 || j >= len(path) {
			continue
		}
		node, isPlace := b.profile.Node(path[j])
		if _, isPart := b.profile.Part(path[j]); isPart || !isPlace {
			continue
		}
		if !part.touches(node) {
			b.warn(n.Items[i].Position, part.Ref, fmt.Sprintf("the path goes from %s to %s, which it does not touch", part.Ref, path[j]), "")
		}
	}
}

func (p *Part) touches(node string) bool {
	for _, pin := range p.Pins {
		if pin.Node == node {
			return true
		}
	}
	return false
}

// believes reads how the controller understands a node.
func (b *builder) believes(n *written.Node) *Believes {
	if n == nil || !b.IsMap(n, "believes", "node", "of", "full_scale") {
		return nil
	}
	before := len(b.errs)
	out := &Believes{Of: b.Need(n, "of"), FullScale: b.Value(n, required("full_scale", quantity.Volt))}
	b.Need(n, "node")
	if len(b.errs) > before {
		return nil
	}
	var ok bool
	if out.Node, ok = b.place(n.Get("node"), n); !ok {
		return nil
	}
	if !b.profile.hasSource(out.Of) {
		b.gone(n.Get("of"), n, "no source of this name", "the name of a source")
		return nil
	}
	return out
}

func (p *Profile) hasSource(name string) bool {
	for _, s := range p.States {
		for _, src := range s.Sources {
			if src.Name == name {
				return true
			}
		}
	}
	return false
}

// indications reads what the board shows by itself, in order of priority.
func (b *builder) indications(n *written.Node) {
	p := b.profile
	for _, item := range b.List(n, "indications", maxIndications) {
		if !b.IsMap(item, "an indication", "code", "shows", "meaning", "note", "blocks", "limits", "normal_on_a_bench") {
			continue
		}
		in := Indication{Code: b.Need(item, "code"), Shows: b.Text(item, "shows"), Meaning: b.Text(item, "meaning"),
			Note: b.Text(item, "note"), NormalOnBench: b.Flag(item, "normal_on_a_bench", false)}
		if in.Code == "none" {
			b.errs.Add(item.Get("code").Position, in.Code, "this code means that nothing is shown", "another code")
		}
		for _, ref := range b.Texts(item.Get("blocks"), "blocks", maxBlocks) {
			if _, ok := p.Block(ref.Text); !ok {
				b.gone(ref, nil, "no block of this id", "the id of a block")
				continue
			}
			in.Blocks = append(in.Blocks, ref.Text)
		}
		for _, l := range b.List(item.Get("limits"), "limits", maxLimits) {
			if limit, ok := b.limit(l); ok {
				in.Limits = append(in.Limits, limit)
			}
		}
		p.Indications = append(p.Indications, in)
	}
}

func (b *builder) limit(n *written.Node) (Limit, bool) {
	before := len(b.errs)
	if !b.IsMap(n, "a limit", "state", "node", "to", "below", "above") {
		return Limit{}, false
	}
	volts := written.Rule{Unit: quantity.Volt, Zero: true, Minus: true}
	bound := func(name string, def float64) float64 {
		rule := volts
		rule.Name, rule.Default = name, def
		return b.Value(n, rule)
	}
	l := Limit{State: b.Need(n, "state"), Place: b.Need(n, "node"), Below: bound("below", -inf), Above: bound("above", inf)}
	if n.Get("below") == nil && n.Get("above") == nil {
		b.errs.Add(n.Position, "", "the limit has no bound", "below, above or both")
	}
	if l.Below > l.Above {
		b.errs.Add(n.Get("below").Position, n.Get("below").Text, "below is higher than above: it would always be shown", "")
	}
	if len(b.errs) > before {
		return l, false
	}
	if _, ok := b.profile.State(l.State); !ok {
		b.gone(n.Get("state"), n, "no such state", "a state of the profile")
		return l, false
	}
	var ok bool
	if l.Node, ok = b.place(n.Get("node"), n); !ok {
		return l, false
	}
	l.To, ok = b.zero(n.Get("to"), n, l.Place, l.State)
	return l, ok
}
