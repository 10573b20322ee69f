package circuit

import "math/bits"

// topology is how the nodes hang together: which can exchange current at all
// (islands) and which resistors hold to each other (groups).
//
// A group is what resistors connect without reaching a datum; among the nodes
// that do reach one, what resistances up to strongOhms connect. In either case
// the nodes of the group stand relative to one of them, which keeps a weak tie
// of the whole group from being lost beside the strong ones inside.
type topology struct {
	island []int  // island of each node
	datum  []Node // datum of each island
	own    []int  // unknown of each node, −1 for a datum
	root   []int  // unknown of its group's first node, −1 when own says it all
	group  []int  // group of each node, numbered by one of its nodes
	nodes  int    // unknown volts
	size   int    // unknowns: volts, then currents
}

// strongOhms is the resistance up to which two nodes count as one where it
// matters for precision only.
const strongOhms = 100

// newTopology sorts the nodes of a circuit. withCapacitors makes capacitors
// carry current too, as they do for alternating and changing volts.
func newTopology(c *Circuit, withCapacitors bool) *topology {
	n := c.Len()
	islands, groups, strong := newForest(n), newForest(n), newForest(n)
	beside := newNeighbours(n)
	currents := 0
	for _, e := range c.elements {
		currents += e.branches()
		if _, ok := e.(*Capacitor); ok && !withCapacitors {
			continue
		}
		r, resistive := e.(*Resistor)
		e.edges(func(a, b Node) {
			islands.join(int(a), int(b))
			beside.join(int(a), int(b))
			if resistive {
				groups.join(int(a), int(b))
			}
			if resistive && r.Ohms <= strongOhms {
				strong.join(int(a), int(b))
			}
		})
	}
	t := &topology{island: make([]int, n), group: make([]int, n), own: make([]int, n), root: make([]int, n)}
	t.numberIslands(c, islands)
	grounded := map[int]bool{}
	for _, d := range t.datum {
		grounded[groups.find(int(d))] = true
	}
	for i := range n {
		if t.group[i] = groups.find(i); grounded[t.group[i]] {
			t.group[i] = strong.find(i)
		}
	}
	t.numberUnknowns(beside)
	t.size = t.nodes + currents + 1 // the probe's current is the last
	return t
}

// numberIslands gives each island a number and its datum.
func (t *topology) numberIslands(c *Circuit, islands forest) {
	number := map[int]int{}
	for i := range t.island {
		r := islands.find(i)
		k, ok := number[r]
		if !ok {
			k = len(number)
			number[r] = k
			t.datum = append(t.datum, Node(i))
		}
		t.island[i] = k
	}
	taken := make([]bool, len(t.datum))
	for _, d := range c.datums {
		if k := t.island[d]; !taken[k] {
			taken[k] = true
			t.datum[k] = d
		}
	}
}

// numberUnknowns orders the unknown volts so that eliminating one after the
// other fills the matrix little. In a group without a datum the node that comes
// last carries the volts of the whole group and the others stand relative to it.
func (t *topology) numberUnknowns(beside *neighbours) {
	unknown := make([]bool, len(t.own))
	grounded := map[int]bool{}
	for i := range t.own {
		t.own[i], t.root[i] = -1, -1
		if t.datum[t.island[i]] == Node(i) {
			grounded[t.group[i]] = true
		} else {
			unknown[i] = true
		}
	}
	order := leastDegree(beside, unknown)
	last := map[int]int{}
	for k, i := range order {
		t.own[i] = k
		last[t.group[i]] = k
	}
	for _, i := range order {
		if g := t.group[i]; !grounded[g] && last[g] != t.own[i] {
			t.root[i] = last[g]
		}
	}
	t.nodes = len(order)
}

// neighbours holds, for every node, a bit for each node beside it.
type neighbours struct {
	words int
	bits  []uint64
}

func newNeighbours(n int) *neighbours {
	words := (n + 63) / 64
	return &neighbours{words, make([]uint64, n*words)}
}

func (b *neighbours) of(i int) []uint64 { return b.bits[i*b.words : (i+1)*b.words] }

func (b *neighbours) join(i, j int) {
	if i == j {
		return
	}
	b.bits[i*b.words+j>>6] |= 1 << (j & 63)
	b.bits[j*b.words+i>>6] |= 1 << (i & 63)
}

// leastDegree orders the unknown nodes: always the one with the fewest
// neighbours left, which then become neighbours of each other.
func leastDegree(beside *neighbours, unknown []bool) []int {
	n := len(unknown)
	left := make([]uint64, beside.words)
	order := make([]int, 0, n)
	for i, u := range unknown {
		if u {
			left[i>>6] |= 1 << (i & 63)
		}
	}
	degree := func(i int) int {
		count := 0
		for w, word := range beside.of(i) {
			count += bits.OnesCount64(word & left[w])
		}
		return count
	}
	degrees := make([]int, n)
	for i := range degrees {
		degrees[i] = degree(i)
	}
	var around []int
	for {
		best := -1
		for i := range n {
			if unknown[i] && (best < 0 || degrees[i] < degrees[best]) {
				best = i
			}
		}
		if best < 0 {
			return order
		}
		unknown[best] = false
		left[best>>6] &^= 1 << (best & 63)
		order = append(order, best)
		mine := beside.of(best)
		for w := range mine {
			mine[w] &= left[w]
		}
		around = bitsOf(around[:0], mine, 0, n)
		for _, i := range around {
			for w, word := range mine {
				beside.of(i)[w] |= word
			}
			beside.of(i)[i>>6] &^= 1 << (i & 63)
			degrees[i] = degree(i)
		}
	}
}

// forest finds which things hang together (union–find).
type forest []int

func newForest(n int) forest {
	f := make(forest, n)
	for i := range f {
		f[i] = i
	}
	return f
}

func (f forest) find(i int) int {
	for f[i] != i {
		f[i] = f[f[i]]
		i = f[i]
	}
	return i
}

func (f forest) join(a, b int) {
	ra, rb := f.find(a), f.find(b)
	if ra > rb {
		ra, rb = rb, ra
	}
	f[rb] = ra
}
