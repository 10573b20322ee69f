package prior

import (
	"math"
	"testing"

	"ohmstead/internal/profile"
)

// The shares of every class sum to at most 1, and every mode that a kind has is
// one of its class's in every table.
func TestShares(t *testing.T) {
	t.Parallel()
	for _, table := range Tables() {
		for c, s := range published[table] {
			sum := 0.0
			for _, x := range s {
				sum += x
			}
			if sum > 1+1e-9 || sum < 0.75 {
				t.Errorf("%s, %s: shares sum to %g", table, c, sum)
			}
			if rates[c] == 0 {
				t.Errorf("%s has no rate", c)
			}
		}
		for kind := range classes {
			for _, mode := range kind.Modes() {
				if Weight(&profile.Part{Kind: kind}, mode, table) <= 0 {
					t.Errorf("%s: %s %s has no weight", table, kind, mode)
				}
			}
		}
		for _, p := range []profile.Part{
			{Kind: profile.Resistor}, {Kind: profile.Resistor, Rating: profile.Rating{Watts: 2}},
			{Kind: profile.Capacitor, Params: map[string]float64{"value": 100e-9}},
			{Kind: profile.Capacitor, Params: map[string]float64{"value": 330e-6}},
			{Kind: profile.Capacitor, Package: "X2", Params: map[string]float64{"value": 47e-9}},
		} {
			for _, mode := range p.Kind.Modes() {
				if Weight(&p, mode, table) <= 0 {
					t.Errorf("%s: %s %s has no weight", table, classOf(&p), mode)
				}
			}
		}
	}
}

// MIL-HDBK-217F's order of rates, ground fixed, which survives a mistyped digit:
// field-effect transistor > electrolytic ≈ optocoupler > diode > Zener ≈ linear
// circuit > connector ≈ fuse > ceramic > film resistor > small bipolar.
func TestRateOrder(t *testing.T) {
	t.Parallel()
	order := []class{mosfet, electrolytic, optocoupler, diode, zener, linear, link, fuse, ceramic, filmResistor, bipolar}
	for i := 1; i < len(order); i++ {
		if rates[order[i]] > rates[order[i-1]]*1.05 {
			t.Errorf("%s fails more often than %s", order[i], order[i-1])
		}
	}
}

// What the sources agree on: a film resistor opens first, bipolar and
// field-effect transistors short first, an electrolytic shorts before it opens.
func TestSourcesAgreeOnOrder(t *testing.T) {
	t.Parallel()
	for _, table := range Tables() {
		first := func(p profile.Part, more, less profile.Mode) {
			if Weight(&p, more, table) <= Weight(&p, less, table) {
				t.Errorf("%s: %s is not %s before %s", table, p.Kind, more, less)
			}
		}
		first(profile.Part{Kind: profile.Resistor}, profile.ModeOpen, profile.ModeHigh)
		first(profile.Part{Kind: profile.Resistor}, profile.ModeHigh, profile.ModeLow)
		first(profile.Part{Kind: profile.NPN}, profile.ModeShort, profile.ModeOpen)
		first(profile.Part{Kind: profile.NMOS}, profile.ModeShort, profile.ModeOpen)
		first(profile.Part{Kind: profile.Capacitor, Params: map[string]float64{"value": 1e-3}}, profile.ModeShort, profile.ModeOpen)
	}
}

func TestCount(t *testing.T) {
	t.Parallel()
	sum := 0.0
	for k := range MostFaults + 1 {
		sum += Count(k)
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("the counts sum to %g", sum)
	}
}

func TestStress(t *testing.T) {
	t.Parallel()
	p := profile.Part{Rating: profile.Rating{Volts: 200}}
	for volts, want := range map[float64]float64{0: 1, 100: 1.5, -100: 1.5, 200: 3, 500: 3} {
		if got := Stress(&p, volts); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g V of 200 V: %g, want %g", volts, got, want)
		}
	}
	if Stress(&profile.Part{Package: "0603"}, 60) <= Stress(&profile.Part{Package: "1206"}, 60) {
		t.Error("a small package is not stressed more")
	}
}

func TestCap(t *testing.T) {
	t.Parallel()
	w := []float64{10, 1, 0.01, 0}
	Cap(w)
	for i, want := range []float64{10, 1, 0.5, 0} {
		if w[i] != want {
			t.Errorf("weight %d is %g, want %g", i, w[i], want)
		}
	}
}
