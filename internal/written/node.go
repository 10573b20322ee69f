package written

// Kind says what a node is.
type Kind int

// The kinds of node.
const (
	Text Kind = iota // a scalar, as written
	List
	Map
	Null // null, ~ or nothing at all; a quoted "null" is a Text
)

// String names the kind as messages do.
func (k Kind) String() string {
	return [...]string{"a text", "a list", "a map", "nothing"}[k]
}

// Node is one value of a document, with its place.
type Node struct {
	Position
	Kind    Kind
	Text    string  // of a Text
	Items   []*Node // of a List
	Entries []Entry // of a Map, in the order of the file, keys unique
}

// Entry is one key of a map with its value.
type Entry struct {
	Position // of the key
	Key      string
	Value    *Node
}

// Get gives the value of a key, nil when the map has no such key (or the node
// is nil or no map).
func (n *Node) Get(key string) *Node {
	if e := n.Entry(key); e != nil {
		return e.Value
	}
	return nil
}

// Entry gives the entry of a key, nil when the map has no such key.
func (n *Node) Entry(key string) *Entry {
	if n == nil {
		return nil
	}
	for i := range n.Entries {
		if n.Entries[i].Key == key {
			return &n.Entries[i]
		}
	}
	return nil
}
