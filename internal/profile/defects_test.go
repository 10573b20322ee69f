package profile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/quantity"
)

// reads gives what a board reads cold between x and the ground.
func reads(t *testing.T, b *Board) float64 {
	t.Helper()
	x, gnd, _ := b.Nodes("x", "gnd")
	r, err := meter.Default().ReadResistance(b.Solver, x, gnd)
	if err != nil {
		t.Fatal(err)
	}
	if r.Over {
		return math.Inf(1)
	}
	return r.Value
}

// TestResize: a part that is given a resistance reads as the board with that
// defect, whatever its tolerance, and 0 gives it its own value back.
func TestResize(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		kind Kind
		mode Mode // "" for the part's own resistance
	}{
		{Resistor, ""}, {Thermistor, ""}, {Inductor, ""}, {Fuse, ""}, {Link, ""},
		{Capacitor, ModeLeaky}, {Diode, ModeLeaky}, {Varistor, ModeShort}, {InputPin, ModeLeaky}, {NPN, ModeShort}, {Optocoupler, ModeOutputShort},
	} {
		p := little(t, fmt.Sprintf(kindBoard, kindBoards[tt.kind]))
		var own []Defect
		if tt.mode != "" {
			own = []Defect{{Part: "X1", Mode: tt.mode, Size: 2e3}}
		}
		b := board(t, p, Cold, own...)
		before := reads(t, b)
		if !b.Resize("X1", 50e3) {
			t.Errorf("%s cannot be resized", tt.kind)
			continue
		}
		for i := range b.Params {
			b.Set(i, 0)
		}
		mode := tt.mode
		if mode == "" {
			mode = ModeOpen
		}
		want := reads(t, board(t, p, Cold, Defect{Part: "X1", Mode: mode, Size: 50e3}))
		if got := reads(t, b); math.Abs(got-want) > 1e-9*want {
			t.Errorf("%s reads %g Ω, the board with the defect %g", tt.kind, got, want)
		}
		if tt.mode == "" {
			b.Resize("X1", 0)
			if got := reads(t, b); math.Abs(got-before) > 1e-9*before {
				t.Errorf("%s reads %g Ω again, before %g", tt.kind, got, before)
			}
		}
	}
	if board(t, little(t, fmt.Sprintf(kindBoard, kindBoards[Opamp])), Cold).Resize("X1", 1) {
		t.Error("an op-amp was resized")
	}
}

// TestSourceTolerances: every sort of source moves what it says by its tolerance,
// and is named as the owner.
func TestSourceTolerances(t *testing.T) {
	t.Parallel()
	const text = `
parts:
  R1: {kind: resistor, pins: [a, fb], value: 30k, tolerance: 0 %%}
  R2: {kind: resistor, pins: [fb, gnd], value: 10k, tolerance: 0 %%}
states:
  on: {sources: [{name: supply, plus: a, minus: gnd, tolerance: 10 %%, %s}]}
`
	for source, want := range map[string]float64{
		"volts: 20 V":                                22,
		"amps: 1 mA, at_most: 60":                    44,
		"holds: {node: fb, volts: 5 V}, at_most: 60": 22,
		"volts_ac: 12 V, frequency: 50":              13.2 * 40e3 / 40000.1,
	} {
		b := board(t, little(t, fmt.Sprintf(text, source)), "on")
		if len(b.Owners) != 1 || b.Owners[0] != (Owner{Source: "supply"}) {
			t.Fatalf("%s: owners %+v", source, b.Owners)
		}
		b.Set(0, 1)
		a, gnd, _ := b.Nodes("a", "gnd")
		m := *meter.Default()
		m.DCVolts.InputResistance, m.ACVolts.InputResistance = 1e15, 1e15
		read := m.ReadDCVolts
		if strings.HasPrefix(source, "volts_ac") {
			read = m.ReadACVolts
		}
		if r, err := read(b.Solver, a, gnd); err != nil || !near(r.Value, want, 1e-4) {
			t.Errorf("%s at +10 %% reads %.5f V %v, want %g", source, r.Value, err, want)
		}
	}
}

