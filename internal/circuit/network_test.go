package circuit

import (
	"fmt"
	"math"
	"math/big"
	"math/bits"
	"testing"

	"pgregory.net/rapid"
)

// ohmmeter reads the resistance between two nodes of a network of resistors.
func ohmmeter(t interface{ Fatal(...any) }, s *Solver, a, b Node) float64 {
	s.Attach(Probe{Red: a, Black: b, Volts: 1, Ohms: 1})
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	v := s.Volts(a, b)
	return v / (1 - v)
}

// graph makes a network of 1 Ω resistors with n nodes.
func graph(n int, edges [][2]int) *Circuit {
	c := New()
	for i := range n {
		c.Node(fmt.Sprint(i))
	}
	for _, e := range edges {
		c.Add(&Resistor{Name: fmt.Sprint(e), A: Node(e[0]), B: Node(e[1]), Ohms: 1})
	}
	return c
}

// distanceGraph joins the points whose squared distance is within 1 % of the
// least one: the edges of a regular polyhedron from its corners.
func distanceGraph(points [][3]float64) [][2]int {
	d2 := func(a, b [3]float64) float64 {
		s := 0.0
		for k := range 3 {
			s += (a[k] - b[k]) * (a[k] - b[k])
		}
		return s
	}
	least := math.Inf(1)
	for i := range points {
		for j := range i {
			least = min(least, d2(points[i], points[j]))
		}
	}
	var edges [][2]int
	for i := range points {
		for j := range i {
			if d2(points[i], points[j]) < least*1.01 {
				edges = append(edges, [2]int{j, i})
			}
		}
	}
	return edges
}

// cyclic gives every point with its coordinates turned round.
func cyclic(ps ...[3]float64) [][3]float64 {
	var out [][3]float64
	for _, p := range ps {
		out = append(out, p, [3]float64{p[1], p[2], p[0]}, [3]float64{p[2], p[0], p[1]})
	}
	return out
}

func signs(p [3]float64) [][3]float64 {
	var out [][3]float64
	seen := map[[3]float64]bool{}
	for m := range 8 {
		q := p
		for k := range 3 {
			if m>>k&1 == 1 {
				q[k] = 0 - q[k]
			}
		}
		if !seen[q] {
			seen[q] = true
			out = append(out, q)
		}
	}
	return out
}

func hypercube(n int) (int, [][2]int) {
	var edges [][2]int
	for i := range 1 << n {
		for k := range n {
			if j := i ^ 1<<k; j > i {
				edges = append(edges, [2]int{i, j})
			}
		}
	}
	return 1 << n, edges
}

func complete(n int) [][2]int {
	var edges [][2]int
	for i := range n {
		for j := range i {
			edges = append(edges, [2]int{j, i})
		}
	}
	return edges
}

// hops counts edges from node 0.
func hops(n int, edges [][2]int) []int {
	d := make([]int, n)
	for i := range d {
		d[i] = n
	}
	d[0] = 0
	for range n {
		for _, e := range edges {
			d[e[0]] = min(d[e[0]], d[e[1]]+1)
			d[e[1]] = min(d[e[1]], d[e[0]]+1)
		}
	}
	return d
}

var phi = (1 + math.Sqrt(5)) / 2

// TestPolyhedra compares the resistance between corners of networks of equal
// resistors with the exact values, by the distance of the corners along edges.
// Sources: tetrahedron and cube, van Steenwijk, Am. J. Phys. 66 (1998) 90, as
// quoted in many places; the others recomputed as exact fractions.
func TestPolyhedra(t *testing.T) {
	t.Parallel()
	n4, e4 := hypercube(4)
	octa := cyclic([3]float64{1, 0, 0}, [3]float64{-1, 0, 0})
	icosa := cyclic(signs([3]float64{0, 1, phi})...)
	dodeca := append(cyclic(signs([3]float64{0, 1 / phi, phi})...), signs([3]float64{1, 1, 1})...)
	tests := []struct {
		name  string
		nodes int
		edges [][2]int
		want  []*big.Rat // by distance 1, 2, …
	}{
		{"triangle", 3, complete(3), rats("2/3")},
		{"tetrahedron", 4, complete(4), rats("1/2")},
		{"complete graph of 5", 5, complete(5), rats("2/5")},
		{"complete graph of 9", 9, complete(9), rats("2/9")},
		{"cube", 8, second(hypercube(3)), rats("7/12", "3/4", "5/6")},
		{"octahedron", 6, distanceGraph(octa), rats("5/12", "1/2")},
		{"icosahedron", 12, distanceGraph(icosa), rats("11/30", "7/15", "1/2")},
		{"dodecahedron", 20, distanceGraph(dodeca), rats("19/30", "9/10", "16/15", "17/15", "7/6")},
		{"4-cube", n4, e4, rats("15/32", "7/12", "61/96", "2/3")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s := NewSolver(graph(tt.nodes, tt.edges))
			far := hops(tt.nodes, tt.edges)
			for b := 1; b < tt.nodes; b++ {
				want, _ := tt.want[far[b]-1].Float64()
				if got := ohmmeter(t, s, 0, Node(b)); math.Abs(got-want) > 1e-12 {
					t.Errorf("distance %d: %.15f, want %s", far[b], got, tt.want[far[b]-1])
				}
			}
		})
	}
}

