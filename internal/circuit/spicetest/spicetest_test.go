package spicetest

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"
)

// op asks for the operating point of a deck and gives some of its volts.
func op(t *testing.T, d *Deck, nodes ...string) Answer {
	t.Helper()
	d.Ground()
	var print []string
	for _, n := range nodes {
		print = append(print, Across(n, "0"))
	}
	a := Find(t).Run(t, []Task{{Deck: d, Asks: []Ask{{Solve: "op", Print: print}}}})[0][0]
	if a == nil {
		t.Fatalf("no answer to\n%s", d)
	}
	return a
}

// TestElements: every element does what the formats say of it, where that can be
// worked out by hand.
func TestElements(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		draw func(d *Deck)
		want float64 // volts of node x
	}{
		"divider":           {func(d *Deck) { d.Volts("s", "0", 12, 0); d.Resistor("s", "x", 2e3); d.Resistor("x", "0", 1e3) }, 4},
		"source resistance": {func(d *Deck) { d.Volts("x", "0", 12, 1e3); d.Resistor("x", "0", 3e3) }, 9},
		"current source":    {func(d *Deck) { d.Amps("x", "0", 2e-3); d.Resistor("x", "0", 1e3) }, 2},
		"junction at 1 mA":  {func(d *Deck) { d.Amps("x", "0", 1e-3); d.Diode("x", "0", 0.58) }, 0.58 + 1e-4},
		"ten times that":    {func(d *Deck) { d.Amps("x", "0", 10e-3); d.Diode("x", "0", 0.58) }, 0.58 + 1.8*0.02585*math.Ln10 + 1e-3},
		"Zener at 1 mA":     {func(d *Deck) { d.Amps("x", "0", 1e-3); d.Breakdown("0", "x", 5.1) }, 5.1 + 1e-4},
		"varistor at 1 mA":  {func(d *Deck) { d.Amps("x", "0", 1e-3); d.Varistor("x", "0", 22) }, 22},
		"varistor reversed": {func(d *Deck) { d.Amps("0", "x", 1e-3); d.Varistor("x", "0", 22) }, -22},
		"base at 1 mA":      {func(d *Deck) { d.Amps("x", "0", 1e-3); d.Bipolar("x", "c", "0", 80, 0.65, false) }, 0.65},
		"PNP base at 1 mA":  {func(d *Deck) { d.Amps("0", "x", 1e-3); d.Bipolar("x", "c", "0", 80, 0.65, true) }, -0.65},
		"switch closed": {func(d *Deck) {
			d.Volts("s", "0", 10, 0)
			d.Resistor("s", "x", 90)
			d.Switch("x", "0", "s", "0", 3, 10)
		}, 1},
		"switch open": {func(d *Deck) {
			d.Volts("s", "0", 2.9, 0)
			d.Resistor("s", "x", 90)
			d.Switch("x", "0", "s", "0", 3, 10)
		}, 2.9},
		"one way": {func(d *Deck) {
			d.Volts("s", "0", 11.5, 0)
			d.Resistor("s", "x", 90)
			d.OneWay("x", "0", "s", "0", 3, 1.5, 10)
		}, 2.5},
		"the other way": {func(d *Deck) {
			d.Volts("s", "0", 11.5, 0)
			d.Volts("m", "0", -5, 0)
			d.Resistor("m", "x", 90)
			d.OneWay("x", "0", "s", "0", 3, 1.5, 10)
		}, -5},
		"op-amp": {func(d *Deck) {
			d.Volts("v", "0", 5, 0)
			d.Volts("in", "0", 2, 0)
			d.Amplifier("in", "x", "x", "v", "0", 0.1, 0.1)
		}, 2 - 2/1e5},
		"op-amp at its limit": {func(d *Deck) {
			d.Volts("v", "0", 5, 0)
			d.Volts("in", "0", 7, 0)
			d.Amplifier("in", "x", "x", "v", "0", 0.1, 0.2)
		}, 4.9},
		"op-amp stuck low": {func(d *Deck) {
			d.Volts("v", "0", 5, 0)
			d.Stuck("x", "v", "0", 0.1, 0.2, false)
			d.Resistor("v", "x", 990)
		}, 0.2 + 4.8*0.01},
		"regulator": {func(d *Deck) {
			d.Volts("v", "0", 12, 100)
			d.Regulator("v", "x", "0", 5, 2)
			d.Resistor("x", "0", 250)
		}, 5},
		"regulator drops out": {func(d *Deck) {
			d.Volts("v", "0", 6, 0)
			d.Regulator("v", "x", "0", 5, 2)
			d.Resistor("x", "0", 250)
		}, 4},
		"what a regulator takes": {func(d *Deck) { // 20 mA through 100 Ω
			d.Volts("x", "0", 12, 100)
			d.Regulator("x", "o", "0", 5, 2)
			d.Resistor("o", "0", 250)
		}, 10},
		"optocoupler": {func(d *Deck) {
			d.Amps("a", "0", 1e-3)
			d.Volts("v", "0", 5, 0)
			d.Resistor("v", "x", 1e3)
			d.Coupler("a", "0", "x", "0", 1.1, 0.8)
		}, 4.2},
		"held node": {func(d *Deck) {
			d.Holding("x", "0", "fb", "0", 2.5)
			d.Resistor("x", "fb", 30e3)
			d.Resistor("fb", "0", 10e3)
		}, 10},
		"mains at rest": {func(d *Deck) { d.Mains("x", "0", 230, 0.1); d.Resistor("x", "0", 1e3) }, 0},
	} {
		d := &Deck{}
		c.draw(d)
		if got := real(op(t, d, "x")["v(x)"]); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("%s: %.6f V, want %.6f\n%s", name, got, c.want, d)
		}
	}
}

