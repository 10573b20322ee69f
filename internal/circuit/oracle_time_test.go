package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"ohmstead/internal/circuit/spicetest"
)

// rcCircuit draws a network of resistors and capacitors between two probes,
// with a few junctions when bent is set.
func rcCircuit(seed uint64, bent bool) *oracleCircuit {
	o := &oracleCircuit{builder: build(), seed: seed, rng: newRand(seed)}
	o.nodes = []string{"0"}
	for range 4 + o.rng.IntN(6) {
		o.branch()
	}
	for range o.rng.IntN(4) {
		o.bridge()
	}
	for range 2 + o.rng.IntN(4) {
		o.capacitor()
	}
	for k := 0; bent && k < 1+o.rng.IntN(3); k++ {
		o.diode()
	}
	return o
}

func (o *oracleCircuit) capacitor() {
	a, b := o.any(), o.any()
	if a == b {
		return
	}
	farads, esr := math.Pow(10, o.uniform(-9, -3)), o.uniform(0.01, 2)
	o.c(a, b, farads, esr)
	o.deck.Capacitor(a, b, farads, esr)
}

// TestImpedanceAgainstSimulator compares complex impedances of fifty random
// networks at two frequencies: an alternating current of 1 A there.
func TestImpedanceAgainstSimulator(t *testing.T) {
	t.Parallel()
	frequencies := []float64{100, 100e3}
	var networks []*oracleCircuit
	var tasks []spicetest.Task
	for seed := range uint64(50) {
		o := rcCircuit(seed, false)
		task := spicetest.Task{Deck: &o.deck}
		o.deck.Line("I999 0 %s DC 0 AC 1", o.probe())
		for _, hertz := range frequencies {
			task.Asks = append(task.Asks, spicetest.Ask{Solve: fmt.Sprintf("ac lin 1 %g %g", hertz, hertz), Print: []string{"v(" + o.probe() + ")"}})
		}
		networks, tasks = append(networks, o), append(tasks, task)
	}
	for i, answers := range spicetest.Find(t).Run(t, tasks) {
		o := networks[i]
		s := NewSolver(o.Circuit)
		if err := s.Solve(); err != nil {
			t.Fatal(o.seed, err)
		}
		for k, hertz := range frequencies {
			want, answered := answers[k]["v("+o.probe()+")"]
			if z, ok := s.Impedance(o.Node(o.probe()), 0, hertz); !answered || !ok || cmplx.Abs(z-want) > 1e-4*cmplx.Abs(want) {
				t.Errorf("circuit %d at %g Hz: %.6g here, %.6g there (%t)\n%s", o.seed, hertz, z, want, answered, &o.deck)
			}
		}
	}
}

// probe is where the red lead stands; the black one is on node 0.
func (o *oracleCircuit) probe() string { return o.nodes[len(o.nodes)-1] }

// TestChargingAgainstSimulator compares thirty networks with junctions that an
// ohmmeter charges from empty, at six times from 0.1 ms to 10 s: to 1 % of the
// test voltage.
func TestChargingAgainstSimulator(t *testing.T) {
	t.Parallel()
	ends := []float64{1e-4, 1e-3, 1e-2, 0.1, 1, 10}
	var networks []*oracleCircuit
	var tasks []spicetest.Task
	for seed := range uint64(30) {
		o := rcCircuit(1000+seed, true)
		o.deck.Volts(o.probe(), "0", 0.5, 1e4)
		task := spicetest.Task{Deck: &o.deck, Options: "reltol=1e-4 vntol=1e-6 abstol=1e-12"}
		for _, end := range ends {
			task.Asks = append(task.Asks, spicetest.Ask{Solve: fmt.Sprintf("tran %g %g uic", end/200, end),
				Print: []string{fmt.Sprintf("v(%s)[length(v(%s))-1]", o.probe(), o.probe())}})
		}
		networks, tasks = append(networks, o), append(tasks, task)
	}
	compared := 0
	for i, answers := range spicetest.Find(t).Run(t, tasks) {
		compared += networks[i].charge(t, ends, answers)
	}
	t.Logf("%d instants compared", compared)
	if compared < len(tasks)*len(ends)*98/100 {
		t.Errorf("only %d instants compared", compared)
	}
}

// charge follows a network here and compares the instants that the simulator
// answered.
func (o *oracleCircuit) charge(t *testing.T, ends []float64, answers []spicetest.Answer) (compared int) {
	t.Helper()
	tr := NewTransient(o.Circuit)
	tr.Attach(Probe{Red: o.Node(o.probe()), Black: 0, Volts: 0.5, Ohms: 1e4})
	times := decades(1e-7, 10, 40)
	followTo(t, tr, times, func(k int) {
		for i, end := range ends {
			if math.Abs(times[k]-end) > 1e-3*end {
				continue
			}
			for _, want := range answers[i] {
				if got := tr.Volts(o.Node(o.probe()), 0); math.Abs(got-real(want)) > 5e-3 {
					t.Errorf("circuit %d after %g s: %.5f V here, %.5f V there\n%s", o.seed, end, got, real(want), &o.deck)
				}
				compared++
			}
		}
	})
	return compared
}
