package circuit

import (
	"errors"
	"flag"
	"math"
	"os"
	"testing"
)

// TestMain lets the property tests try two thousand circuits each.
func TestMain(m *testing.M) {
	flag.Parse()
	if f := flag.Lookup("rapid.checks"); f.Value.String() == f.DefValue {
		f.Value.Set("2000")
	}
	os.Exit(m.Run())
}

// close to a relative tolerance.
func within(got, want, rel float64) bool {
	return math.Abs(got-want) <= rel*math.Abs(want)
}

func mustSolve(t *testing.T, c *Circuit) *Solver {
	t.Helper()
	s := NewSolver(c)
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	return s
}

// builder writes small circuits by node names.
type builder struct {
	*Circuit
	n int
}

func build() *builder {
	b := &builder{Circuit: New()}
	b.Datum(b.Node("0"))
	return b
}

func (b *builder) r(x, y string, ohms float64) *Resistor {
	r := &Resistor{Name: "R(" + x + "," + y + ")", A: b.Node(x), B: b.Node(y), Ohms: ohms}
	b.Add(r)
	return r
}

func (b *builder) v(plus, minus string, volts float64) *Source {
	s := &Source{Name: "V(" + plus + ")", Plus: b.Node(plus), Minus: b.Node(minus), Volts: volts}
	b.Add(s)
	return s
}

func (b *builder) i(out, in string, amps, most float64) *Source {
	s := b.v(out, in, most)
	s.Limit = amps
	return s
}

func (b *builder) d(anode, cathode string, forward float64) *Junction {
	d := NewJunction("D("+anode+")", b.Node(anode), b.Node(cathode), forward)
	b.Add(d)
	return d
}

func (b *builder) at(t *testing.T, s *Solver, node, zero string) float64 {
	t.Helper()
	return s.Volts(b.Node(node), b.Node(zero))
}

// TestTextbook solves worked examples: Alexander and Sadiku, Fundamentals of
// Electric Circuits, ex. 4.8 and 4.18; Kuphaldt, Lessons in Electric Circuits
// (DC); and, from memory, an instrumentation text's bridge. The figures were
// recomputed.
func TestTextbook(t *testing.T) {
	t.Parallel()
	t.Run("Thévenin with two sources", func(t *testing.T) {
		for _, load := range []struct{ ohms, amps float64 }{{6, 3}, {16, 1.5}, {36, 0.75}} {
			b := build()
			b.v("s", "0", 32)
			b.r("s", "n", 4)
			b.r("n", "0", 12)
			b.i("n", "0", 2, 1e3)
			b.r("n", "t", 1)
			b.r("t", "0", load.ohms)
			s := mustSolve(t, b.Circuit)
			if got := b.at(t, s, "t", "0") / load.ohms; !within(got, load.amps, 1e-6) {
				t.Errorf("%g Ω: %.9f A, want %g", load.ohms, got, load.amps)
			}
		}
	})
	t.Run("two batteries", func(t *testing.T) {
		b := build()
		b.v("s", "0", 28)
		b.r("s", "n", 4)
		b.r("n", "m", 1)
		b.v("m", "0", 7)
		b.r("n", "0", 2)
		s := mustSolve(t, b.Circuit)
		if got := b.at(t, s, "n", "0"); !within(got, 8, 1e-12) {
			t.Errorf("%.12f V, want 8", got)
		}
	})
	t.Run("bridge", func(t *testing.T) {
		b := build()
		supply := b.v("s", "0", 220)
		b.r("s", "a", 3000)
		b.r("a", "0", 1000)
		b.r("s", "b", 400)
		b.r("b", "0", 600)
		b.r("a", "b", 40)
		s := mustSolve(t, b.Circuit)
		va, vb := b.at(t, s, "a", "0"), b.at(t, s, "b", "0")
		i := s.Amps(0)
		if !within(va, 111.06796, 1e-7) || !within(vb, 114.05825, 1e-7) || !within((va-vb)/40, -74.757e-3, 1e-5) || !within(i, 301.165e-3, 2e-6) {
			t.Errorf("nodes %.6f and %.6f V, galvanometer %.6f A, %s %.6f A", va, vb, (va-vb)/40, supply.Name, i)
		}
	})
	t.Run("bridge with a misprint", func(t *testing.T) {
		// Practice problem 4.18 prints 64 mA; its own Thévenin figures give 61.92.
		b := build()
		b.v("s", "0", 16)
		b.r("s", "a", 20)
		b.r("a", "0", 60)
		b.r("s", "b", 30)
		b.r("b", "0", 40)
		b.r("a", "b", 14)
		s := mustSolve(t, b.Circuit)
		if got := b.at(t, s, "a", "b") / 14; !within(got, 2.8571428571/(32.1428571429+14), 1e-9) || !within(got, 61.92e-3, 1e-4) {
			t.Errorf("%.6f A", got)
		}
	})
	t.Run("sensitive bridge", func(t *testing.T) {
		b := build()
		b.v("s", "0", 1.5)
		b.r("s", "a", 100)
		b.r("a", "0", 41)
		b.r("s", "b", 1000)
		b.r("b", "0", 400)
		b.r("a", "b", 50)
		s := mustSolve(t, b.Circuit)
		if got := abs(b.at(t, s, "a", "b")) / 50; !within(got, 20.8304e-6, 1e-5) {
			t.Errorf("%.6g A, want 20.8304 µA", got)
		}
	})
	t.Run("balanced bridge", func(t *testing.T) {
		b := build()
		b.v("s", "0", 10)
		b.r("s", "a", 1e3)
		b.r("a", "0", 2e3)
		b.r("s", "b", 47e3)
		b.r("b", "0", 94e3)
		b.r("a", "b", 1)
		s := mustSolve(t, b.Circuit)
		if got := b.at(t, s, "a", "b"); abs(got) > 1e-12 {
			t.Errorf("%g V across the detector, want none", got)
		}
	})
	t.Run("delta and star", func(t *testing.T) {
		b := build()
		b.r("1", "2", 25) // opposite to corner 3
		b.r("2", "3", 15)
		b.r("3", "1", 10)
		s := NewSolver(b.Circuit)
		for _, tt := range []struct {
			a, b string
			want float64
		}{{"1", "2", 5 + 7.5}, {"2", "3", 7.5 + 3}, {"3", "1", 3 + 5}} {
			if got := ohmmeter(t, s, b.Node(tt.a), b.Node(tt.b)); !within(got, tt.want, 1e-12) {
				t.Errorf("%s–%s: %.12f Ω, want %g", tt.a, tt.b, got, tt.want)
			}
		}
	})
}

