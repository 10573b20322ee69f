package circuit

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"
)

// TestImpedance compares with the closed forms of single branches and with
// their sums.
func TestImpedance(t *testing.T) {
	t.Parallel()
	const hertz = 100.0
	omega := 2 * math.Pi * hertz
	reactance := func(c float64) complex128 { return complex(0, -1/(omega*c)) }
	parallel := func(a, b complex128) complex128 { return a * b / (a + b) }
	tests := []struct {
		name  string
		build func(b *builder)
		want  complex128
	}{
		{"a capacitor with its ESR", func(b *builder) { b.c("x", "y", 330e-6, 0.2) }, 0.2 + reactance(330e-6)},
		{"three in parallel", func(b *builder) {
			for range 3 {
				b.c("x", "y", 330e-6, 0.3)
			}
		}, 0.1 + reactance(990e-6)},
		{"beside a resistor", func(b *builder) { b.c("x", "y", 100e-9, 0); b.r("x", "y", 6.8e3) }, parallel(reactance(100e-9), 6.8e3)},
		{"two in series", func(b *builder) { b.c("x", "m", 1e-6, 0); b.c("m", "y", 2e-6, 0) }, reactance(2e-6 / 3)},
		{"beside junctions, which are off", func(b *builder) { b.c("x", "y", 1e-6, 0); b.d("x", "y", 0.3); b.d("y", "x", 0.3) }, reactance(1e-6)},
		{"a resistor", func(b *builder) { b.r("x", "y", 47) }, 47},
	}
	for _, tt := range tests {
		b := build()
		tt.build(b)
		s := mustSolve(t, b.Circuit)
		z, ok := s.Impedance(b.Node("x"), b.Node("y"), hertz)
		if !ok || cmplx.Abs(z-tt.want) > 1e-6*cmplx.Abs(tt.want) {
			t.Errorf("%s: %.6g, %t, want %.6g", tt.name, z, ok, tt.want)
		}
	}
	b := build()
	b.c("x", "y", 1e-6, 0)
	b.d("y", "far", 0.6)
	b.r("far", "0", 1e3)
	s := mustSolve(t, b.Circuit)
	if z, ok := s.Impedance(b.Node("x"), b.Node("far"), hertz); ok {
		t.Errorf("through a junction that is off: %.6g, want no path", z)
	}
}

func (b *builder) c(x, y string, farads, esr float64) {
	b.Add(&Capacitor{Name: "C", A: b.Node(x), B: b.Node(y), Farads: farads, ESR: esr})
}

// TestACDivider: resistive and capacitive dividers on 230 V, and the loading by
// the meter.
func TestACDivider(t *testing.T) {
	t.Parallel()
	b := build()
	mains := b.v("l", "0", 0)
	mains.AC, mains.Hertz, mains.Ohms = 230, 50, 0.1
	b.r("l", "a", 33e3)
	b.r("a", "0", 33e3)
	b.c("l", "b", 47e-9, 0)
	b.r("b", "0", 100e3)
	s := mustSolve(t, b.Circuit)
	if v := b.at(t, s, "a", "0"); v != 0 {
		t.Errorf("a DC check sees %g V, want 0", v)
	}
	x := 1 / (2 * math.Pi * 50 * 47e-9)
	r := 1 / (1/100e3 + 1/10e6)
	tests := []struct {
		a, b string
		want float64
	}{
		{"l", "0", 230},
		{"a", "0", 115 * 10e6 / (10e6 + 16.5e3)},
		{"b", "0", 230 * r / math.Hypot(r, x)},
		{"a", "a", 0},
	}
	for _, tt := range tests {
		v, ok := s.ACVolts(b.Node(tt.a), b.Node(tt.b), 10e6)
		if !ok || !within(v, tt.want, 1e-4) && v != tt.want {
			t.Errorf("%s–%s: %.5f V %t, want %.5f", tt.a, tt.b, v, ok, tt.want)
		}
	}
}

// TestACAboutThePoint: an op-amp stage passes the alternating part by its gain,
// and a conducting junction by its slope; sources of two frequencies add by
// their squares.
func TestACAboutThePoint(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("v5", "0", 5)
	b.v("ref", "0", 2.5)
	in := b.v("in", "ref", 0)
	in.AC, in.Hertz = 0.01, 50
	b.r("in", "m", 1e3)
	b.r("m", "out", 10e3)
	b.Add(&Amplifier{Name: "U", Plus: b.Node("ref"), Minus: b.Node("m"), Out: b.Node("out"), SupplyPlus: b.Node("v5"), SupplyMinus: b.Node("0"), Gain: 1e5, OutOhms: 10})
	d := b.d("d", "0", 0.6)
	b.r("v5", "d", 4.4e3)
	second := b.v("w", "0", 0)
	second.AC, second.Hertz = 0.02, 400
	b.r("w", "d", 10e3)
	s := mustSolve(t, b.Circuit)
	if v, ok := s.ACVolts(b.Node("out"), 0, 10e6); !ok || !within(v, 0.1, 1e-3) {
		t.Errorf("the stage gives %.6f V, want 0.1", v)
	}
	_, g := d.at(s.Volts(b.Node("d"), 0))
	want := 0.02 / 10e3 / (g + 1/4.4e3 + 1/10e3)
	if v, ok := s.ACVolts(b.Node("d"), 0, 1e12); !ok || !within(v, want, 1e-3) {
		t.Errorf("the junction shows %.6g V, want %.6g", v, want)
	}
	b.r("out", "d", 1e12) // so that both frequencies meet
	s.Rebuild()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	if v, ok := s.ACVolts(b.Node("out"), b.Node("d"), 1e12); !ok || !within(v, math.Hypot(0.1, want), 2e-3) {
		t.Errorf("two frequencies show %.6g V, want %.6g", v, math.Hypot(0.1, want))
	}
}

// TestACAgainstDC: at a very low frequency a network of resistors with
// capacitors in it has the impedance of its resistors, at a very high one that
// of the network with the capacitors shorted.
func TestACAgainstDC(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c, rs := network(t)
		a, b := rs[0].A, rs[0].B
		cap := rapid.SampledFrom(rs).Draw(t, "beside")
		c.Add(&Capacitor{Name: "C", A: cap.A, B: cap.B, Farads: 1e-6})
		s := NewSolver(c)
		dc := effective(t, s, rs[0])
		if z, ok := s.Impedance(a, b, 1e-9); !ok || cmplx.Abs(z-complex(dc, 0)) > 1e-4*dc {
			t.Errorf("slowly %.6g Ω, at direct current %.6g", z, dc)
		}
		cap.Ohms = 1e-6
		shorted := effective(t, s, rs[0])
		cap.Ohms = 1e6
		if z, ok := s.Impedance(a, b, 1e9); !ok || cmplx.Abs(z) > shorted*1.05+1e-2 {
			t.Errorf("fast %.6g Ω, shorted %.6g", z, shorted)
		}
	})
}