func second(_ int, e [][2]int) [][2]int { return e }

func rats(texts ...string) []*big.Rat {
	out := make([]*big.Rat, len(texts))
	for i, s := range texts {
		out[i], _ = new(big.Rat).SetString(s)
	}
	return out
}

// TestHypercubeAntipodes uses Σ k!(n−k−1)!/n!; a circulating N/2^(N−1) is wrong
// from n = 3 on.
func TestHypercubeAntipodes(t *testing.T) {
	t.Parallel()
	for n := 1; n <= 7; n++ {
		want := new(big.Rat)
		for k := range n {
			f := func(m int) *big.Int { return new(big.Int).MulRange(1, int64(m)) }
			want.Add(want, new(big.Rat).SetFrac(new(big.Int).Mul(f(k), f(n-k-1)), f(n)))
		}
		exact, _ := want.Float64()
		nodes, edges := hypercube(n)
		got := ohmmeter(t, NewSolver(graph(nodes, edges)), 0, Node(nodes-1))
		if math.Abs(got-exact) > 1e-12 {
			t.Errorf("n = %d: %.15f, want %s", n, got, want)
		}
		if bits.OnesCount(uint(nodes-1)) != n {
			t.Fatal("not the antipode")
		}
	}
}

// TestLadders: series R, shunt R; Fibonacci quotients, towards the golden
// ratio; and two wires with rungs, towards 1 + √3 (textbook results).
func TestLadders(t *testing.T) {
	t.Parallel()
	for i, want := range rats("2", "5/3", "13/8", "34/21", "89/55", "233/144") {
		w, _ := want.Float64()
		if got := ladder(t, i+1); math.Abs(got-w) > 1e-12 {
			t.Errorf("%d sections: %.15f, want %s", i+1, got, want)
		}
	}
	if got := ladder(t, 40); math.Abs(got-phi) > 1e-12 {
		t.Errorf("long ladder: %.15f, want the golden ratio", got)
	}
	var edges [][2]int
	for i := range 30 {
		edges = append(edges, [2]int{2 * i, 2*i + 2}, [2]int{2*i + 1, 2*i + 3}, [2]int{2*i + 2, 2*i + 3})
	}
	if got := ohmmeter(t, NewSolver(graph(62, edges)), 0, 1); math.Abs(got-(1+math.Sqrt(3))) > 1e-12 {
		t.Errorf("two-wire chain: %.15f, want 1+√3", got)
	}
}

// ladder reads a finite ladder: node 0 is the far rail.
func ladder(t *testing.T, sections int) float64 {
	var edges [][2]int
	for i := 1; i <= sections; i++ {
		edges = append(edges, [2]int{i, i + 1}, [2]int{i + 1, 0})
	}
	return ohmmeter(t, NewSolver(graph(sections+2, edges)), 1, 0)
}

// TestGridFromAbove: neighbours on an infinite square grid stand at 1/2 R; a
// finite one lies above and falls towards it (Rayleigh).
func TestGridFromAbove(t *testing.T) {
	t.Parallel()
	last := math.Inf(1)
	for half := 1; half <= 5; half++ {
		n := 2*half + 1
		var edges [][2]int
		for y := range n {
			for x := range n {
				if x+1 < n {
					edges = append(edges, [2]int{y*n + x, y*n + x + 1})
				}
				if y+1 < n {
					edges = append(edges, [2]int{y*n + x, y*n + x + n})
				}
			}
		}
		mid := half*n + half
		got := ohmmeter(t, NewSolver(graph(n*n, edges)), Node(mid), Node(mid+1))
		if got <= 0.5 || got >= last {
			t.Errorf("half width %d: %.6f, must fall towards 1/2 from above (before: %.6f)", half, got, last)
		}
		last = got
	}
}

