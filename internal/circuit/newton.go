package circuit

import (
	"fmt"
	"math"
	"reflect"
	"sort"
	"strings"
)

// Solver finds the operating point of one circuit. It keeps its memory and its
// last solution: solving again after a small change starts from there and
// allocates nothing. A Solver serves one goroutine.
type Solver struct {
	c      *Circuit
	w      *work
	states []state
	bent   []int // elements that are not linear
	probe  Source
	pstate state
	rests  []rest       // where circuits with other instruments at the same place stood
	ac     *alternating // made when first needed
}

// Probe is an instrument between two nodes: Volts behind Ohms, giving at most
// Limit amperes (0: no limit). Red is its positive end.
type Probe struct {
	Red, Black Node
	Volts      float64
	Ohms       float64
	Limit      float64
}

// NewSolver prepares to solve a circuit.
func NewSolver(c *Circuit) *Solver {
	s := &Solver{c: c}
	s.Rebuild()
	return s
}

// Rebuild takes note of new connections: elements added, moved or switched off
// or on. It forgets the last solution and the probe.
func (s *Solver) Rebuild() { s.rebuild(false) }

func (s *Solver) rebuild(withCapacitors bool) {
	t := newTopology(s.c, withCapacitors)
	s.w, s.ac = newWork(t), nil
	s.states = make([]state, len(s.c.elements))
	s.bent = s.bent[:0]
	branch := t.nodes
	for i, e := range s.c.elements {
		s.states[i].branch = branch
		branch += e.branches()
		if !e.linear() {
			s.bent = append(s.bent, i)
		}
	}
	s.pstate = state{branch: branch}
	s.rests = nil
	s.Detach()
}

// Reset forgets the last solution, so that the next one does not depend on it.
func (s *Solver) Reset() {
	for i := range s.states {
		s.states[i] = state{branch: s.states[i].branch}
	}
	s.pstate = state{branch: s.pstate.branch}
	clear(s.w.x)
	s.rests = s.rests[:0]
}

// rest is where a circuit stood with an instrument of so many ohms.
type rest struct {
	ohms   float64
	states []state
}

// Attach puts an instrument between two nodes, in place of any other. Where
// only its ohms have changed, as between the ranges of an ohmmeter, the next
// solution starts from the last one with these ohms, if there was one.
func (s *Solver) Attach(p Probe) {
	was := &s.probe
	switch {
	case was.Off || was.Plus != p.Red || was.Minus != p.Black || was.Limit != p.Limit:
		s.pstate.mode = srcFree
		s.rests = s.rests[:0]
	case was.Ohms != p.Ohms:
		copy(s.restAt(was.Ohms, true).states, s.states)
		if r := s.restAt(p.Ohms, false); r != nil {
			copy(s.states, r.states)
		}
	}
	s.probe = Source{Name: "meter", Plus: p.Red, Minus: p.Black, Volts: p.Volts, Ohms: p.Ohms, Limit: p.Limit}
}

// restAt gives the rest with an instrument of so many ohms; with fresh, a new one
// where there is none.
func (s *Solver) restAt(ohms float64, fresh bool) *rest {
	for i := range s.rests {
		if s.rests[i].ohms == ohms {
			return &s.rests[i]
		}
	}
	if !fresh {
		return nil
	}
	if n := len(s.rests); n < cap(s.rests) {
		s.rests = s.rests[:n+1] // its memory is used again
	} else {
		s.rests = append(s.rests, rest{})
	}
	r := &s.rests[len(s.rests)-1]
	if r.ohms = ohms; len(r.states) != len(s.states) {
		r.states = make([]state, len(s.states))
	}
	return r
}

// Detach takes the instrument away.
func (s *Solver) Detach() { s.probe = Source{Off: true} }

// StartFrom lets the next solution start from that of a similar circuit, with
// its instrument: of elements that both have, in the same order and of the same
// name, the conditions are taken over, the others start anew.
func (s *Solver) StartFrom(o *Solver) {
	s.Reset()
	j := 0
	for i, e := range s.c.elements {
		k := o.like(e, j)
		if k < 0 {
			continue
		}
		j = k + 1
		t, from := &s.states[i], &o.states[k]
		t.mode, t.side, t.v = from.mode, from.side, from.v
	}
	s.probe, s.pstate.mode = o.probe, o.pstate.mode
}

// like finds the element of the same kind and name from index j on, within the
// elements that one part may have, or −1.
func (s *Solver) like(e Element, j int) int {
	for k := j; k < min(j+8, len(s.c.elements)); k++ {
		if o := s.c.elements[k]; o.label() == e.label() && reflect.TypeOf(o) == reflect.TypeOf(e) {
			return k
		}
	}
	return -1
}

// Connected tells whether current can flow between two nodes at all.
func (s *Solver) Connected(a, b Node) bool { return s.w.island[a] == s.w.island[b] }

// Zero gives the node that reads 0 V on the island of n.
func (s *Solver) Zero(n Node) Node { return s.w.datum[s.w.island[n]] }

// Volts gives the volts of a against b at the solution; between islands, 0.
func (s *Solver) Volts(a, b Node) float64 {
	if !s.Connected(a, b) {
		return 0
	}
	return s.w.volts(a, b)
}

// Amps gives the current that a source, op-amp, gate or regulator carries at
// the solution: out of a source's Plus, out of an op-amp's Out, from In to Out,
// from A to B. Other elements give 0. i is the element's index.
func (s *Solver) Amps(i int) float64 {
	if s.c.elements[i].branches() == 0 {
		return 0
	}
	return s.w.x[s.states[i].branch]
}

