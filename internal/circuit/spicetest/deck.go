package spicetest

import (
	"fmt"
	"math"
	"strings"
)

// What the formats say of every junction.
const (
	thermalVolts = 0.02585 // the decks' temperature is that of this kT/q
	ideality     = 1.8
	seriesOhms   = 0.1
	testAmps     = 1e-3
)

// nothing is a resistance that counts as none: beside what is not linear it
// stands for the simulator's own leakage, which it adds to diodes only.
const nothing = 1e14

// Deck is one circuit in the simulator's language. Node "0" is its ground.
type Deck struct {
	// Exact lets diodes follow the law backwards too. From 3·nVt on the simulator
	// takes a cube for the exponential, off by up to 0.4 % of the leakage at 0.25 V.
	// Large circuits then cost it more, and some an answer.
	Exact bool

	text  strings.Builder
	n     int
	nodes []string
	tied  map[string]string // to a node of the same island
}

// Name gives a name that was not given before, for an element, a model or a node
// of the deck's own.
func (d *Deck) Name(letter string) string {
	d.n++
	return fmt.Sprintf("%s%d", letter, d.n)
}

// Line writes a line.
func (d *Deck) Line(format string, args ...any) { fmt.Fprintf(&d.text, format+"\n", args...) }

// String gives what was written so far.
func (d *Deck) String() string { return d.text.String() }

// Join says that current can flow between nodes.
func (d *Deck) Join(nodes ...string) {
	for _, n := range nodes {
		d.Mention(n)
	}
	for _, n := range nodes[1:] {
		if a, b := d.island(nodes[0]), d.island(n); a != b {
			d.tied[a] = b
		}
	}
}

// Mention lets a node be there, also when nothing leads to it.
func (d *Deck) Mention(node string) {
	if d.tied == nil {
		d.tied = map[string]string{}
	}
	if _, known := d.tied[node]; !known {
		d.tied[node] = node
		d.nodes = append(d.nodes, node)
	}
}

// Joined tells whether current can flow between two nodes.
func (d *Deck) Joined(a, b string) bool {
	d.Mention(a)
	d.Mention(b)
	return d.island(a) == d.island(b)
}

// Some gives a node other than 0.
func (d *Deck) Some() string {
	for _, n := range d.nodes {
		if n != "0" {
			return n
		}
	}
	return ""
}

func (d *Deck) island(node string) string {
	for d.tied[node] != node {
		node = d.tied[node]
	}
	return node
}

// Ground ties every island that current cannot leave to node 0, which the
// simulator needs and nothing else notices: no current flows there.
func (d *Deck) Ground() {
	d.Mention("0")
	for _, n := range d.nodes {
		if d.island(n) != d.island("0") {
			d.Resistor(n, "0", 1)
		}
	}
}

// Resistor writes a resistance; an infinite one is none.
func (d *Deck) Resistor(a, b string, ohms float64) {
	d.Mention(a)
	d.Mention(b)
	if !math.IsInf(ohms, 1) && a != b {
		d.Line("%s %s %s %.15g", d.Name("R"), a, b, ohms)
		d.Join(a, b)
	}
}

// Capacitor writes a capacitance with its series resistance. It joins nothing:
// in an analysis at direct current it is open.
func (d *Deck) Capacitor(a, b string, farads, esr float64) {
	if esr > 0 {
		mid := d.Name("e")
		d.Resistor(mid, b, esr)
		b = mid
	}
	d.Line("%s %s %s %.15g", d.Name("C"), a, b, farads)
}

// Volts writes a supply behind a resistance and gives the name of its element,
// whose current runs into its first node.
func (d *Deck) Volts(plus, minus string, volts, ohms float64) string {
	inner, name := plus, d.Name("V")
	if ohms > 0 {
		inner = d.Name("s")
		d.Resistor(inner, plus, ohms)
	}
	d.Line("%s %s %s DC %.15g", name, inner, minus, volts)
	d.Join(inner, minus)
	return name
}

