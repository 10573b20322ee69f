package circuit

import "fmt"

// Node is one node of a circuit, numbered from 0 in order of first naming.
type Node int

// Circuit is a list of named nodes and the elements between them. The elements
// are pointers that the caller may keep and change: values at any time,
// connections and Off only before a Solver is made or between its Rebuilds.
type Circuit struct {
	names    []string
	byName   map[string]Node
	elements []Element
	datums   []Node
}

// Element is one law between nodes. The types of this package implement it.
type Element interface {
	// edges names the pairs of nodes between which current can flow.
	edges(add func(a, b Node))
	// branches is how many currents of the element are unknowns.
	branches() int
	label() string
	// linear says that stamp does not depend on the solution.
	linear() bool
	// stamp adds the element's equations, linearised at its state.
	stamp(w *work, s *state)
	// follow moves the state to the new solution and reports whether it agreed
	// with it already.
	follow(w *work, s *state) bool
	// reaches names the pairs of nodes that hold each other at the solution;
	// bounds the pairs whose difference a−b cannot pass most.
	reaches(w *work, s *state, add func(a, b Node))
	bounds(add func(a, b Node, most float64))
}

// state is what a Solver remembers of an element: the condition it is in and
// the point at which it is linearised.
type state struct {
	branch  int        // index of its first unknown current
	mode    int8       // condition; each type has its own constants
	side    int8       // second condition
	toggles int        // how often the mode has changed since the start
	v       [2]float64 // junction volts at which it is linearised
	i, g    [2]float64 // current and conductance there
	at      [3]float64 // for what a junction's were worked out: volts, Is, Breakdown
	ends    pair       // of an element with two, once it was asked for
}

// across gives the difference a − b between an element's two ends.
func (s *state) across(w *work, a, b Node) *pair {
	if s.ends.n == 0 {
		s.ends = w.pair(a, b)
	}
	return &s.ends
}

// New makes an empty circuit.
func New() *Circuit {
	return &Circuit{byName: map[string]Node{}}
}

// Node gives the node of a name and makes it when it is new.
func (c *Circuit) Node(name string) Node {
	n, ok := c.byName[name]
	if !ok {
		n = Node(len(c.names))
		c.names = append(c.names, name)
		c.byName[name] = n
	}
	return n
}

// Find gives the node of a name if there is one.
func (c *Circuit) Find(name string) (Node, bool) {
	n, ok := c.byName[name]
	return n, ok
}

// Name gives the name of a node.
func (c *Circuit) Name(n Node) string {
	if n < 0 || int(n) >= len(c.names) {
		return fmt.Sprintf("node %d", int(n))
	}
	return c.names[n]
}

// Len gives the number of nodes.
func (c *Circuit) Len() int { return len(c.names) }

// Add adds an element and gives its index.
func (c *Circuit) Add(e Element) int {
	c.elements = append(c.elements, e)
	return len(c.elements) - 1
}

// Datum names nodes that should read 0 V on their island, in order of
// preference; an island with none of them takes its first node.
func (c *Circuit) Datum(nodes ...Node) {
	c.datums = append(c.datums, nodes...)
}
