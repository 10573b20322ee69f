package circuit

// Transient follows a circuit in time from empty capacitors. Its steps are
// implicit: the capacitor becomes a conductance with a current,
//
//	i₁ = C/(θ·dt)·(v₁ − v₀) − (1−θ)/θ·i₀,
//
// the first with θ = 1 (backward Euler, which forgets i₀), the
// others with θ = 0.55, nearly the trapezoidal rule but without its ringing. It
// uses the capacitors of the circuit: one Transient at a time.
type Transient struct {
	*Solver
	caps  []*Capacitor
	fresh bool // no step was made yet
}

// steadyTheta is the θ of a step that follows another.
const steadyTheta = 0.55

// NewTransient prepares to follow a circuit. Capacitors carry current here, so
// Connected and Zero take them for connections.
func NewTransient(c *Circuit) *Transient {
	t := &Transient{Solver: &Solver{c: c}, fresh: true}
	t.rebuild(true)
	for _, e := range c.elements {
		if k, ok := e.(*Capacitor); ok && !k.Off {
			k.before, k.flow = 0, 0
			t.caps = append(t.caps, k)
		}
	}
	return t
}

// Step goes on by so many seconds. The error is an *Unsolved.
func (t *Transient) Step(seconds float64) error {
	w := t.w
	w.dt, w.theta = seconds, steadyTheta
	if t.fresh {
		w.theta = 1
	}
	if err := t.Solve(); err != nil {
		return err
	}
	for _, c := range t.caps {
		v := w.volts(c.A, c.B)
		c.flow = c.Farads/(w.theta*seconds)*(v-c.before) - (1-w.theta)/w.theta*c.flow
		c.before = v
	}
	t.fresh = false
	return nil
}
