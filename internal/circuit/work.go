package circuit

// work is the memory of one Solver: the matrix, the right-hand side, the
// solution, and the helpers with which elements write their equations.
//
// Equations come in two sorts. The row of a node says that the currents leaving
// it sum to zero; the row of an unknown current holds its element's own law.
type work struct {
	*topology
	lu    *lu
	baseB []float64 // of the linear elements
	b     []float64
	x     []float64 // unknowns
	v     []float64 // volts of every node, against its island's datum

	scale float64 // of every source, 1 but while they are stepped up
	gmin  float64 // conductance beside every bent element
	damp  float64 // share of each step that junctions take
	dt    float64 // length of a time step in seconds; 0: direct current
	theta float64 // of the step, see Transient

	// In place of stamping, weigh sums λᵀ·(equation) at the solution; see
	// adjoint.go.
	weigh  bool
	lambda []float64
	sum    float64
}

func newWork(t *topology) *work {
	n := t.size
	return &work{
		topology: t, lu: newLU(n), scale: 1, gmin: leak, damp: 1,
		baseB: make([]float64, n), b: make([]float64, n), x: make([]float64, n),
		v: make([]float64, len(t.own)), lambda: make([]float64, n),
	}
}

// leak is the conductance, in siemens, that always stands beside a bent
// element, so that a group held by reverse junctions alone has a solution. Its
// value shows nowhere: see Levels.
const leak = 1e-14

// pair is the difference between two nodes, written in unknowns: at most four,
// with signs. Inside a group the group's own unknown drops out.
type pair struct {
	n   int
	idx [4]int32
	sgn [4]float64
}

func (p *pair) add(i int, s float64) {
	if i >= 0 {
		p.idx[p.n], p.sgn[p.n] = int32(i), s
		p.n++
	}
}

// pair gives the difference a − b.
func (w *work) pair(a, b Node) pair {
	var p pair
	p.add(w.own[a], 1)
	p.add(w.own[b], -1)
	if w.group[a] != w.group[b] {
		p.add(w.root[a], 1)
		p.add(w.root[b], -1)
	} else if w.root[a] < 0 && w.root[b] >= 0 && w.own[a] == w.root[b] {
		// b stands relative to a: the difference is b's own unknown alone.
		return one(w.own[b], -1)
	} else if w.root[b] < 0 && w.root[a] >= 0 && w.own[b] == w.root[a] {
		return one(w.own[a], 1)
	}
	return p
}

func one(i int, s float64) pair {
	return pair{n: 1, idx: [4]int32{int32(i)}, sgn: [4]float64{s}}
}

// of weighs a vector of unknowns by the pair.
func (p *pair) of(x []float64) float64 {
	sum := 0.0
	for i := range p.n {
		sum += p.sgn[i] * x[p.idx[i]]
	}
	return sum
}

// conduct writes a current g·across that flows between the nodes of along.
func (w *work) conduct(along, across *pair, g float64) {
	if w.weigh {
		w.sum += g * along.of(w.lambda) * across.of(w.x)
		return
	}
	for i := range along.n {
		for j := range across.n {
			w.lu.add(int(along.idx[i]), int(across.idx[j]), along.sgn[i]*across.sgn[j]*g)
		}
	}
}

// current writes a constant current between the nodes of along.
func (w *work) current(along *pair, i float64) {
	if w.weigh {
		w.sum += i * along.of(w.lambda)
		return
	}
	for k := range along.n {
		w.b[along.idx[k]] -= along.sgn[k] * i
	}
}

// carry lets the unknown current k flow between the nodes of along.
func (w *work) carry(along pair, k int) {
	if w.weigh {
		w.sum += w.x[k] * along.of(w.lambda)
		return
	}
	for i := range along.n {
		w.lu.add(int(along.idx[i]), k, along.sgn[i])
	}
}

// law adds coef·across to the law of the unknown current k.
func (w *work) law(k int, across pair, coef float64) {
	if w.weigh {
		w.sum += w.lambda[k] * coef * across.of(w.x)
		return
	}
	for j := range across.n {
		w.lu.add(k, int(across.idx[j]), across.sgn[j]*coef)
	}
}

// lawCurrent adds coef·(its current) to the law of the unknown current k, and
// lets the law sum to value.
func (w *work) lawCurrent(k int, coef, value float64) {
	if w.weigh {
		w.sum += w.lambda[k] * (coef*w.x[k] - value)
		return
	}
	w.lu.add(k, k, coef)
	w.b[k] += value
}

// volts gives the present difference between two nodes. Inside a group it is
// taken from the unknowns, which hold it exactly.
func (w *work) volts(a, b Node) float64 {
	p := w.pair(a, b)
	return p.of(w.x)
}

// spread fills the volts of every node from the unknowns.
func (w *work) spread() {
	for i := range w.v {
		w.v[i] = 0
		if k := w.own[i]; k >= 0 {
			w.v[i] = w.x[k]
		}
		if k := w.root[i]; k >= 0 {
			w.v[i] += w.x[k]
		}
	}
}