// Mains writes an alternating supply behind a resistance, volts rms, and gives the
// name of its element. At direct current it is its average, 0 V.
func (d *Deck) Mains(plus, minus string, rms, ohms float64) string {
	name, inner := d.Name("V"), d.Name("s")
	d.Line("%s %s %s DC 0 AC %.15g", name, inner, minus, rms)
	d.Join(inner, minus)
	d.Resistor(inner, plus, ohms)
	return name
}

// Amps writes a source of current out of plus, through the circuit, into minus.
func (d *Deck) Amps(plus, minus string, amps float64) {
	d.Line("%s %s %s DC %.15g", d.Name("I"), minus, plus, amps)
	d.Join(plus, minus)
}

// Law writes a current from a to b by an expression.
func (d *Deck) Law(a, b, format string, args ...any) {
	d.Line("%s %s %s I=%s", d.Name("B"), a, b, fmt.Sprintf(format, args...))
	d.Resistor(a, b, nothing)
}

// level writes volts of a node of the deck's own over another, and gives it.
func (d *Deck) level(over, format string, args ...any) string {
	node := d.Name("l")
	d.Line("%s %s %s V=%s", d.Name("B"), node, over, fmt.Sprintf(format, args...))
	d.Join(node, over)
	return node
}

// Sense writes a path without resistance and gives what runs through it from a
// to b.
func (d *Deck) Sense(a, b string) (amps string) {
	name := d.Name("V")
	d.Line("%s %s %s DC 0", name, a, b)
	d.Join(a, b)
	return "i(" + name + ")"
}

// Across gives the expression for the volts of a against b.
func Across(a, b string) string {
	switch {
	case a == b:
		return "0"
	case b == "0":
		return "v(" + a + ")"
	case a == "0":
		return "(-v(" + b + "))"
	}
	return "(v(" + a + ")-v(" + b + "))"
}

// saturation gives the Is of a junction that drops forward volts at 1 mA.
func saturation(forward float64) float64 {
	return testAmps / (math.Exp(forward/(ideality*thermalVolts)) - 1)
}

// Diode writes a junction that drops forward volts at 1 mA, 0.1 Ω in series.
func (d *Deck) Diode(anode, cathode string, forward float64) {
	model, is, nvt := d.Name("dm"), saturation(forward), ideality*thermalVolts
	d.Line("%s %s %s %s", d.Name("D"), anode, cathode, model)
	d.Line(".model %s D(IS=%.15g N=%g RS=%g)", model, is, ideality, seriesOhms)
	d.Join(anode, cathode)
	if d.Exact { // what is missing stands beside
		back := fmt.Sprintf("max(%s,%g)", Across(cathode, anode), 3*nvt)
		d.Line("%s %s %s I=%.15g*(exp(-%s/%g)-(%g/%s)^3)", d.Name("B"), anode, cathode, is, back, nvt, 3*nvt/math.E, back)
	}
}

// Breakdown writes how a Zener diode conducts backwards: 1 mA at so many volts.
func (d *Deck) Breakdown(anode, cathode string, volts float64) {
	mid := d.Name("z")
	d.Resistor(cathode, mid, seriesOhms)
	d.Law(mid, anode, "%g*exp(min((%s-%.15g)/%g,60))", testAmps, Across(mid, anode), volts, thermalVolts)
}

// Varistor writes 1 mA·(V/volts)^30, the same both ways.
func (d *Deck) Varistor(a, b string, volts float64) {
	v := Across(a, b)
	d.Law(a, b, "%g*sgn(%s)*(abs(%s)/%.15g)^30", testAmps, v, v, volts)
}

// Bipolar writes a transistor in Ebers–Moll transport form, reverse gain 1, whose
// base–emitter junction drops forward volts at 1 mA with the collector open: then
// as much runs from collector to base as from base to collector, which leaves
// Is·(1/gain + 1/2)·(exp(V/nVt) − 1) for the base.
func (d *Deck) Bipolar(base, collector, emitter string, gain, forward float64, pnp bool) {
	model, kind := d.Name("qm"), "NPN"
	if pnp {
		kind = "PNP"
	}
	d.Line("%s %s %s %s %s", d.Name("Q"), collector, base, emitter, model)
	d.Line(".model %s %s(IS=%.15g BF=%.15g BR=1 NF=%g NR=%g)", model, kind, saturation(forward)/(1/gain+0.5), gain, ideality, ideality)
	d.Join(base, collector, emitter)
}

