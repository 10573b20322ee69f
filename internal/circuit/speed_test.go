package circuit

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"ohmstead/internal/circuit/spicetest"
)

// TestEliminationGrows: from 31 nodes to 151 the elimination's work grows by
// less than the cube of the nodes. Counted, not timed.
func TestEliminationGrows(t *testing.T) {
	t.Parallel()
	work := func(inputs int) (size, products int) {
		b, _ := boardOf(inputs)
		s := mustSolve(t, b.Circuit)
		return s.w.nodes, len(s.w.lu.plan.target)
	}
	n, few := work(5)
	m, many := work(25)
	if exponent := math.Log(float64(many)/float64(few)) / math.Log(float64(m)/float64(n)); exponent > 3 || few == 0 {
		t.Errorf("%d products with %d nodes, %d with %d: the %.2f-th power", few, n, many, m, exponent)
	}
}

// BenchmarkNodes solves boards of more and more nodes, warm after one resistor
// moved, and from nothing in the memory of the last solution.
func BenchmarkNodes(b *testing.B) {
	for _, inputs := range []int{5, 10, 16, 25} {
		c, r := boardOf(inputs)
		s := NewSolver(c.Circuit)
		for _, cold := range []bool{false, true} {
			name := map[bool]string{false: "warm", true: "cold"}[cold]
			b.Run(fmt.Sprintf("%s/%d", name, s.w.nodes), func(b *testing.B) {
				for i := 0; b.Loop(); i++ {
					point(b, s, r, i, cold)
				}
			})
		}
	}
}

// BenchmarkNewSolve solves a board of sixty nodes with memory and all.
func BenchmarkNewSolve(b *testing.B) {
	c, _ := board60()
	for b.Loop() {
		if err := NewSolver(c.Circuit).Solve(); err != nil {
			b.Fatal(err)
		}
	}
}

// point solves a board after its resistor was moved a little.
func point(t testing.TB, s *Solver, r *Resistor, i int, cold bool) {
	r.Ohms = 120e3 + float64(i%1000)
	if cold {
		s.Reset()
	}
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
}

// TestFasterThanSimulator compares the processor time of an operating point of
// sixty nodes and twenty-five junctions with that of ngspice, kept running and
// asked for the same point again and again with its own, wider tolerances; what
// its command loop costs without the points is taken off. OHMSTEAD_SPEED prints
// the figures. The limits leave room for a busy machine.
func TestFasterThanSimulator(t *testing.T) {
	simulator := string(spicetest.Find(t))
	const points = 2000
	b, r := board60()
	deck := filepath.Join(t.TempDir(), "board.cir")
	if err := os.WriteFile(deck, []byte(deckOf(b.Circuit)), 0o600); err != nil {
		t.Fatal(err)
	}
	loop := "repeat %d\n%s\ndestroy all\nend\n"
	_, idle := resident(t, simulator, deck, fmt.Sprintf(loop, points, ""))
	volts, busy := resident(t, simulator, deck, fmt.Sprintf(loop, points, "op")+"op\nprint v(n3.2)\n")
	theirs := (busy - idle) / points

	s := mustSolve(t, b.Circuit)
	n, _ := b.Find("n3.2")
	if got := s.Volts(n, 0); math.Abs(got-volts) > 2e-3 {
		t.Fatalf("n3.2 stands at %.6f V here, at %.6f V there", got, volts)
	}
	spend := func(cold bool) time.Duration {
		before := processorTime(t)
		for i := range points {
			point(t, s, r, i, cold)
		}
		return (processorTime(t) - before) / points
	}
	warm, cold := spend(false), spend(true)
	times := func(ours time.Duration) float64 { return float64(theirs) / float64(ours) }
	if os.Getenv("OHMSTEAD_SPEED") != "" {
		t.Logf("ngspice %v; cold %v, %.1f times faster; warm %v, %.1f times faster", theirs, cold, times(cold), warm, times(warm))
	}
	if times(cold) < 1 || times(warm) < 3 {
		t.Errorf("ngspice %v a point; cold %v, warm %v", theirs, cold, warm)
	}
}

// resident runs commands in one simulator process on a deck and gives the value
// that it printed last, if any, and the processor time that it took.
func resident(t *testing.T, simulator, deck, commands string) (float64, time.Duration) {
	t.Helper()
	cmd := exec.Command(simulator, "-p")
	var out bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Dir = strings.NewReader("source "+deck+"\n"+commands+"quit\n"), &out, filepath.Dir(deck)
	if err := cmd.Run(); err != nil {
		t.Logf("simulator: %v", err)
	}
	value := 0.0
	if i := strings.LastIndex(out.String(), " = "); i >= 0 {
		value, _ = strconv.ParseFloat(strings.Fields(out.String()[i+3:])[0], 64)
	}
	return value, cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}

// processorTime gives the processor time of this process so far.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// deckOf writes a circuit of sources, resistors and junctions for the simulator.
func deckOf(c *Circuit) string {
	var out strings.Builder
	fmt.Fprintln(&out, "* board")
	for i, e := range c.elements {
		switch e := e.(type) {
		case *Source:
			fmt.Fprintf(&out, "V%d %s %s %.12g\n", i, c.Name(e.Plus), c.Name(e.Minus), e.Volts)
		case *Resistor:
			fmt.Fprintf(&out, "R%d %s %s %.12g\n", i, c.Name(e.A), c.Name(e.B), e.Ohms)
		case *Junction:
			fmt.Fprintf(&out, "D%d %s %s d%d\n.model d%d d(is=%.12g n=%.12g rs=%.12g)\n", i, c.Name(e.Anode), c.Name(e.Cathode), i, i, e.Is, e.NVt/ThermalVolts, e.Rs)
		}
	}
	fmt.Fprintln(&out, ".end")
	return out.String()
}
