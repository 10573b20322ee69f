package boardtest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"ohmstead/internal/profile"
	"strconv"
	"strings"
	"testing"
)

// invention makes small random boards: a tree of resistors that hangs on the
// rails of one powered state, and parts of any kind between its nodes, with
// resistors where they could otherwise short a rail.
type invention struct {
	rng     *rand.Rand
	parts   strings.Builder
	sources []string
	rails   []string // stiff against gnd, when powered
	nodes   []string
	n       int
}

// invent makes a board with a part X1 of a kind. A plain one has no other part
// that is not linear.
func invent(t testing.TB, seed int, kind profile.Kind, plain bool) *profile.Profile {
	t.Helper()
	rng := rand.New(rand.NewPCG(uint64(seed), 11))
	v := &invention{rng: rng, nodes: []string{"gnd"}}
	v.rail()
	for range rng.IntN(3) {
		v.otherRail()
	}
	for range 2 + rng.IntN(5) {
		v.branch()
	}
	kinds := []profile.Kind{profile.Resistor, profile.Thermistor, profile.Inductor, profile.Fuse, profile.Link, profile.Capacitor, profile.Capacitor, profile.Capacitor, profile.Switch, profile.LoadPart, profile.Opamp, profile.Regulator}
	if !plain {
		kinds = append(kinds, profile.Diode, profile.LED, profile.Zener, profile.Varistor, profile.Bridge, profile.Comparator, profile.NPN, profile.PNP, profile.NMOS, profile.PMOS, profile.IGBT, profile.Optocoupler, profile.InputPin)
	}
	for range rng.IntN(4) {
		v.add(kinds[rng.IntN(len(kinds))], v.name("P"))
	}
	v.add(kind, "X1")
	text := fmt.Sprintf("format: ohmstead/board-profile/1\nid: invented\ntitle: invented\nrevision: %d\nground: gnd\nparts:\n", seed) + v.parts.String() +
		"states:\n  on:\n    sources:\n" + strings.Join(v.sources, "")
	p, err := profile.Load("invented.yaml", []byte(text), nil)
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return p
}

func (v *invention) name(letter string) string {
	v.n++
	return letter + strconv.Itoa(v.n)
}

func (v *invention) any() string { return v.nodes[v.rng.IntN(len(v.nodes))] }

func (v *invention) anyRail() string { return v.rails[v.rng.IntN(len(v.rails))] }

func (v *invention) uniform(low, high float64) float64 { return low + (high-low)*v.rng.Float64() }

// log draws log-uniformly, to four digits as a file has them.
func (v *invention) log(low, high float64) string {
	return plainly(low * math.Pow(high/low, v.rng.Float64()))
}

// between draws uniformly, to four digits.
func (v *invention) between(low, high float64) string { return plainly(v.uniform(low, high)) }

// plainly writes a number with four digits and without an exponent.
func plainly(x float64) string {
	digits := 3 - int(math.Floor(math.Log10(x)))
	return strconv.FormatFloat(x, 'f', max(digits, 0), 64)
}

func (v *invention) ohms() string {
	if v.rng.IntN(12) == 0 {
		return v.log(1e6, 4e7)
	}
	return v.log(10, 1e6)
}

func (v *invention) part(ref, format string, args ...any) {
	fmt.Fprintf(&v.parts, "  %s: {%s}\n", ref, fmt.Sprintf(format, args...))
}

func (v *invention) resistor(a, b, ohms string) {
	v.part(v.name("R"), "kind: resistor, pins: [%s, %s], value: %s", a, b, ohms)
}

func (v *invention) source(format string, args ...any) {
	v.sources = append(v.sources, fmt.Sprintf("      - {name: %s, %s}\n", v.name("s"), fmt.Sprintf(format, args...)))
}

// rail adds a stiff supply.
func (v *invention) rail() {
	node, volts := v.name("v"), v.between(4, 24)
	if v.rng.IntN(5) == 0 { // about where chips wake
		volts = v.between(1.6, 3.4)
	}
	v.source("plus: %s, minus: gnd, volts: %s", node, volts)
	v.resistor(node, "gnd", v.ohms())
	v.rails, v.nodes = append(v.rails, node), append(v.nodes, node)
}