// TestDiodePoint compares operating points with root searches, the Lambert W
// form and a circuit simulator, which agree (Sedra and Smith's two examples by
// their own hand iteration).
func TestDiodePoint(t *testing.T) {
	t.Parallel()
	const vt = 25.692579e-3 // 25 °C, CODATA
	per := func(volts, decade float64) (is, nvt float64) {
		nvt = decade / math.Ln10
		return 1e-3 * math.Exp(-volts/nvt), nvt
	}
	is5, n5 := per(0.7, 0.1)
	is6, n6 := per(0.7, 0.06)
	tests := []struct {
		name            string
		supply, r       float64
		is, nvt         float64
		volts, milliamp float64
		rel             float64
	}{
		{"silicon at 25 °C", 5, 1e3, 1e-14, vt, 0.6882982516, 4.3117017484, 1e-8},
		{"small-signal model", 5, 1e3, 2.52e-9, 1.752 * vt, 0.6464929628, 4.3535070370, 1e-8},
		{"25 mV", 5, 1e3, 1e-14, 0.025, 0.6698509497, 4.3301490503, 1e-8},
		{"12 V", 12, 4.7e3, 1e-14, vt, 0.6733519281, 2.4099251217, 1e-8},
		{"0.1 V a decade", 5, 1e3, is5, n5, 0.7627088, 4.2372912, 1e-6},
		{"60 mV a decade", 5, 1e3, is6, n6, 0.7377782, 4.2622218, 1e-6},
	}
	for _, tt := range tests {
		b := build()
		b.v("s", "0", tt.supply)
		b.r("s", "d", tt.r)
		b.Add(&Junction{Name: "D", Anode: b.Node("d"), Cathode: b.Node("0"), Is: tt.is, NVt: tt.nvt})
		s := mustSolve(t, b.Circuit)
		v := b.at(t, s, "d", "0")
		if !within(v, tt.volts, tt.rel) || !within((tt.supply-v)/tt.r*1e3, tt.milliamp, tt.rel) {
			t.Errorf("%s: %.10f V, %.10f mA, want %.10f and %.10f", tt.name, v, (tt.supply-v)/tt.r*1e3, tt.volts, tt.milliamp)
		}
	}
}

