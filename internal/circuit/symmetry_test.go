package circuit

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// What must not depend on how a circuit is written down, on which way its volts
// point, or on the unit of its currents.

// rewritten gives a circuit with nodes and elements in another order, every element
// a copy that change may alter.
func rewritten(c *Circuit, rng *rand.Rand, change func(e Element) Element) *Circuit {
	out := New()
	for _, n := range rng.Perm(c.Len()) {
		out.Node(c.Name(Node(n)))
	}
	for _, d := range c.datums {
		out.Datum(out.Node(c.Name(d)))
	}
	copies := map[Element]Element{}
	for _, e := range c.elements {
		copies[e] = change(moved(e, func(n Node) Node { return out.Node(c.Name(n)) }))
	}
	for _, i := range rng.Perm(len(c.elements)) {
		e := copies[c.elements[i]]
		if k, ok := e.(*Coupler); ok {
			k.LED = copies[c.elements[i].(*Coupler).LED].(*Junction)
		}
		out.Add(e)
	}
	return out
}

// moved copies an element to other nodes.
func moved(e Element, to func(Node) Node) Element {
	out := reflect.New(reflect.TypeOf(e).Elem())
	out.Elem().Set(reflect.ValueOf(e).Elem())
	for i := range out.Elem().NumField() {
		if f := out.Elem().Field(i); f.Type() == reflect.TypeFor[Node]() {
			f.SetInt(int64(to(Node(f.Int()))))
		}
	}
	if s, ok := out.Interface().(*Source); ok && s.Hold != nil {
		s.Hold = &Hold{Node: to(s.Hold.Node), Zero: to(s.Hold.Zero), Volts: s.Hold.Volts}
	}
	return out.Interface().(Element)
}

func same(e Element) Element { return e }

// agree compares the held nodes of two circuits by name; sign turns the volts of
// the second.
func agree(t *rapid.T, one *Solver, other *Circuit, sign, within float64) {
	s := NewSolver(other)
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	levels, err := one.Levels()
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for n, l := range levels {
		if l.Floating {
			continue
		}
		name := one.c.Name(Node(n))
		k, ok := other.Find(name)
		if !ok {
			t.Fatalf("no node %s", name)
		}
		compared++
		if got := sign * s.Volts(k, s.Zero(k)); math.Abs(got-l.Volts) > within*(1+math.Abs(l.Volts)) {
			t.Errorf("%s stands at %.9g V, before at %.9g V", name, got, l.Volts)
		}
	}
	if compared < 3 {
		t.Fatal("nothing was compared")
	}
}

// TestOrder: the order of nodes and elements does not matter.
func TestOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, s := random(t)
		agree(t, s, rewritten(o.Circuit, rand.New(rand.NewPCG(o.seed, 3)), same), 1, 1e-6)
	})
}

// TestMirror: with every source and every junction turned round, all volts are
// turned round.
func TestMirror(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, s := random(t)
		mirrored := true
		c := rewritten(o.Circuit, rand.New(rand.NewPCG(o.seed, 4)), func(e Element) Element {
			switch e := e.(type) {
			case *Source:
				e.Volts = -e.Volts
				mirrored = mirrored && e.Hold == nil
			case *Junction:
				e.Anode, e.Cathode = e.Cathode, e.Anode
			case *Transistor:
				e.PNP = !e.PNP
			case *Coupler:
				e.Collector, e.Emitter = e.Emitter, e.Collector
			case *Gate:
				e.A, e.B = e.B, e.A
				e.Control, e.Reference = e.Reference, e.Control
			case *Amplifier, *Regulator: // they have no mirror image
				mirrored = false
			}
			return e
		})
		if !mirrored {
			return
		}
		for _, e := range c.elements { // a current source is a limit, and what lies beyond it
			if v, ok := e.(*Source); ok && v.Limit > 0 {
				v.Plus, v.Minus, v.Volts = v.Minus, v.Plus, -v.Volts
			}
		}
		agree(t, s, c, -1, 1e-6)
	})
}

// TestScale: with all resistances so many times lower and all currents as many
// times higher, all volts stay, but for the 1 pS by which a source at its limit
// leaks.
func TestScale(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, s := random(t)
		k := math.Pow(10, rapid.Float64Range(-2, 0).Draw(t, "scale"))
		scaled := true
		c := rewritten(o.Circuit, rand.New(rand.NewPCG(o.seed, 5)), func(e Element) Element {
			switch e := e.(type) {
			case *Resistor:
				e.Ohms *= k
			case *Source:
				e.Ohms, e.Limit = e.Ohms*k, e.Limit/k
			case *Junction:
				e.Is, e.Rs = e.Is/k, e.Rs*k
				scaled = scaled && e.Breakdown == 0 // which is named at 1 mA
			case *Varistor:
				e.Volts *= math.Pow(k, 1.0/varistorPower)
			case *Transistor:
				e.Is /= k
			case *Gate:
				e.Ohms *= k
			case *Amplifier:
				e.OutOhms *= k
			case *Regulator:
				e.Limit /= k
			}
			return e
		})
		if scaled {
			agree(t, s, c, 1, 2e-5)
		}
	})
}