// otherRail adds a supply of any sort, sometimes on an island of its own.
func (v *invention) otherRail() {
	node := v.name("v")
	switch v.rng.IntN(7) {
	case 0: // with a limit that a fault can reach
		v.source("plus: %s, minus: gnd, volts: %s, limit: %s", node, v.between(4, 24), v.log(0.02, 1))
		v.rails = append(v.rails, node)
	case 1:
		v.source("plus: %s, minus: gnd, amps: %s, at_most: %s", node, v.log(1e-5, 1e-2), v.between(5, 40))
	case 2:
		fb := v.name("n")
		v.source("plus: %s, minus: gnd, holds: {node: %s, volts: 2.5}, at_most: %s", node, fb, v.between(10, 60))
		v.resistor(node, fb, v.log(5e3, 2e5))
		v.resistor(fb, "gnd", v.log(5e3, 5e4))
		v.nodes = append(v.nodes, fb)
	case 3, 4:
		v.source("plus: %s, minus: %s, volts_ac: %s, frequency: %d", node, v.any(), v.between(0.5, 20), []int{50, 60, 400}[v.rng.IntN(3)])
	case 5: // an island: two nodes apart from all others
		far := v.name("i")
		v.source("plus: %s, minus: %s, volts: %s", node, far, v.between(4, 24))
		v.resistor(node, far, v.ohms())
		v.part(v.name("U"), "kind: optocoupler, pins: {anode: %s, cathode: %s, collector: %s, emitter: gnd}", v.guardedFrom(node), far, v.guarded())
		return
	default:
		v.source("plus: %s, minus: gnd, volts: %s", node, v.between(30, 400))
	}
	v.nodes = append(v.nodes, node)
}

// branch adds a node that hangs on an existing one.
func (v *invention) branch() string { return v.guardedFrom(v.any()) }

func (v *invention) guardedFrom(at string) string {
	node := v.name("n")
	v.resistor(at, node, v.ohms())
	v.nodes = append(v.nodes, node)
	return node
}

// guarded gives a new node behind a resistor of 50 Ω or more.
func (v *invention) guarded() string {
	node := v.name("n")
	v.resistor(v.any(), node, v.log(50, 1e6))
	v.nodes = append(v.nodes, node)
	return node
}

// divider gives a node at a share of a rail.
func (v *invention) divider(rail string, share float64) string {
	node := v.name("n")
	upper := v.uniform(1e3, 1e5)
	v.resistor(rail, node, plainly(upper))
	v.resistor(node, "gnd", plainly(upper*share/(1-share)))
	return node
}

func (v *invention) add(kind profile.Kind, ref string) {
	switch kind {
	case profile.Resistor, profile.Thermistor, profile.Inductor, profile.Fuse, profile.Link, profile.Switch, profile.LoadPart, profile.Capacitor:
		v.addLinear(kind, ref)
	case profile.Diode, profile.LED, profile.Zener, profile.Varistor, profile.Bridge, profile.InputPin, profile.Optocoupler:
		v.addJunction(kind, ref)
	case profile.NPN, profile.PNP:
		v.part(ref, "kind: %s, pins: {base: %s, collector: %s, emitter: %s}, gain: %s", kind, v.guarded(), v.guarded(), v.guarded(), v.between(20, 400))
	case profile.NMOS, profile.PMOS, profile.IGBT:
		v.addSwitching(kind, ref)
	default:
		v.addChip(kind, ref)
	}
}

func (v *invention) addLinear(kind profile.Kind, ref string) {
	a, b := v.any(), v.name("n")
	if len(v.nodes) > 3 && v.rng.IntN(2) == 0 && kind != profile.Fuse && kind != profile.Link && kind != profile.Inductor {
		for b = a; b == a; b = v.any() {
		}
	} else {
		v.nodes = append(v.nodes, b)
		v.resistor(b, "gnd", v.ohms())
	}
	more := ""
	switch kind {
	case profile.Resistor:
		more = ", value: " + v.ohms()
	case profile.Thermistor:
		more = ", value: " + v.log(100, 1e5)
	case profile.Inductor:
		more = ", resistance: " + v.log(0.05, 500)
	case profile.Capacitor:
		more = ", value: " + v.log(1, 1e6) + "n"
		if v.rng.IntN(2) == 0 {
			more += ", esr: " + v.log(0.01, 5)
		}
	case profile.Switch:
		more = fmt.Sprintf(", closed: %t", v.rng.IntN(2) == 0)
	case profile.LoadPart:
		more = fmt.Sprintf(", unpowered: %s, powered: %s", v.log(1e3, 1e5), v.log(100, 1e4))
	}
	v.part(ref, "kind: %s, pins: [%s, %s]%s", kind, a, b, more)
}

