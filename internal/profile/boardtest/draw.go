package boardtest

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/profile"
)

// drawing is a board drawn for the simulator from its parts, by the table of
// kinds and the laws of the formats: nothing of the circuit that Board makes.
//
// What has corners and would keep the simulator from an answer (limits of
// supplies, chips that wake) is drawn in one of its conditions, and watched: the
// simulator's answer says whether the condition holds, or which to draw next.
type drawing struct {
	p       *profile.Profile
	state   *profile.State
	defects []profile.Defect
	lifted  string // only this part is there
	still   bool   // for impedances: all that is not linear is off
	metered bool   // a meter is on it
	exact   bool   // diodes leak by the law, see spicetest.Deck

	awake map[string]bool   // chips whose supply was seen to stand
	mode  map[string]string // condition of a source or a regulator, "" at first

	deck    *spicetest.Deck
	watches []watch
	mains   map[string]mains // alternating supplies by element
	bent    bool             // a junction is in it
}

// watch is what a condition hinges on.
type watch struct {
	wakes bool     // tried only when all others hold
	see   []string // expressions
	// judge gives the condition to draw next, or the same.
	judge func(v []float64) string
	part  string
}

func newDrawing(p *profile.Profile, state string, defects []profile.Defect) *drawing {
	s, _ := p.State(state)
	return &drawing{p: p, state: s, defects: defects, awake: map[string]bool{}, mode: map[string]string{}}
}

// String names the board for messages.
func (d *drawing) String() string {
	what := fmt.Sprintf("%s %s %s %v", d.p.ID, d.p.Revision, d.state.ID, d.defects)
	if d.lifted != "" {
		what += ", " + d.lifted + " lifted"
	}
	return what
}

// draw writes the board in its present conditions.
func (d *drawing) draw() {
	d.deck, d.watches, d.mains, d.bent = &spicetest.Deck{Exact: d.exact}, nil, map[string]mains{}, false
	for i := range d.p.Parts {
		if part := &d.p.Parts[i]; d.lifted == "" || part.Ref == d.lifted {
			d.part(part)
		}
	}
	if d.lifted == "" {
		for _, s := range d.state.Sources {
			d.source(s)
		}
	}
}

// copy gives the board as it stands, for a meter of its own; still: for
// impedances.
func (d *drawing) copy(still bool) *drawing {
	out := *d
	out.metered, out.still, out.mode = true, still, maps.Clone(d.mode)
	return &out
}

// node gives the simulator's name of a node.
func (d *drawing) node(name string) string {
	if name == d.p.Ground {
		return "0"
	}
	n := fmt.Sprintf("n%d", slices.Index(d.p.Nodes, name))
	d.deck.Mention(n)
	return n
}

func (d *drawing) pin(p *profile.Part, name string) string { return d.node(p.Pin(name)) }

// fails gives the size of a defect, if the part has it.
func (d *drawing) fails(p *profile.Part, m profile.Mode) (float64, bool) {
	for _, f := range d.defects {
		if f.Part == p.Ref && f.Mode == m {
			return f.Size, true
		}
	}
	return 0, false
}

func (d *drawing) has(p *profile.Part, m profile.Mode) bool {
	_, ok := d.fails(p, m)
	return ok
}

// beside draws the resistance that a short or a leak lays between two nodes.
func (d *drawing) beside(p *profile.Part, a, b string, modes ...profile.Mode) {
	for _, m := range modes {
		if ohms, ok := d.fails(p, m); ok {
			d.deck.Resistor(a, b, ohms)
		}
	}
}

// diode draws a junction unless all that is not linear is off.
func (d *drawing) diode(anode, cathode string, forward float64) {
	if !d.still {
		d.deck.Diode(anode, cathode, forward)
		d.bent = true
	}
}

func (d *drawing) part(p *profile.Part) {
	switch p.Kind {
	case profile.Resistor, profile.Thermistor, profile.Inductor, profile.Fuse, profile.Link:
		d.resistive(p)
	case profile.Capacitor:
		d.capacitor(p)
	case profile.Diode, profile.LED, profile.Zener:
		d.twoPinJunction(p)
	case profile.Bridge:
		d.bridge(p)
	case profile.Varistor:
		a, b := d.pin(p, "a"), d.pin(p, "b")
		d.beside(p, a, b, profile.ModeShort, profile.ModeLeaky)
		if !d.has(p, profile.ModeOpen) && !d.still {
			d.deck.Varistor(a, b, p.Param("volts"))
			d.bent = true
		}
	case profile.Opamp, profile.Comparator, profile.Regulator:
		d.chip(p)
	case profile.NPN, profile.PNP:
		b, c, e := d.pin(p, "base"), d.pin(p, "collector"), d.pin(p, "emitter")
		d.beside(p, c, e, profile.ModeShort)
		if !d.has(p, profile.ModeOpen) && !d.still {
			d.deck.Bipolar(b, c, e, p.Param("gain"), p.Param("forward"), p.Kind == profile.PNP)
			d.bent = true
		}
	case profile.NMOS, profile.PMOS, profile.IGBT:
		d.switching(p)
	case profile.Optocoupler:
		d.optocoupler(p)
	case profile.InputPin:
		d.inputPin(p)
	case profile.Switch:
		closed, said := d.state.Switches[p.Ref]
		if closed || !said && p.Param("closed") != 0 {
			d.deck.Resistor(d.pin(p, "a"), d.pin(p, "b"), 0.05)
		}
	case profile.LoadPart:
		ohms := p.Param("unpowered")
		if d.fed(p.Pin("a")) || d.fed(p.Pin("b")) {
			ohms = p.Param("powered")
		}
		d.deck.Resistor(d.pin(p, "a"), d.pin(p, "b"), ohms)
	}
}