// TestLaws holds every bent law to its defining point at 1 mA.
func TestLaws(t *testing.T) {
	t.Parallel()
	drive := func(e func(b *builder)) float64 {
		b := build()
		b.i("x", "0", 1e-3, 1e3)
		e(b)
		return b.at(t, mustSolve(t, b.Circuit), "x", "0")
	}
	tests := []struct {
		name string
		add  func(b *builder)
		want float64
	}{
		{"junction", func(b *builder) { b.d("x", "0", 0.6) }, 0.6 + 1e-3*SeriesOhms},
		{"two in series", func(b *builder) { b.d("x", "m", 0.6); b.d("m", "0", 0.46) }, 1.06 + 2e-3*SeriesOhms},
		{"Zener backwards", func(b *builder) { b.d("0", "x", 0.65).Breakdown = 5.1 }, 5.1 + 1e-3*SeriesOhms},
		{"Zener forwards", func(b *builder) { b.d("x", "0", 0.65).Breakdown = 5.1 }, 0.65 + 1e-3*SeriesOhms},
		{"varistor", func(b *builder) { b.Add(&Varistor{A: b.Node("x"), B: b.Node("0"), Volts: 430}) }, 430},
		{"varistor turned", func(b *builder) { b.Add(&Varistor{A: b.Node("0"), B: b.Node("x"), Volts: 430}) }, 430},
		{"base–emitter", func(b *builder) {
			b.Add(NewTransistor("Q", b.Node("x"), b.Node("open"), b.Node("0"), 100, 0.65))
		}, 0.65},
	}
	for _, tt := range tests {
		if got := drive(tt.add); math.Abs(got-tt.want) > 1e-5 {
			t.Errorf("%s drops %.6f V at 1 mA, want %.6f", tt.name, got, tt.want)
		}
	}
}

// TestTransistor: current gain in the active region, the drop when saturated,
// and PNP as the mirror image of NPN.
func TestTransistor(t *testing.T) {
	t.Parallel()
	solve := func(pnp bool, base, load float64) (collector, beta float64) {
		sign := 1.0
		if pnp {
			sign = -1
		}
		b := build()
		b.v("vcc", "0", sign*12)
		b.r("vcc", "b", base)
		b.r("vcc", "c", load)
		q := NewTransistor("Q", b.Node("b"), b.Node("c"), b.Node("0"), 100, 0.65)
		q.PNP = pnp
		b.Add(q)
		s := mustSolve(t, b.Circuit)
		ib := (sign*12 - b.at(t, s, "b", "0")) / base
		vc := b.at(t, s, "c", "0")
		return sign * vc, (sign*12 - vc) / load / ib
	}
	if vc, beta := solve(false, 1e6, 1e3); !within(beta, 100, 1e-3) || vc < 10 {
		t.Errorf("active: collector %.3f V, gain %.4f, want 100", vc, beta)
	}
	if vc, beta := solve(false, 1e4, 1e4); vc < 0.001 || vc > 0.15 || beta > 2 {
		t.Errorf("saturated: collector %.4f V, gain %.3f", vc, beta)
	}
	n, bn := solve(false, 1e5, 1e3)
	p, bp := solve(true, 1e5, 1e3)
	if !within(n, p, 1e-9) || !within(bn, bp, 1e-9) {
		t.Errorf("NPN %.9f V gain %.6f, PNP %.9f V gain %.6f", n, bn, p, bp)
	}
}

// TestUnsolved: what contradicts itself is an error that names the place, never
// a number.
func TestUnsolved(t *testing.T) {
	t.Parallel()
	b := build()
	b.v("rail", "0", 5)
	b.v("rail", "0", 3.3)
	b.r("rail", "0", 1e3)
	err := NewSolver(b.Circuit).Solve()
	var u *Unsolved
	if !errors.As(err, &u) || len(u.Nodes) == 0 || u.Nodes[0] != "rail" {
		t.Errorf("two ideal sources on one rail: %v", err)
	}
}

// TestNTC: the beta law, table recomputed from it; beta from two resistances of
// a common part, 10 kΩ at 25 °C and 1070.3 Ω at 85 °C, is 3977.
func TestNTC(t *testing.T) {
	t.Parallel()
	tests := []struct{ celsius, b3435, b3950, b3977 float64 }{
		{-40, 248276.5, 401859.7, 412134.6},
		{-20, 77522.5, 105384.7, 107094.9},
		{0, 28704.3, 33620.6, 33900.4},
		{10, 18410.4, 20174.6, 20271.6},
		{20, 12171.4, 12535.3, 12554.7},
		{25, 10000, 10000, 10000},
		{50, 4101.2, 3588.2, 3563.1},
		{85, 1451.3, 1086.7, 1070.3},
		{100, 987.0, 697.5, 684.9},
	}
	for _, tt := range tests {
		for beta, want := range map[float64]float64{3435: tt.b3435, 3950: tt.b3950, 3977: tt.b3977} {
			if got := NTC(10e3, beta, tt.celsius); math.Abs(got-want) > 0.06 {
				t.Errorf("β %g at %g °C: %.2f Ω, want %.1f", beta, tt.celsius, got, want)
			}
		}
	}
	if beta := math.Log(10000/1070.3) / (1/298.15 - 1/358.15); math.Abs(beta-3977) > 0.5 {
		t.Errorf("β of 10 kΩ and 1070.3 Ω: %.1f", beta)
	}
}
