package profile

import (
	"fmt"

	"ohmstead/internal/written"
)

// identity names the key by which entries of a list are the same entry, for the
// lists that siblings merge entry by entry.
func identity(path string) string {
	switch path {
	case "/checks":
		return "id"
	case "/indications":
		return "code"
	case "/states/*/sources":
		return "name"
	}
	return ""
}

// below gives the path of a key. The names of parts, points, states and blocks
// do not matter for merging.
func below(path, key string) string {
	switch path {
	case "/parts", "/points", "/states", "/blocks":
		return path + "/*"
	}
	return path + "/" + key
}

// merger lays a profile over its parent.
type merger struct {
	errs *written.Errors
}

// merge gives the child's value over the parent's, either of which may be nil.
// What the child wrote keeps its place in the child's file, what it inherits
// keeps its place in the parent's: later this tells own from inherited.
func (m merger) merge(parent, child *written.Node, path string) *written.Node {
	switch {
	case child == nil:
		return parent
	case child.Kind == written.Map:
		if parent != nil && (parent.Kind != written.Map || path == "/parts/*" && child.Get("kind") != nil) {
			parent = nil
		}
		return m.mergeMap(parent, child, path)
	case child.Kind == written.List && identity(path) != "":
		return m.mergeList(parent, child, identity(path))
	}
	return child
}

func (m merger) mergeMap(parent, child *written.Node, path string) *written.Node {
	out := &written.Node{Position: child.Position, Kind: written.Map}
	if parent != nil {
		for _, e := range parent.Entries {
			own := child.Entry(e.Key)
			switch {
			case own == nil:
				out.Entries = append(out.Entries, e)
			case own.Value.Kind != written.Null:
				out.Entries = append(out.Entries, written.Entry{
					Position: own.Position, Key: e.Key, Value: m.merge(e.Value, own.Value, below(path, e.Key))})
			}
		}
	}
	for _, e := range child.Entries {
		switch {
		case parent.Entry(e.Key) != nil:
		case e.Value.Kind == written.Null:
			m.errs.Add(e.Position, e.Key, "nothing stands here, and there is nothing to remove", "a value (a text with a comma in it needs quotes)")
		default:
			e.Value = m.merge(nil, e.Value, below(path, e.Key))
			out.Entries = append(out.Entries, e)
		}
	}
	return out
}

// mergeList replaces and drops entries by identity; a replaced entry keeps its
// place, new ones append.
func (m merger) mergeList(parent, child *written.Node, key string) *written.Node {
	out := &written.Node{Position: child.Position, Kind: written.List}
	if parent != nil {
		out.Items = append(out.Items, parent.Items...)
	}
	seen := map[string]bool{}
	for _, item := range child.Items {
		id := item.Get(key)
		drop := item.Get("drop")
		if id == nil || id.Kind != written.Text {
			m.add(out, item, drop, "")
			continue
		}
		if seen[id.Text] {
			m.errs.Add(id.Position, id.Text, fmt.Sprintf("a second entry with this %s", key), "")
			continue
		}
		seen[id.Text] = true
		at := -1
		for i, old := range out.Items {
			if was := old.Get(key); was != nil && was.Text == id.Text {
				at = i
			}
		}
		switch {
		case at < 0:
			m.add(out, item, drop, id.Text)
		case drop == nil:
			out.Items[at] = item
		default:
			m.checkDrop(item, drop)
			out.Items = append(out.Items[:at:at], out.Items[at+1:]...)
		}
	}
	return out
}

// add appends an entry that nothing stands behind.
func (m merger) add(out, item, drop *written.Node, id string) {
	if drop != nil {
		m.errs.Add(drop.Position, id, "nothing to drop: no inherited entry of this name", "")
		return
	}
	out.Items = append(out.Items, item)
}

// checkDrop sees to it that an entry that drops says nothing else.
func (m merger) checkDrop(item, drop *written.Node) {
	if drop.Text != "true" {
		m.errs.Add(drop.Position, drop.Text, "drop is true or left out", "true")
	}
	if len(item.Entries) > 2 {
		m.errs.Add(item.Position, "", "an entry that drops says nothing else", "its name and drop: true")
	}
}
