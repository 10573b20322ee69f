package circuit

// Parameter is a number u by which elements of a circuit depend on something
// outside, such as where a part stands within its tolerance.
type Parameter struct {
	Elements []int           // indexes of the elements that it moves
	Set      func(u float64) // moves them
	At       float64         // where it is now
}

// sensitivityStep is how far a parameter is moved, both ways, to see how its
// own elements' equations change. The rest of the circuit is not solved anew,
// so the step only has to suit one element's law.
const sensitivityStep = 1e-4

// Sensitivity fills out with the derivatives of the volts of a against b by
// every parameter, at the solution that Solve has found. One solve with the
// transposed factors gives λ with Jᵀλ = ∂V/∂x; then dV/du = −λᵀ·∂F/∂u, where F
// are the equations at the solution.
func (s *Solver) Sensitivity(a, b Node, params []Parameter, out []float64) {
	clear(out)
	if !s.Connected(a, b) {
		return
	}
	w := s.w
	clear(w.lambda)
	p := w.pair(a, b)
	for k := range p.n {
		w.lambda[p.idx[k]] += p.sgn[k]
	}
	w.lu.solveTransposed(w.lambda, w.lambda)
	w.weigh = true
	defer func() { w.weigh = false }()
	for i := range params {
		q := &params[i]
		q.Set(q.At + sensitivityStep)
		above := s.weigh(q.Elements)
		q.Set(q.At - sensitivityStep)
		below := s.weigh(q.Elements)
		q.Set(q.At)
		s.weigh(q.Elements)
		out[i] = -(above - below) / (2 * sensitivityStep)
	}
}

// weigh sums λᵀ·F over the equations of some elements.
func (s *Solver) weigh(elements []int) float64 {
	s.w.sum = 0
	for _, i := range elements {
		s.c.elements[i].stamp(s.w, &s.states[i])
	}
	return s.w.sum
}