// network draws a connected network of resistors from 1 mΩ to 100 MΩ.
func network(t *rapid.T) (*Circuit, []*Resistor) {
	n := rapid.IntRange(2, 14).Draw(t, "nodes")
	c := New()
	for i := range n {
		c.Node(fmt.Sprint(i))
	}
	var rs []*Resistor
	add := func(a, b int) {
		ohms := math.Pow(10, rapid.Float64Range(-3, 8).Draw(t, "decade"))
		r := &Resistor{Name: fmt.Sprintf("R%d", len(rs)), A: Node(a), B: Node(b), Ohms: ohms}
		rs = append(rs, r)
		c.Add(r)
	}
	for i := 1; i < n; i++ {
		add(i, rapid.IntRange(0, i-1).Draw(t, "tree"))
	}
	for range rapid.IntRange(0, 12).Draw(t, "extra") {
		a, b := rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b")
		if a != b {
			add(a, b)
		}
	}
	return c, rs
}

// TestFoster: over the edges of a connected network, Σ R_eff/R = nodes − 1.
func TestFoster(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c, rs := network(t)
		s := NewSolver(c)
		sum := 0.0
		for _, r := range rs {
			sum += effective(t, s, r) / r.Ohms
		}
		if math.Abs(sum-float64(c.Len()-1)) > 1e-6 {
			t.Errorf("Σ R_eff/R = %.9f, want %d", sum, c.Len()-1)
		}
	})
}

// effective reads the resistance across an element with a meter of about its
// own resistance, which is how precision survives eleven decades.
func effective(t interface{ Fatal(...any) }, s *Solver, r *Resistor) float64 {
	s.Attach(Probe{Red: r.A, Black: r.B, Volts: 1, Ohms: r.Ohms})
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	v := s.Volts(r.A, r.B)
	return r.Ohms * v / (1 - v)
}

// TestRayleigh: raising a resistance never lowers the resistance between any
// two nodes, and none is ever above a resistor directly between them (Doyle and
// Snell, Random Walks and Electric Networks, ch. 4). This is the ceiling rule.
func TestRayleigh(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c, rs := network(t)
		s := NewSolver(c)
		seen := rapid.SampledFrom(rs).Draw(t, "seen")
		before := effective(t, s, seen)
		if before > seen.Ohms*(1+1e-6) {
			t.Errorf("%g Ω across a resistor of %g Ω", before, seen.Ohms)
		}
		moved := rapid.SampledFrom(rs).Draw(t, "moved")
		moved.Ohms *= rapid.Float64Range(1, 1e4).Draw(t, "by")
		if after := effective(t, s, seen); after < before*(1-1e-6) {
			t.Errorf("raising %s lowers the reading from %g to %g Ω", moved.Name, before, after)
		}
	})
}

// TestReciprocity: a current into one pair shows the same volts at another pair
// as the current into that pair shows at the first.
func TestReciprocity(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c, _ := network(t)
		node := func(name string) Node { return Node(rapid.IntRange(0, c.Len()-1).Draw(t, name)) }
		a, b, p, q := node("a"), node("b"), node("p"), node("q")
		if a == b || p == q {
			return
		}
		s := NewSolver(c)
		transfer := func(a, b, p, q Node) float64 {
			s.Attach(Probe{Red: a, Black: b, Volts: 1, Ohms: 1})
			if err := s.Solve(); err != nil {
				t.Fatal(err)
			}
			return s.Volts(p, q) / (1 - s.Volts(a, b))
		}
		one, two := transfer(a, b, p, q), transfer(p, q, a, b)
		if math.Abs(one-two) > 1e-6*math.Abs(one)+1e-3 {
			t.Errorf("%.12g Ω and %.12g Ω", one, two)
		}
	})
}

// TestSuperposition: the volts from two sources together are the sum of those
// from each alone; and they scale.
func TestSuperposition(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c, _ := network(t)
		last := Node(c.Len() - 1)
		one := &Source{Name: "one", Plus: c.Node("s1"), Minus: 0}
		two := &Source{Name: "two", Plus: c.Node("s2"), Minus: last}
		c.Add(&Resistor{Name: "Rs1", A: c.Node("s1"), B: last, Ohms: 1e3})
		c.Add(&Resistor{Name: "Rs2", A: c.Node("s2"), B: 0, Ohms: 2e3})
		c.Add(one)
		c.Add(two)
		s := NewSolver(c)
		solve := func(v1, v2 float64) float64 {
			one.Volts, two.Volts = v1, v2
			if err := s.Solve(); err != nil {
				t.Fatal(err)
			}
			return s.Volts(1, 0)
		}
		a, b := rapid.Float64Range(-400, 400).Draw(t, "a"), rapid.Float64Range(-400, 400).Draw(t, "b")
		sum, both := solve(a, 0)+solve(0, b), solve(a, b)
		if math.Abs(sum-both) > 1e-9*800 {
			t.Errorf("%g V alone, %g V together", sum, both)
		}
		if twice := solve(2*a, 2*b); math.Abs(twice-2*both) > 1e-9*800 {
			t.Errorf("%g V, twice the sources %g V", both, twice)
		}
	})
}