// resistive: the value, drifted or with the resistance of the defect in its
// place; a thermistor's by the beta law at the bench's temperature.
func (d *drawing) resistive(p *profile.Part) {
	ohms := p.Param("value")
	if p.Kind != profile.Resistor && p.Kind != profile.Thermistor {
		ohms = p.Param("resistance")
	}
	if p.Kind == profile.Thermistor {
		ohms *= math.Exp(p.Param("beta") * (1/(d.p.Ambient.Typical+273.15) - 1/298.15))
	}
	if by, ok := d.fails(p, profile.ModeHigh); ok {
		ohms *= by
	}
	if by, ok := d.fails(p, profile.ModeLow); ok {
		ohms /= by
	}
	for _, m := range []profile.Mode{profile.ModeOpen, profile.ModeShort} {
		if size, ok := d.fails(p, m); ok {
			ohms = size
		}
	}
	d.deck.Resistor(d.node(p.Pins[0].Node), d.node(p.Pins[1].Node), ohms)
}

// capacitor: open at direct current. A tired one has its capacity divided and
// its series resistance multiplied, or half an ohm for each time it was divided.
func (d *drawing) capacitor(p *profile.Part) {
	a, b := d.node(p.Pins[0].Node), d.node(p.Pins[1].Node)
	d.beside(p, a, b, profile.ModeShort, profile.ModeLeaky)
	farads, esr := p.Param("value"), p.Param("esr")
	if math.IsNaN(esr) {
		esr = 0
	}
	if by, ok := d.fails(p, profile.ModeTired); ok {
		farads, esr = farads/by, math.Max(esr*by, 0.5*(by-1))
	}
	if !d.has(p, profile.ModeOpen) {
		d.deck.Capacitor(a, b, farads, esr)
		if d.still {
			d.deck.Join(a, b)
		}
	}
}

func (d *drawing) twoPinJunction(p *profile.Part) {
	a, k := d.pin(p, "anode"), d.pin(p, "cathode")
	d.beside(p, a, k, profile.ModeShort, profile.ModeLeaky)
	if d.has(p, profile.ModeOpen) {
		return
	}
	d.diode(a, k, p.Param("forward"))
	if p.Kind == profile.Zener && !d.still {
		d.deck.Breakdown(a, k, p.Param("zener"))
	}
}

// bridge: four diodes, of which any one may be open or a resistance.
func (d *drawing) bridge(p *profile.Part) {
	ends := [][2]string{{"ac1", "plus"}, {"ac2", "plus"}, {"minus", "ac1"}, {"minus", "ac2"}}
	for i, e := range ends {
		a, k, gone := d.pin(p, e[0]), d.pin(p, e[1]), false
		for _, f := range d.defects {
			if f.Part == p.Ref && f.Diode == i {
				gone = true
				if f.Mode == profile.ModeShort {
					d.deck.Resistor(a, k, f.Size)
				}
			}
		}
		if !gone {
			d.diode(a, k, p.Param("forward"))
		}
	}
}

// switching draws a MOSFET or an IGBT and the diode that comes with it.
func (d *drawing) switching(p *profile.Part) {
	path := map[profile.Kind][2]string{profile.NMOS: {"drain", "source"}, profile.PMOS: {"source", "drain"}, profile.IGBT: {"collector", "emitter"}}[p.Kind]
	from, to, gate := d.pin(p, path[0]), d.pin(p, path[1]), d.pin(p, "gate")
	d.beside(p, from, to, profile.ModeShort)
	if d.has(p, profile.ModeOpen) {
		return
	}
	d.diode(to, from, p.Param("forward"))
	switch threshold := p.Param("threshold"); {
	case d.still:
	case p.Kind == profile.NMOS:
		d.deck.Switch(from, to, gate, to, threshold, p.Param("on_resistance"))
	case p.Kind == profile.PMOS:
		d.deck.Switch(from, to, from, gate, threshold, p.Param("on_resistance"))
	default:
		d.deck.OneWay(from, to, gate, to, threshold, p.Param("on_volts"), 0.1)
	}
}

func (d *drawing) optocoupler(p *profile.Part) {
	a, k, c, e := d.pin(p, "anode"), d.pin(p, "cathode"), d.pin(p, "collector"), d.pin(p, "emitter")
	d.beside(p, c, e, profile.ModeOutputShort)
	ratio := p.Param("ctr")
	if by, ok := d.fails(p, profile.ModeWeak); ok {
		ratio /= by
	}
	dark, cut := d.has(p, profile.ModeLEDOpen), d.has(p, profile.ModeOutputOpen)
	switch {
	case d.still || dark:
	case cut:
		d.diode(a, k, p.Param("forward"))
	default:
		d.deck.Coupler(a, k, c, e, p.Param("forward"), ratio)
		d.bent = true
	}
}

func (d *drawing) inputPin(p *profile.Part) {
	pin, ground, supply := d.pin(p, "pin"), d.pin(p, "ground"), d.pin(p, "supply")
	d.beside(p, pin, ground, profile.ModeShort, profile.ModeLeaky)
	d.deck.Resistor(pin, ground, p.Param("resistance"))
	if clamp := p.Param("clamp"); !math.IsInf(clamp, 1) {
		d.diode(ground, pin, clamp)
		d.diode(pin, supply, clamp)
	}
}