// TestBridgeDefects: a defect concerns the diode that it names, counted ac1–plus,
// ac2–plus, minus–ac1, minus–ac2, and no other.
func TestBridgeDefects(t *testing.T) {
	t.Parallel()
	p := little(t, "\nparts:\n  X1: {kind: bridge, pins: {ac1: a, ac2: b, plus: p, minus: gnd}}\n")
	ends := [][2]string{{"a", "p"}, {"b", "p"}, {"gnd", "a"}, {"gnd", "b"}}
	for broken := range ends {
		for _, mode := range []Mode{ModeOpen, ModeShort} {
			b := board(t, p, Cold, Defect{Part: "X1", Mode: mode, Size: 0.5, Diode: broken})
			for i, e := range ends {
				red, black, _ := b.Nodes(e[0], e[1])
				forwards, err1 := meter.Default().ReadDiode(b.Solver, red, black)
				backwards, err2 := meter.Default().ReadDiode(b.Solver, black, red)
				if err1 != nil || err2 != nil {
					t.Fatal(err1, err2)
				}
				sound := near(forwards.Value, 0.55, 1e-3) && !forwards.Over
				short := near(backwards.Value, 0.5e-3, 1e-6) && !backwards.Over
				if sound != (i != broken) || short != (i == broken && mode == ModeShort) {
					t.Errorf("diode %d %s: diode %d reads %+v and %+v", broken, mode, i, forwards, backwards)
				}
			}
		}
	}
}

// TestDefectsTogether: what fails together on one part, or on two, is all there.
func TestDefectsTogether(t *testing.T) {
	t.Parallel()
	p := little(t, `
parts:
  R1: {kind: resistor, pins: [x, m], value: 10k}
  C1: {kind: capacitor, pins: [m, gnd], value: 1u}
`)
	b := board(t, p, Cold, Defect{Part: "R1", Mode: ModeHigh, Size: 2}, Defect{Part: "C1", Mode: ModeLeaky, Size: 5e3}, Defect{Part: "C1", Mode: ModeTired, Size: 4})
	if got := reads(t, b); !near(got, 25e3, 1e-3) {
		t.Errorf("20 kΩ and a leak of 5 kΩ read %g", got)
	}
	x, gnd, _ := b.Nodes("m", "gnd")
	// 250 nF and 1.5 Ω beside 5 kΩ.
	r, err := meter.Default().ReadESR(b.Solver, x, gnd)
	z := 1 / (1/complex(1.5, -1/(2*math.Pi*100e3*250e-9)) + 1/complex(5e3, 0))
	if err != nil || !near(r.Value, real(z), 1e-9) {
		t.Errorf("ESR %g Ω %v, want %g", r.Value, err, real(z))
	}
}

func TestWords(t *testing.T) {
	t.Parallel()
	for mode, want := range map[Mode]string{
		ModeShort: "shorted", ModeOutputShort: "output shorted", ModeOutputOpen: "output open", ModeLEDOpen: "LED open",
		ModeStuckHigh: "stuck high", ModeOpen: "open", ModeTired: "tired",
	} {
		if got := mode.Words(); got != want {
			t.Errorf("%s is called %q, want %q", mode, got, want)
		}
	}
	for measure, want := range map[Measure]quantity.Unit{
		MeasureResistance: quantity.Ohm, MeasureDiode: quantity.Volt, MeasureDCVolts: quantity.Volt, MeasureACVolts: quantity.Volt,
		MeasureCapacitance: quantity.Farad, MeasureESR: quantity.Ohm,
	} {
		if got := measure.Unit(); got != want {
			t.Errorf("%s is in %q, want %q", measure, got, want)
		}
	}
}