// TestExactLeakage: a plain diode of the simulator leaks less than the law backwards,
// an exact one as much: Is·(1 − exp(−V/nVt)).
func TestExactLeakage(t *testing.T) {
	t.Parallel()
	is, nvt := saturation(0.5), ideality*thermalVolts
	for volts, plain := range map[float64]float64{0.1: 0, 0.25: 0.004, 0.4: 0.0019} {
		for _, exact := range []bool{false, true} {
			d := &Deck{Exact: exact}
			d.Volts("s", "0", volts, 0)
			d.Resistor("s", "x", 1)
			d.Diode("0", "x", 0.5)
			d.Ground()
			a := Find(t).Run(t, []Task{{Deck: d, Asks: []Ask{{Solve: "op", Print: []string{"i(V1)"}}}}})[0][0]
			missing := 1 + real(a["i(V1)"])/(-is*math.Expm1(-volts/nvt))
			if want := map[bool]float64{false: plain}[exact]; math.Abs(missing-want) > 2e-4 {
				t.Errorf("at %g V, exact %t, %.4f of the leakage is missing, want %.4f", volts, exact, missing, want)
			}
		}
	}
}

// TestAsks: what is altered counts from then on, sine waves come as complex numbers,
// and a question without an answer gets none, not that of the one before.
func TestAsks(t *testing.T) {
	t.Parallel()
	good, bad := &Deck{}, &Deck{}
	good.Line("v9 s 0 DC 10 AC 1\nr9 s x 1000")
	good.Capacitor("x", "0", 1e-6, 0)
	good.Join("s", "x", "0")
	good.Resistor("x", "0", 1e3)
	bad.Volts("x", "0", 5, 0) // two supplies disagree
	bad.Volts("x", "0", 3, 0)
	ask := func(alter ...string) Ask { return Ask{Alter: alter, Solve: "op", Print: []string{"v(x)"}} }
	hertz := 1 / (2 * math.Pi * 500 * 1e-6)
	sine := Ask{Solve: fmt.Sprintf("ac lin 1 %.12g %.12g", hertz, hertz), Print: []string{"v(x)"}}
	answers := Find(t).Run(t, []Task{{Deck: good, Asks: []Ask{ask(), ask("r9 = 4000"), ask("v9 dc = -10", "r9 = 1000"), sine}},
		{Deck: bad, Asks: []Ask{ask(), ask()}}, {Deck: good, Asks: []Ask{ask()}}})
	for i, want := range [][]complex128{{5, 2, -5, 0.25 - 0.25i}, nil, {5}} {
		for k, a := range answers[i] {
			if want == nil {
				if a != nil {
					t.Errorf("a contradiction was answered with %v", a)
				}
			} else if cmplx.Abs(a["v(x)"]-want[k]) > 1e-6 {
				t.Errorf("task %d, question %d: %v, want %v", i, k, a, want[k])
			}
		}
	}
}

// TestIslands: what current cannot leave is tied to node 0, each island once.
func TestIslands(t *testing.T) {
	t.Parallel()
	d := &Deck{}
	d.Resistor("a", "0", 1)
	d.Resistor("p", "q", 1)
	d.Resistor("q", "r", math.Inf(1))
	d.Capacitor("a", "p", 1e-6, 0)
	if d.Joined("a", "p") || !d.Joined("p", "q") || d.Joined("q", "r") {
		t.Errorf("islands are wrong in\n%s", d)
	}
	before := strings.Count(d.String(), "\n")
	d.Ground()
	if ties := strings.Count(d.String(), "\n") - before; ties != 2 || !d.Joined("r", "a") || !d.Joined("q", "0") {
		t.Errorf("%d ties, want 2, in\n%s", ties, d)
	}
	if some := d.Some(); some != "a" {
		t.Errorf("some node: %s", some)
	}
	for want, pair := range map[string][2]string{"v(a)": {"a", "0"}, "(-v(b))": {"0", "b"}, "(v(a)-v(b))": {"a", "b"}, "0": {"a", "a"}} {
		if got := Across(pair[0], pair[1]); got != want {
			t.Errorf("across %v: %s, want %s", pair, got, want)
		}
	}
}

// bystander is a test that notes how it was ended.
type bystander struct {
	testing.TB
	ended string
}

func (b *bystander) Helper()       {}
func (b *bystander) Fatal(...any)  { b.ended = "failed"; panic(b) }
func (b *bystander) Skip(a ...any) { b.ended = "skipped: " + fmt.Sprint(a...); panic(b) }

// TestMissing: without a simulator a test fails in CI, and elsewhere says that it did
// not run.
func TestMissing(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	for ci, want := range map[string]string{"true": "failed", "": "skipped: ngspice is not installed"} {
		t.Setenv("CI", ci)
		b := &bystander{TB: t}
		func() {
			defer func() { _ = recover() }()
			Find(b)
		}()
		if !strings.HasPrefix(b.ended, want) {
			t.Errorf("CI=%q: %q, want %q", ci, b.ended, want)
		}
	}
}
