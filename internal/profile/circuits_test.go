package profile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ohmstead/internal/meter"
)

// shipped reads a shipped profile.
func shipped(t testing.TB, id string) *Profile {
	t.Helper()
	p, err := LoadFile("../../profiles/" + id + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// little makes a profile from parts and states alone.
func little(t testing.TB, text string) *Profile {
	t.Helper()
	head := "format: ohmstead/board-profile/1\nid: little\ntitle: little\nground: gnd\n"
	p, err := Load("little.yaml", []byte(head+text), nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func board(t testing.TB, p *Profile, state string, defects ...Defect) *Board {
	t.Helper()
	b, err := p.Board(state, defects...)
	if err != nil {
		t.Fatalf("%s: %v", state, err)
	}
	return b
}

// level gives the volts of a node against another.
func (b *Board) level(t testing.TB, node, zero string) float64 {
	t.Helper()
	n, z, ok := b.Nodes(node, zero)
	if !ok {
		t.Fatalf("no node %s or %s", node, zero)
	}
	return b.Solver.Volts(n, z)
}

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

// TestDemoBoards: volts of healthy and faulted SEDGE boards at 230 V mains. They
// were worked out from the netlists with another small solver, whose op-amps
// saturate without the 10 Ω of their output: hence 15 mV where one does.
func TestDemoBoards(t *testing.T) {
	t.Parallel()
	open := func(ref string) Defect { return Defect{Part: ref, Mode: ModeOpen, Size: math.Inf(1)} }
	tests := []struct {
		profile, state string
		defect         []Defect
		node           string
		want, within   float64
	}{
		{"sedge-d", "live", nil, "p", 323.6, 1e-3},
		{"sedge-d", "live", nil, "vb", 3.028, 1e-3},
		{"sedge-d", "live", nil, "oi", 2.500, 1e-3},
		{"sedge-d", "live", nil, "psw", 5.00, 1e-3},
		{"sedge-f", "live", nil, "vb", 1.939, 1e-3},
		{"sedge-f", "live", nil, "oiu", 1.650, 1e-3},
		{"sedge-f", "live", nil, "oiw", 1.650, 1e-3},
		{"sedge-f", "live", nil, "psw", 3.30, 1e-3},
		{"sedge-d", "live", []Defect{open("R13")}, "vb", 0, 1e-3},
		{"sedge-d", "live", []Defect{{Part: "R13", Mode: ModeHigh, Size: 1.5}}, "vb", 2.797, 1e-3},
		{"sedge-d", "live", []Defect{open("R17")}, "vb", 6.0, 0.05},
		{"sedge-d", "live", []Defect{open("R17")}, "adb", 5.6, 0.05},
		{"sedge-d", "live", []Defect{{Part: "U1-ADB", Mode: ModeLeaky, Size: 3300}}, "vb", 1.18, 5e-3},
		{"sedge-d", "live", []Defect{{Part: "U1-ADB", Mode: ModeLeaky, Size: 3300}}, "adb", 0.905, 5e-3},
		{"sedge-d", "live", []Defect{open("R35")}, "oi", 0.02, 5e-3},
		{"sedge-d", "live", []Defect{open("R36")}, "oi", 4.98, 0.015},
		{"sedge-f", "live", []Defect{open("R17")}, "vb", 4.35, 0.05},
		{"sedge-f", "live", []Defect{open("R17")}, "adb", 3.83, 0.05},
		{"sedge-f", "live", []Defect{open("R34")}, "oiu", 3.28, 5e-3},
		{"sedge-f", "live", []Defect{open("R34")}, "oiv", 1.65, 5e-3},
		{"sedge-f", "live", []Defect{open("R28")}, "oiv", 3.28, 0.015},
	}
	for _, tt := range tests {
		b := board(t, shipped(t, tt.profile), tt.state, tt.defect...)
		if got := b.level(t, tt.node, "com"); !near(got, tt.want, tt.within) {
			t.Errorf("%s %v: %s stands at %.4f V, want %.3f", tt.profile, tt.defect, tt.node, got, tt.want)
		}
	}
}

// TestInjected: 30 V on the dead bus, read with a 10 MΩ meter. On D a dead
// rail's clamp takes a little: 274.6 mV.
func TestInjected(t *testing.T) {
	t.Parallel()
	for id, want := range map[string]float64{"sedge-d": 274.6e-3, "sedge-f": 178.7e-3} {
		b := board(t, shipped(t, id), "injected")
		vb, com, _ := b.Nodes("vb", "com")
		r, err := meter.Default().ReadDCVolts(b.Solver, vb, com)
		if err != nil || !near(r.Value, want, 2e-4) {
			t.Errorf("%s: %.5f V %v, want %.4f", id, r.Value, err, want)
		}
	}
}

// TestFloatingPin: with the series resistor open the controller's pin has an
// interval between its clamps, 0.6 V beyond either rail, and no value.
func TestFloatingPin(t *testing.T) {
	t.Parallel()
	p := shipped(t, "sedge-d")
	b := board(t, p, "live", Defect{Part: "R18", Mode: ModeOpen, Size: math.Inf(1)})
	levels, err := b.Solver.Levels()
	if err != nil {
		t.Fatal(err)
	}
	pin, _ := b.Circuit.Find("adb")
	if l := levels[pin]; !l.Floating || !near(l.Low, -0.6, 1e-6) || !near(l.High, 5.6, 1e-6) {
		t.Errorf("the pin: %+v, want an interval from −0.6 to 5.6 V", l)
	}
	vb, _ := b.Circuit.Find("vb")
	if l := levels[vb]; l.Floating || !near(l.Volts, 3.028, 1e-3) {
		t.Errorf("the node before it: %+v, want 3.028 V", l)
	}
}

// TestPowered: a chip works from 2 V of supply on, a load's powered resistance
// holds where a source or a working regulator feeds it, and in cold nothing is
// powered.
func TestPowered(t *testing.T) {
	t.Parallel()
	text := `
parts:
  U1: {kind: regulator, pins: {in: vin, out: v5, ground: gnd}, volts: 5 V}
  U2: {kind: opamp, pins: {plus: ref, minus: out, out: out, supply_plus: v5, supply_minus: gnd}}
  R1: {kind: resistor, pins: [v5, ref], value: 10k}
  R2: {kind: resistor, pins: [ref, gnd], value: 10k}
  R3: {kind: resistor, pins: [out, gnd], value: 10k}
  L1: {kind: load, pins: [v5, gnd], unpowered: 1k, powered: 100}
  L2: {kind: load, pins: [out, gnd], unpowered: 2k, powered: 1}
states:
  on:   {sources: [{name: s, plus: vin, minus: gnd, volts: 12 V}]}
  low:  {sources: [{name: s, plus: vin, minus: gnd, volts: 1.9 V}]}
  half: {sources: [{name: s, plus: vin, minus: gnd, volts: 6 V}]}
`
	p := little(t, text)
	want := map[string][2]float64{
		"on":   {5, 2.5 - 2.5/1e5}, // follower with a gain of 1e5
		"low":  {0, 0},             // the regulator sleeps
		"half": {4, 2 - 2/1e5},     // in − dropout
		"cold": {0, 0},
	}
	for state, w := range want {
		b := board(t, p, state)
		if got := b.level(t, "v5", "gnd"); !near(got, w[0], 1e-4) {
			t.Errorf("%s: rail %.5f V, want %g", state, got, w[0])
		}
		if got := b.level(t, "out", "gnd"); !near(got, w[1], 0.02) {
			t.Errorf("%s: output %.5f V, want %g", state, got, w[1])
		}
	}
	for i := range board(t, p, "on").Params {
		if p := board(t, p, "on"); p.Owners[i].Part == "" {
			t.Errorf("tolerance %d belongs to nothing", i)
		}
	}
}

// TestSourceKinds: limits, a current source and its ceiling, a held node, AC as
// its average, a switch that the state closes.
func TestSourceKinds(t *testing.T) {
	t.Parallel()
	text := `
parts:
  R1: {kind: resistor, pins: [a, gnd], value: %s, tolerance: 1 %%}
  R2: {kind: resistor, pins: [a, fb], value: 30k, tolerance: 1 %%}
  R3: {kind: resistor, pins: [fb, gnd], value: 10k, tolerance: 1 %%}
  S1: {kind: switch, pins: [a, s]}
  R4: {kind: resistor, pins: [s, gnd], value: 1k}
states:
  x:
    switches: {S1: closed}
    sources: [{name: s, plus: a, minus: gnd, %s}]
`
	tests := []struct {
		name, r1, source, node string
		want                   float64
	}{
		{"volts", "1k", "volts: 12 V", "a", 12},
		{"beyond its limit the voltage falls", "0.01", "volts: 12 V, limit: 0.5", "a", 0.5 * 0.01},
		{"amps", "1k", "amps: 10 mA, at_most: 60 V", "a", 10e-3 / (1/1e3 + 1/40e3 + 1/1000.05)},
		{"amps at the ceiling", "1M", "amps: 10 mA, at_most: 6 V", "a", 6},
		{"holds", "1k", "holds: {node: fb, volts: 2.5 V}, at_most: 40 V", "a", 10},
		{"holds", "1k", "holds: {node: fb, volts: 2.5 V}, at_most: 40 V", "fb", 2.5},
		{"cannot hold", "1k", "holds: {node: fb, volts: 2.5 V}, at_most: 8 V", "a", 8},
		{"AC as its average", "1k", "volts_ac: 230 V, frequency: 50 Hz", "a", 0},
		{"a closed switch", "1k", "volts: 12 V", "s", 12 * 1000 / 1000.05},
	}
	for _, tt := range tests {
		p := little(t, fmt.Sprintf(text, tt.r1, tt.source))
		b := board(t, p, "x")
		if got := b.level(t, tt.node, "gnd"); !near(got, tt.want, 1e-5*math.Max(1, tt.want)) {
			t.Errorf("%s: %s stands at %.6f V, want %.6f", tt.name, tt.node, got, tt.want)
		}
	}
}

// TestHeldNodeLooksRight: with a part of its divider drifted, a held node still
// reads its value and the fault shows at the output; with the upper part open
// the supply goes to its end.
func TestHeldNodeLooksRight(t *testing.T) {
	t.Parallel()
	p := little(t, `
parts:
  R1: {kind: resistor, pins: [bus, fb], value: 3M, tolerance: 1 %}
  R2: {kind: resistor, pins: [fb, gnd], value: 19.6k, tolerance: 1 %}
states:
  live: {sources: [{name: boost, plus: bus, minus: gnd, holds: {node: fb, volts: 2.5 V}, at_most: 450 V}]}
`)
	tests := []struct {
		defect  []Defect
		bus, fb float64
	}{
		{nil, 385.15, 2.5},
		{[]Defect{{Part: "R1", Mode: ModeHigh, Size: 1.1}}, 423.4, 2.5},
		{[]Defect{{Part: "R1", Mode: ModeOpen, Size: math.Inf(1)}}, 450, 0},
		{[]Defect{{Part: "R2", Mode: ModeOpen, Size: math.Inf(1)}}, 2.5, 2.5},
	}
	for _, tt := range tests {
		b := board(t, p, "live", tt.defect...)
		if bus, fb := b.level(t, "bus", "gnd"), b.level(t, "fb", "gnd"); !near(bus, tt.bus, 0.05) || !near(fb, tt.fb, 1e-4) {
			t.Errorf("%v: bus %.3f V, feedback %.5f V, want %.2f and %.2f", tt.defect, bus, fb, tt.bus, tt.fb)
		}
	}
}

// TestLifted: a lifted part is alone, and an open joint does not show.
func TestLifted(t *testing.T) {
	t.Parallel()
	p := shipped(t, "sedge-d")
	m := meter.Default()
	for _, d := range [][]Defect{nil, {{Part: "R18", Mode: ModeOpen, Size: math.Inf(1)}}} {
		b, err := p.LiftedBoard("R17", d...)
		if err != nil {
			t.Fatal(err)
		}
		red, black, _ := b.Nodes("vb", "com")
		r, err := m.ReadResistance(b.Solver, red, black)
		if err != nil || !near(r.Value, 6800, 1e-6) || r.Resolution != 10 {
			t.Errorf("R17 alone reads %.3f Ω %v, want 6800 on the 60 k range", r.Value, err)
		}
	}
}

// TestThermistor: the beta law at the bench's temperature, which all
// thermistors share; table values recomputed from the law.
func TestThermistor(t *testing.T) {
	t.Parallel()
	p := little(t, `
ambient: {typical: 50, tolerance: 25}
parts:
  RT1: {kind: thermistor, pins: [a, gnd], value: 10k, beta: 3950, tolerance: 0 %}
  RT2: {kind: thermistor, pins: [b, gnd], value: 10k, beta: 3435, tolerance: 0 %}
`)
	b := board(t, p, Cold)
	if len(b.Params) != 1 || b.Owners[0] != (Owner{}) {
		t.Fatalf("tolerances: %+v, want the ambient temperature alone", b.Owners)
	}
	for _, tt := range []struct{ u, rt1, rt2 float64 }{{0, 3588.2, 4101.2}, {-1, 10000, 10000}, {1, 1481.0, 1896.0}} {
		b.Set(0, tt.u)
		for node, want := range map[string]float64{"a": tt.rt1, "b": tt.rt2} {
			red, black, _ := b.Nodes(node, "gnd")
			r, err := meter.Default().ReadResistance(b.Solver, red, black)
			if err != nil || !near(r.Value, want, want*2e-2) || (tt.u <= 0 && !near(r.Value, want, 0.1)) {
				t.Errorf("at u = %g %s reads %.2f Ω %v, want %.1f", tt.u, node, r.Value, err, want)
			}
		}
	}
}

// kindBoards has every kind of part with its modes on a small powered board.
// For each mode one reading must move, which is how one knows that it does what
// it says.
var kindBoards = map[Kind]string{
	Resistor:    "{kind: resistor, pins: [x, y], value: 10k}",
	Inductor:    "{kind: inductor, pins: [x, y], resistance: 12}",
	Fuse:        "{kind: fuse, pins: [x, y]}",
	Link:        "{kind: link, pins: [x, y]}",
	Thermistor:  "{kind: thermistor, pins: [x, y], value: 10k}",
	Capacitor:   "{kind: capacitor, pins: [x, y], value: 1u}",
	Diode:       "{kind: diode, pins: {anode: x, cathode: y}}",
	LED:         "{kind: led, pins: {anode: x, cathode: y}}",
	Zener:       "{kind: zener, pins: {anode: y, cathode: x}, zener: 3.3 V}",
	Varistor:    "{kind: varistor, pins: [x, y], volts: 4 V}",
	Bridge:      "{kind: bridge, pins: {ac1: x, ac2: w, plus: y, minus: gnd}}",
	Opamp:       "{kind: opamp, pins: {plus: ref, minus: y, out: y, supply_plus: v12, supply_minus: gnd}}",
	Comparator:  "{kind: comparator, pins: {plus: gnd, minus: ref, out: x, supply_plus: v12, supply_minus: gnd}}",
	Regulator:   "{kind: regulator, pins: {in: v12, out: y, ground: gnd}, volts: 5 V}",
	NPN:         "{kind: npn, pins: {base: b, collector: x, emitter: gnd}}",
	PNP:         "{kind: pnp, pins: {base: lo, collector: y, emitter: v12}}",
	NMOS:        "{kind: nmos, pins: {gate: v12, drain: x, source: gnd}}",
	PMOS:        "{kind: pmos, pins: {gate: gnd, drain: y, source: v12}}",
	IGBT:        "{kind: igbt, pins: {gate: v12, collector: x, emitter: gnd}}",
	Optocoupler: "{kind: optocoupler, pins: {anode: b, cathode: gnd, collector: x, emitter: gnd}}",
	InputPin:    "{kind: input_pin, pins: {pin: x, ground: gnd, supply: v12}}",
}

const kindBoard = `
parts:
  X1: %s
  RX: {kind: resistor, pins: [v12, x], value: 10k}
  RY: {kind: resistor, pins: [y, gnd], value: 10k}
  RW: {kind: resistor, pins: [v12, w], value: 47k}
  RB: {kind: resistor, pins: [v12, b], value: 2.2k}
  RL: {kind: resistor, pins: [lo, gnd], value: 100k}
  RR: {kind: resistor, pins: [v12, ref], value: 10k}
  RS: {kind: resistor, pins: [ref, gnd], value: 10k}
states:
  on: {sources: [{name: s, plus: v12, minus: gnd, volts: 12 V}]}
`

// TestEveryMode: each kind's healthy board and each of its defects have a
// solution, and each defect but a tired or open capacitor, which direct current
// does not see, and a lone open pin moves a node by more than 1 %.
func TestEveryMode(t *testing.T) {
	t.Parallel()
	for kind, modes := range modes {
		part, ok := kindBoards[kind]
		if !ok {
			t.Errorf("no board for %s", kind)
			continue
		}
		p := little(t, fmt.Sprintf(kindBoard, part))
		healthy := volts(t, p)
		for _, mode := range modes {
			t.Run(string(kind)+" "+string(mode), func(t *testing.T) {
				d := Defect{Part: "X1", Mode: mode, Size: 1.5}
				switch mode {
				case ModeOpen:
					d.Size = math.Inf(1)
				case ModeShort, ModeOutputShort:
					d.Size = 0.2
				case ModeLeaky:
					d.Size = 1e3
				case ModeWeak:
					d.Size = 40
				}
				moved := math.Abs(volts(t, p, d)["x"]-healthy["x"]) + math.Abs(volts(t, p, d)["y"]-healthy["y"])
				unseen := kind == Capacitor && (mode == ModeOpen || mode == ModeTired) ||
					kind == Comparator && mode == ModeStuckLow || // it is low already
					kind == PMOS && mode == ModeShort || kind == NMOS && mode == ModeShort // it is on already
				if (moved > 0.01) == unseen {
					t.Errorf("nodes move by %.4f V in sum; must not be seen: %t", moved, unseen)
				}
			})
		}
	}
}

// volts solves a board and gives all node volts.
func volts(t *testing.T, p *Profile, d ...Defect) map[string]float64 {
	t.Helper()
	b := board(t, p, "on", d...)
	out := map[string]float64{}
	for _, name := range []string{"x", "y", "w", "b", "ref"} {
		if _, _, ok := b.Nodes(name, "gnd"); ok {
			out[name] = b.level(t, name, "gnd")
		}
	}
	return out
}

// TestTolerances: every tolerance of the table of kinds moves something, is
// named by its part, and comes back to where it was.
func TestTolerances(t *testing.T) {
	t.Parallel()
	want := map[Kind]int{
		Resistor: 1, Inductor: 1, Fuse: 1, Link: 1, Thermistor: 2, Capacitor: 1, Diode: 1, LED: 1, Zener: 2,
		Varistor: 1, Bridge: 1, Regulator: 1, NPN: 2, PNP: 2, NMOS: 2, PMOS: 2, IGBT: 1, Optocoupler: 2, InputPin: 1,
	}
	for kind, part := range kindBoards {
		p := little(t, fmt.Sprintf(kindBoard, part))
		b := board(t, p, "on")
		n := 0
		for i, o := range b.Owners {
			if o.Part == "X1" || o == (Owner{}) {
				n++
				b.Set(i, 1)
				b.Set(i, -1)
				b.Set(i, 0)
			}
		}
		if n != want[kind] {
			t.Errorf("%s has %d tolerances, want %d", kind, n, want[kind])
		}
		before := b.level(t, "x", "gnd")
		if err := b.Solver.Solve(); err != nil || !near(b.level(t, "x", "gnd"), before, 1e-9) {
			t.Errorf("%s: %.9f V before, %.9f V after moving its tolerances away and back (%v)", kind, before, b.level(t, "x", "gnd"), err)
		}
	}
}

// TestBoardErrors: what cannot be solved or found is an error with a name.
func TestBoardErrors(t *testing.T) {
	t.Parallel()
	p := shipped(t, "sedge-d")
	if _, err := p.Board("nowhere"); err == nil || !strings.Contains(err.Error(), "nowhere") {
		t.Errorf("unknown state: %v", err)
	}
	if _, err := p.LiftedBoard("R999"); err == nil || !strings.Contains(err.Error(), "R999") {
		t.Errorf("unknown part: %v", err)
	}
	if n := p.Zero("o1", "live"); n != "ci" {
		t.Errorf("the zero of the isolated side is %q, want ci", n)
	}
	if n := p.Zero("o1", "nowhere"); n != p.Ground {
		t.Errorf("the zero in an unknown state is %q, want the ground", n)
	}
}

// TestRectifiedBus: a rectified bus without load stands at 1.414 × the mains
// less two junctions, ±2 V (common practice, no source): here the peak of the
// mains is a source before the bridge.
func TestRectifiedBus(t *testing.T) {
	t.Parallel()
	for rms, want := range map[float64]float64{198: 278, 220: 309, 230: 324, 253: 356} {
		p := little(t, fmt.Sprintf(`
parts:
  F1: {kind: fuse, pins: [l, l1]}
  RT1: {kind: resistor, pins: [l1, l2], value: 33}
  BR1: {kind: bridge, pins: {ac1: l2, ac2: n, plus: p, minus: gnd}, forward: 0.57 V}
  R1: {kind: resistor, pins: [p, gnd], value: 200k}
states:
  peak: {sources: [{name: peak, plus: l, minus: n, volts: %.3f}]}
  turned: {sources: [{name: peak, plus: n, minus: l, volts: %.3f}]}
`, rms*math.Sqrt2, rms*math.Sqrt2))
		for _, state := range []string{"peak", "turned"} {
			if got := board(t, p, state).level(t, "p", "gnd"); !near(got, want, 2) {
				t.Errorf("%g V, %s: bus %.1f V, want %g", rms, state, got, want)
			}
		}
	}
}

// TestSameNumberOppositeVerdict: a comparator's output idles at its pull-up's
// rail, an op-amp's never gets there (common practice, no source).
func TestSameNumberOppositeVerdict(t *testing.T) {
	t.Parallel()
	p := little(t, `
parts:
  U1: {kind: comparator, pins: {plus: v5, minus: gnd, out: a, supply_plus: v5, supply_minus: gnd}}
  R1: {kind: resistor, pins: [v5, a], value: 10k}
  U2: {kind: opamp, pins: {plus: v5, minus: gnd, out: b, supply_plus: v5, supply_minus: gnd}, headroom_high: 1.5 V}
  R2: {kind: resistor, pins: [v5, b], value: 10k}
states:
  on: {sources: [{name: s, plus: v5, minus: gnd, volts: 5 V}]}
`)
	b := board(t, p, "on")
	if got := b.level(t, "a", "gnd"); !near(got, 5, 1e-6) {
		t.Errorf("the comparator idles at %.4f V, want 5", got)
	}
	if got := b.level(t, "b", "gnd"); !near(got, 3.5, 0.01) {
		t.Errorf("the op-amp saturates at %.4f V, want 3.5", got)
	}
}

// TestEveryDefectSolves: every shipped board has an operating point in every
// state with any of its parts failed in any way.
func TestEveryDefectSolves(t *testing.T) {
	t.Parallel()
	ids := []string{"sedge-d", "sedge-f", "hearth-2", "hearth-3", "packhorse-a", "packhorse-c"}
	if testing.Short() {
		ids = ids[1:2]
	}
	for _, id := range ids {
		p := shipped(t, id)
		for _, s := range p.States {
			for i := range p.Parts {
				part := &p.Parts[i]
				for _, mode := range part.Kind.Modes() {
					d := Defect{Part: part.Ref, Mode: mode, Size: 3, Diode: i % 4}
					switch mode {
					case ModeOpen:
						d.Size = math.Inf(1)
					case ModeShort, ModeOutputShort:
						d.Size = 0.05
					case ModeLeaky:
						d.Size = 1e4
					}
					b, err := p.Board(s.ID, d)
					if err != nil {
						t.Errorf("%s %s with %v: %v", id, s.ID, d, err)
						continue
					}
					if _, err := b.Solver.Levels(); err != nil {
						t.Errorf("%s %s with %v: levels: %v", id, s.ID, d, err)
					}
				}
			}
		}
	}
}