// Switch writes a plain resistance from a to b while control is above reference
// by more than the threshold. (The simulator's own switch can be open for sine
// waves where it was closed for direct current.)
func (d *Deck) Switch(a, b, control, reference string, threshold, ohms float64) {
	d.Law(a, b, "u(%s-%.15g)*%s/%.15g", Across(control, reference), threshold, Across(a, b), ohms)
	d.Mention(control)
	d.Mention(reference)
}

// OneWay writes a path that takes current from a to b only, ohms behind a drop,
// while control is above reference by more than the threshold.
func (d *Deck) OneWay(a, b, control, reference string, threshold, drop, ohms float64) {
	d.Law(a, b, "u(%s-%.15g)*max(%s-%.15g,0)/%.15g", Across(control, reference), threshold, Across(a, b), drop, ohms)
	d.Mention(control)
	d.Mention(reference)
}

// Amplifier writes a powered op-amp with a gain of 1e5 behind 10 Ω, which stops at
// low above the lower supply and high below the upper. What it gives comes from
// the upper supply, what it takes goes to the lower.
func (d *Deck) Amplifier(plus, minus, out, upper, lower string, high, low float64) {
	d.output(out, upper, lower, "min(max(1e5*%s,%.15g),%s-%.15g)", Across(plus, minus), low, Across(upper, lower), high)
	d.Mention(plus)
	d.Mention(minus)
}

// Working writes an op-amp that knows no limits, see Amplifier.
func (d *Deck) Working(plus, minus, out, upper, lower string) {
	d.output(out, upper, lower, "1e5*%s", Across(plus, minus))
	d.Mention(plus)
	d.Mention(minus)
}

// Stuck writes an op-amp that sits at one of its limits, see Amplifier.
func (d *Deck) Stuck(out, upper, lower string, high, low float64, top bool) {
	if top {
		d.output(out, upper, lower, "%s-%.15g", Across(upper, lower), high)
	} else {
		d.output(out, upper, lower, "%.15g", low)
	}
}

func (d *Deck) output(out, upper, lower, format string, args ...any) {
	inner, behind := d.level(lower, format, args...), d.Name("o")
	amps := d.Sense(inner, behind)
	d.Resistor(behind, out, 10)
	d.Law(upper, lower, "max(%s,0)", amps)
}

// Regulator writes a powered linear regulator that gives current: out stands at
// the lesser of volts and dropout below its input. It gives the expression for
// what it gives; a regulator only gives, which the caller must see to.
func (d *Deck) Regulator(in, out, ground string, volts, dropout float64) (amps string) {
	amps = d.Sense(d.level(ground, "max(min(%.15g,%s-%.15g),0)", volts, Across(in, ground), dropout), out)
	d.Law(in, ground, "%s", amps)
	return amps
}

// Coupler writes an optocoupler: out of its LED's current times ratio it makes
// one from collector to emitter, saturating as tanh(V/0.1 V).
func (d *Deck) Coupler(anode, cathode, collector, emitter string, forward, ratio float64) {
	mid := d.Name("m")
	amps := d.Sense(anode, mid)
	d.Diode(mid, cathode, forward)
	d.Law(collector, emitter, "%.15g*max(%s,0)*tanh(%s/0.1)", ratio, amps, Across(collector, emitter))
}

// Holding writes a supply that takes whatever volts bring a node to a value over
// another, and gives the name of its element. It knows no ends, which the caller
// must see to.
func (d *Deck) Holding(plus, minus, node, zero string, volts float64) string {
	name, inner := d.Name("V"), d.level(minus, "1e7*(%.15g-%s)", volts, Across(node, zero))
	d.Line("%s %s %s DC 0", name, plus, inner)
	d.Join(plus, inner)
	d.Mention(node)
	d.Mention(zero)
	return name
}
