package profiles

import (
	"math"
	"testing"

	"ohmstead/internal/circuit"
	"ohmstead/internal/profile"
)

// stored gives the capacitance that a board keeps dangerous, in farads.
func stored(t *testing.T, p *profile.Profile) float64 {
	t.Helper()
	sum := 0.0
	for _, ref := range p.StoredEnergy {
		part, ok := p.Part(ref)
		if !ok {
			t.Fatalf("%s stores energy in %s, which it has not", p.ID, ref)
		}
		sum += part.Param("value")
	}
	return sum
}

// unaided gives the resistance through which the board's own parts discharge
// its bus: a source of some volts at the bus of the unpowered board, and the
// current that it gives.
func unaided(t *testing.T, p *profile.Profile, plus, minus string) float64 {
	t.Helper()
	b, err := p.Board(profile.Cold)
	if err != nil {
		t.Fatal(err)
	}
	red, black, ok := b.Nodes(plus, minus)
	if !ok {
		t.Fatalf("%s has no %s or %s", p.ID, plus, minus)
	}
	const behind = 1000.0
	b.Solver.Attach(circuit.Probe{Red: red, Black: black, Volts: 200, Ohms: behind})
	if err := b.Solver.Solve(); err != nil {
		t.Fatal(err)
	}
	v := b.Solver.Volts(red, black)
	return v / ((200 - v) / behind)
}

// TestStoredEnergy holds what the boards keep, how long they keep it, and how
// long a resistor takes, to figures worked out before by hand:
// E = CV²/2, t = RC·ln(V₀/V₁).
func TestStoredEnergy(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		id, plus, minus      string
		volts, joules        float64
		minutes              float64 // to 60 V through the board's own parts
		toolSeconds          float64 // to 5 V through 2.2 kΩ
		part                 string  // of the chain
		partVolts, milliwatt float64
	}{
		{"sedge-d", "p", "com", 323.6, 51.8, 4.4, 9.1, "R11", 53, 24},
		{"sedge-f", "p", "com", 323.6, 49.2, 36, 8.6, "R11", 161, 38},
		{"packhorse-a", "p", "com", 385.2, 26.7, 34, 3.4, "R11", 128, 16.3},
		{"packhorse-c", "p", "com", 385.2, 28.9, 36, 3.7, "R11", 191, 24.4},
	} {
		p := shipped(t, c.id, "")
		farads := stored(t, p)
		near(t, c.id+" joules", farads*c.volts*c.volts/2, c.joules, 0.06)
		near(t, c.id+" minutes to 60 V", unaided(t, p, c.plus, c.minus)*farads*math.Log(c.volts/60)/60, c.minutes, 0.6)
		near(t, c.id+" seconds through 2.2 kΩ to 5 V", 2200*farads*math.Log(c.volts/5), c.toolSeconds, 0.06)
		v, ohms := across(t, p, c.part)
		near(t, c.id+" volts across "+c.part, v, c.partVolts, 0.6)
		near(t, c.id+" mW in "+c.part, v*v/ohms*1000, c.milliwatt, 0.6)
	}
}

// across gives the volts across a part of the powered board, and its ohms.
func across(t *testing.T, p *profile.Profile, ref string) (volts, ohms float64) {
	t.Helper()
	b, err := p.Board("live")
	if err != nil {
		t.Fatal(err)
	}
	part, ok := p.Part(ref)
	if !ok {
		t.Fatalf("%s has no %s", p.ID, ref)
	}
	red, black, _ := b.Nodes(part.Pins[0].Node, part.Pins[1].Node)
	return math.Abs(b.Solver.Volts(red, black)), part.Param("value")
}

// TestZeroCrossString: at 230 V rms two resistors in series share the mains; the
// junctions between them take about a volt and are left out of the figures.
func TestZeroCrossString(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		id                string
		milliamps, powerW float64
	}{{"hearth-2", 3.48, 0.40}, {"hearth-3", 2.45, 0.28}} {
		p := shipped(t, c.id, "")
		sum, each := 0.0, 0.0
		for _, ref := range []string{"R1", "R2"} {
			part, ok := p.Part(ref)
			if !ok {
				t.Fatalf("%s has no %s", c.id, ref)
			}
			each = part.Param("value")
			sum += each
		}
		i := 230 / sum
		near(t, c.id+" mA", i*1000, c.milliamps, 0.006)
		near(t, c.id+" W each", i*i*each, c.powerW, 0.006)
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within {
		t.Errorf("%s: %.4g, want %.4g within %.2g", what, got, want, within)
	}
}