func (v *invention) addJunction(kind profile.Kind, ref string) {
	switch kind {
	case profile.Diode:
		v.part(ref, "kind: diode, pins: {anode: %s, cathode: %s}, forward: %s", v.guarded(), v.any(), v.between(0.3, 0.75))
	case profile.LED:
		v.part(ref, "kind: led, pins: {anode: %s, cathode: %s}, forward: %s", v.guarded(), v.any(), v.between(1.1, 2.1))
	case profile.Zener:
		v.part(ref, "kind: zener, pins: {anode: %s, cathode: %s}, zener: %s", v.any(), v.guarded(), v.between(2.7, 20))
	case profile.Varistor:
		at, to, volts := v.guarded(), v.any(), v.between(3, 40)
		if v.rng.IntN(3) > 0 { // in conduction
			at, to, volts = v.guardedFrom(v.anyRail()), "gnd", v.between(1, 5)
		}
		v.part(ref, "kind: varistor, pins: [%s, %s], volts: %s", at, to, volts)
	case profile.Bridge:
		v.part(ref, "kind: bridge, pins: {ac1: %s, ac2: %s, plus: %s, minus: %s}", v.guarded(), v.guarded(), v.guarded(), v.any())
	case profile.InputPin:
		more := []string{"", "", ", resistance: open", ", clamp: none"}[v.rng.IntN(4)]
		v.part(ref, "kind: input_pin, pins: {pin: %s, ground: gnd, supply: %s}%s", v.guarded(), v.anyRail(), more)
	case profile.Optocoupler:
		anode, cathode, collector, emitter := v.guarded(), v.any(), v.guarded(), v.any()
		if v.rng.IntN(3) > 0 { // lit, and doing something
			anode, cathode, collector, emitter = v.name("n"), "gnd", v.name("n"), "gnd"
			v.resistor(v.anyRail(), anode, v.log(300, 1e4))
			v.resistor(v.anyRail(), collector, v.log(100, 1e4))
			v.nodes = append(v.nodes, collector)
		}
		v.part(ref, "kind: optocoupler, pins: {anode: %s, cathode: %s, collector: %s, emitter: %s}, ctr: %s %%",
			anode, cathode, collector, emitter, v.between(20, 300))
	}
}

// addSwitching lets a divider of a rail decide whether the transistor is on.
func (v *invention) addSwitching(kind profile.Kind, ref string) {
	rail, path := v.anyRail(), v.guarded()
	gate := v.divider(rail, v.uniform(0.05, 0.95))
	if v.rng.IntN(3) > 0 { // with something to switch
		path = v.guardedFrom(map[bool]string{true: "gnd", false: v.anyRail()}[kind == profile.PMOS])
	}
	switch kind {
	case profile.NMOS:
		v.part(ref, "kind: nmos, pins: {gate: %s, drain: %s, source: gnd}, on_resistance: %s", gate, path, v.log(0.01, 10))
	case profile.PMOS:
		v.part(ref, "kind: pmos, pins: {gate: %s, drain: %s, source: %s}, on_resistance: %s", gate, path, rail, v.log(0.01, 10))
	default:
		v.part(ref, "kind: igbt, pins: {gate: %s, collector: %s, emitter: gnd}", gate, path)
	}
}

// addChip adds stages that have one operating point: op-amps fed back to their
// minus input, comparators that listen to dividers of a rail.
func (v *invention) addChip(kind profile.Kind, ref string) {
	rail := v.anyRail()
	switch kind {
	case profile.Regulator:
		out := v.name("v")
		v.part(ref, "kind: regulator, pins: {in: %s, out: %s, ground: gnd}, volts: %s, dropout: %s", rail, out, v.between(1.5, 6), v.between(0.1, 2))
		v.resistor(out, "gnd", v.log(20, 1e4))
		v.nodes, v.rails = append(v.nodes, out), append(v.rails, out)
	case profile.Comparator:
		v.part(ref, "kind: comparator, pins: {plus: %s, minus: %s, out: %s, supply_plus: %s, supply_minus: gnd}",
			v.divider(rail, v.uniform(0.1, 0.9)), v.divider(rail, v.uniform(0.1, 0.9)), v.guarded(), rail)
	case profile.Opamp:
		out, plus := v.name("n"), v.divider(rail, v.uniform(0.1, 0.9))
		minus := out
		if v.rng.IntN(2) == 0 {
			minus = v.name("n")
			v.resistor(v.any(), minus, v.log(1e3, 1e5))
			v.resistor(minus, out, v.log(1e3, 1e5))
		}
		v.resistor(out, "gnd", v.log(1e3, 1e5))
		v.part(ref, "kind: opamp, pins: {plus: %s, minus: %s, out: %s, supply_plus: %s, supply_minus: gnd}, headroom_high: %s, headroom_low: %s",
			plus, minus, out, rail, v.between(0.02, 1.5), v.between(0.005, 0.2))
		v.nodes = append(v.nodes, out)
	}
}

// size draws how big a defect is, as the formats say.
func size(rng *rand.Rand, part *profile.Part, m profile.Mode) float64 {
	log := func(low, high float64) float64 { return low * math.Pow(high/low, rng.Float64()) }
	switch m {
	case profile.ModeOpen:
		if ohms := part.Ohms(); ohms > 0 && rng.IntN(2) == 0 {
			return log(100*ohms, math.Max(1e9, 100*ohms))
		}
		return math.Inf(1)
	case profile.ModeShort, profile.ModeOutputShort:
		return log(0.05, 1)
	case profile.ModeHigh:
		if part.Kind == profile.Regulator {
			return log(1.1, 3)
		}
		return log(1.2, 100)
	case profile.ModeLow:
		if part.Kind == profile.Regulator {
			return log(1/0.9, 1/0.3)
		}
		return log(1.2, 20)
	case profile.ModeLeaky:
		return log(1e3, 1e5)
	case profile.ModeWeak:
		return log(2, 50)
	case profile.ModeTired:
		return log(1.3, 20)
	}
	return 0
}