// Steps of Newton's method that are tried before the next remedy.
const (
	warmSteps   = 40
	coldSteps   = 300
	remedySteps = 60
	freeSteps   = 25 // from then on conditions change one by one
	dampSteps   = 80 // from then on junctions take a third of each step
)

// tinyPivot is the pivot below which the matrix counts as singular. It lies far
// below leak, so that floating groups have one.
const tinyPivot = 1e-22

// Solve finds the operating point. The error is an *Unsolved.
func (s *Solver) Solve() error {
	if s.newton(warmSteps) {
		return nil
	}
	s.Reset()
	if s.newton(coldSteps) || s.shrinkLeak() || s.raiseSources() {
		return nil
	}
	return s.unsolved()
}

// newton iterates at most so many steps and reports whether all elements agree
// with the solution.
func (s *Solver) newton(steps int) bool {
	s.stampLinear()
	defer func() { s.w.damp = 1 }()
	for step := range steps {
		if step == dampSteps {
			s.w.damp = 1.0 / 3
		}
		if s.assemble(); s.w.lu.factor(tinyPivot) >= 0 {
			return false
		}
		s.w.lu.solve(s.w.b, s.w.x)
		if s.follow(step) {
			return finite(s.w.x)
		}
	}
	return false
}

// stampLinear writes the equations that stay the same through all steps.
func (s *Solver) stampLinear() {
	w := s.w
	w.lu.clear()
	clear(w.b)
	for i, e := range s.c.elements {
		if e.linear() {
			e.stamp(w, &s.states[i])
		}
	}
	w.lu.keep()
	copy(w.baseB, w.b)
}

// assemble writes the equations at the present point.
func (s *Solver) assemble() {
	w := s.w
	w.lu.recall()
	copy(w.b, w.baseB)
	for _, i := range s.bent {
		s.c.elements[i].stamp(w, &s.states[i])
	}
	s.probe.stamp(w, &s.pstate)
}

// follow moves every element to the new solution and reports whether all
// agreed with it. After freeSteps conditions change only once every junction
// stands still in the present ones, and then one a step, each in turn: that ends
// the cycles into which all at once can run.
func (s *Solver) follow(step int) bool {
	n, patient := len(s.bent), step > freeSteps
	settled, quota := true, n
	if patient {
		quota = 1
	}
	for _, i := range s.bent {
		if e := s.c.elements[i]; e.branches() == 0 && !e.follow(s.w, &s.states[i]) {
			settled = false
		}
	}
	if patient && !settled {
		quota = 0
	}
	for k := range n {
		i := s.bent[(k+step)%n]
		e, st := s.c.elements[i], &s.states[i]
		if e.branches() == 0 {
			continue
		}
		before := *st
		if e.follow(s.w, st) {
			continue
		}
		settled = false
		if quota--; quota < 0 {
			*st = before
		}
	}
	return s.probe.follow(s.w, &s.pstate) && settled
}

func finite(x []float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// shrinkLeak solves with a conductance beside every bent element that shrinks
// from strong to leak, each solution starting the next (gmin stepping). Where a
// step fails, a smaller one is tried from the last that did not.
func (s *Solver) shrinkLeak() bool {
	s.Reset()
	defer func() { s.w.gmin = leak }()
	kept := make([]state, len(s.states))
	copy(kept, s.states)
	at, factor := 1.0, 10.0
	for at > leak {
		s.w.gmin = max(at/factor, leak)
		if s.newton(remedySteps) {
			at, factor = s.w.gmin, min(factor*factor, 10)
			copy(kept, s.states)
			continue
		}
		copy(s.states, kept)
		if factor = math.Sqrt(factor); factor < 1.05 {
			return false
		}
	}
	return true
}

// raiseSources solves with sources that grow from nothing to their volts, by
// steps that halve where they fail and double where they do not.
func (s *Solver) raiseSources() bool {
	s.Reset()
	defer func() { s.w.scale = 1 }()
	at, step := 0.0, 0.05
	kept := make([]state, len(s.states))
	for at < 1 {
		copy(kept, s.states)
		s.w.scale = min(at+step, 1)
		if s.newton(remedySteps) {
			at, step = s.w.scale, step*2
			continue
		}
		copy(s.states, kept)
		if step /= 2; step < 1e-5 {
			return false
		}
	}
	return true
}

// Unsolved says that a circuit has no solution that could be found, and where
// it is worst.
type Unsolved struct {
	Nodes    []string // where the currents do not balance, worst first; at most 3
	Residual float64  // amperes that are left over at the worst
}

// Error gives residual and nodes.
func (u *Unsolved) Error() string {
	return fmt.Sprintf("no operating point found: %.3g A left over at %s", u.Residual, strings.Join(u.Nodes, ", "))
}

// unsolved looks where the present equations are violated most.
func (s *Solver) unsolved() error {
	w := s.w
	if !finite(w.x) {
		clear(w.x)
	}
	s.stampLinear()
	s.assemble()
	left := make([]float64, w.size)
	w.lu.times(w.x, left)
	for r := range left {
		left[r] = math.Abs(left[r] - w.b[r])
	}
	var at []int
	for n := range w.own {
		if w.own[n] >= 0 {
			at = append(at, n)
		}
	}
	sort.SliceStable(at, func(i, j int) bool { return left[w.own[at[i]]] > left[w.own[at[j]]] })
	u := &Unsolved{}
	for _, n := range at[:min(3, len(at))] {
		u.Nodes = append(u.Nodes, s.c.names[n])
	}
	if len(at) > 0 {
		u.Residual = left[w.own[at[0]]]
	}
	return u
}