// TestSubstitution: a resistor may be replaced by any source behind a resistance
// that carries its current at its volts; nothing else notices.
func TestSubstitution(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, s := random(t)
		var resistors []*Resistor
		for _, e := range o.elements {
			if r, ok := e.(*Resistor); ok {
				resistors = append(resistors, r)
			}
		}
		chosen := rapid.SampledFrom(resistors).Draw(t, "resistor")
		v, share := s.Volts(chosen.A, chosen.B), rapid.Float64Range(0.2, 3).Draw(t, "share")
		c := rewritten(o.Circuit, rand.New(rand.NewPCG(o.seed, 6)), func(e Element) Element {
			r, ok := e.(*Resistor)
			if !ok || r.Name != chosen.Name || r.Ohms != chosen.Ohms {
				return e
			}
			return &Source{Name: r.Name, Plus: r.A, Minus: r.B, Volts: v * (1 - share), Ohms: r.Ohms * share}
		})
		agree(t, s, c, 1, 1e-6)
	})
}

// TestImpedanceIsPassive: of resistors and capacitors: it takes power, it is the
// same whichever way it is measured, and it scales.
func TestImpedanceIsPassive(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := rcCircuit(uint64(rapid.IntRange(0, 500).Draw(t, "network")), false)
		hertz := math.Pow(10, rapid.Float64Range(0, 6).Draw(t, "hertz"))
		k := math.Pow(10, rapid.Float64Range(-2, 2).Draw(t, "scale"))
		s := NewSolver(o.Circuit)
		a, b := o.Node(o.probe()), o.Node(o.nodes[1])
		z, ok := s.Impedance(a, b, hertz)
		back, _ := s.Impedance(b, a, hertz)
		if !ok || real(z) < 0 || imag(z) > 1e-9*cmplx.Abs(z) || cmplx.Abs(z-back) > 1e-9*cmplx.Abs(z) {
			t.Fatalf("circuit %d at %g Hz: %g one way, %g the other", o.seed, hertz, z, back)
		}
		c := rewritten(o.Circuit, rand.New(rand.NewPCG(o.seed, 7)), func(e Element) Element {
			switch e := e.(type) {
			case *Resistor:
				e.Ohms *= k
			case *Capacitor:
				e.Farads, e.ESR = e.Farads/k, e.ESR*k
			}
			return e
		})
		x, _ := c.Find(o.Name(a))
		y, _ := c.Find(o.Name(b))
		if scaled, ok := NewSolver(c).Impedance(x, y, hertz); !ok || cmplx.Abs(scaled-z*complex(k, 0)) > 1e-8*k*cmplx.Abs(z) {
			t.Errorf("circuit %d at %g Hz: %g, scaled by %g %g", o.seed, hertz, z, k, scaled)
		}
	})
}

// TestTimeScale: with capacitors so many times larger everything takes as many
// times longer and reads the same.
func TestTimeScale(t *testing.T) {
	t.Parallel()
	for seed := range uint64(20) {
		const k = 37
		o := rcCircuit(seed, seed%2 == 0)
		slow := rewritten(o.Circuit, rand.New(rand.NewPCG(seed, 8)), func(e Element) Element {
			if c, ok := e.(*Capacitor); ok {
				c.Farads *= k
			}
			return e
		})
		probe, _ := slow.Find(o.probe())
		zero, _ := slow.Find("0")
		one, other := NewTransient(o.Circuit), NewTransient(slow)
		one.Attach(Probe{Red: o.Node(o.probe()), Volts: 0.5, Ohms: 1e4})
		other.Attach(Probe{Red: probe, Black: zero, Volts: 0.5, Ohms: 1e4})
		last := 0.0
		for _, at := range decades(1e-6, 10, 20) {
			if err1, err2 := one.Step(at-last), other.Step(k*(at-last)); err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			last = at
			if v, w := one.Volts(o.Node(o.probe()), 0), other.Volts(probe, zero); math.Abs(v-w) > 1e-6 {
				t.Errorf("circuit %d: %.9f V after %g s, %.9f V after %g times that", seed, v, at, w, float64(k))
			}
		}
	}
}
