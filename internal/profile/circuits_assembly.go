package profile

import (
	"math"

	"ohmstead/internal/circuit"
)

// assembly turns parts and sources into elements, one after the other.
type assembly struct {
	profile *Profile
	state   *State
	circuit *circuit.Circuit
	params  []circuit.Parameter
	owners  []Owner
	defects map[string][]Defect
	chips   []chip
	loads   []load
	driven  map[circuit.Node]bool // nodes that a source's plus or a powered regulator feeds
	warm    []thermistor
	celsius float64
	resize  map[string]func(ohms float64)
}

// chip is a part that only does something once its supply stands.
type chip struct {
	supply, ground circuit.Node
	out            circuit.Node // of a regulator, otherwise −1
	wake           func()
	awake          bool
}

type load struct {
	resistor *circuit.Resistor
	powered  float64
	awake    bool
}

// thermistor follows the ambient temperature.
type thermistor struct {
	element int
	set     func()
}

func newAssembly(p *Profile, s *State, defects []Defect) *assembly {
	a := &assembly{
		profile: p, state: s, circuit: circuit.New(), celsius: p.Ambient.Typical,
		defects: map[string][]Defect{}, driven: map[circuit.Node]bool{}, resize: map[string]func(float64){},
	}
	for _, d := range defects {
		a.defects[d.Part] = append(a.defects[d.Part], d)
	}
	return a
}

func (a *assembly) node(name string) circuit.Node { return a.circuit.Node(name) }

// pin gives the node on which a pin stands.
func (a *assembly) pin(p *Part, name string) circuit.Node { return a.node(p.Pin(name)) }

// ends gives the nodes of a part's first two pins.
func (a *assembly) ends(p *Part) (circuit.Node, circuit.Node) {
	return a.node(p.Pins[0].Node), a.node(p.Pins[1].Node)
}

// defect gives the size of a mode in which a part fails, if it does.
func (a *assembly) defect(p *Part, m Mode) (float64, bool) {
	for _, d := range a.defects[p.Ref] {
		if d.Mode == m {
			return d.Size, true
		}
	}
	return 0, false
}

// gone tells whether a part is open without any path left.
func (a *assembly) gone(p *Part) bool {
	_, ok := a.defect(p, ModeOpen)
	return ok
}

// vary adds a tolerance: set is called with the factor 1 + u·tolerance.
func (a *assembly) vary(part, source string, tolerance float64, set func(factor float64), elements ...int) {
	if tolerance == 0 {
		return
	}
	a.add(Owner{Part: part, Source: source}, func(u float64) { set(1 + u*tolerance) }, elements)
}

// add notes a parameter of the board.
func (a *assembly) add(of Owner, set func(u float64), elements []int) {
	a.params = append(a.params, circuit.Parameter{Elements: elements, Set: set})
	a.owners = append(a.owners, of)
}

// resistor adds a resistance that does not vary.
func (a *assembly) resistor(name string, x, y circuit.Node, ohms float64) (*circuit.Resistor, int) {
	r := &circuit.Resistor{Name: name, A: x, B: y, Ohms: ohms}
	return r, a.circuit.Add(r)
}

// beside adds the resistance of a mode that lies beside a path: short, leaky.
func (a *assembly) beside(p *Part, x, y circuit.Node, modes ...Mode) {
	for _, m := range modes {
		if size, ok := a.defect(p, m); ok {
			r, _ := a.resistor(p.Ref, x, y, size)
			a.resize[p.Ref] = func(ohms float64) { r.Ohms = ohms }
		}
	}
}

// junction adds a junction of a part; the caller says how it varies.
func (a *assembly) junction(p *Part, anode, cathode circuit.Node, forward float64, off bool) (*circuit.Junction, int) {
	j := circuit.NewJunction(p.Ref, anode, cathode, forward)
	j.Off = off
	return j, a.circuit.Add(j)
}

// varyForward lets the forward volts of junctions of one part move together.
func (a *assembly) varyForward(p *Part, forward, tolerance float64, elements []int, js ...*circuit.Junction) {
	set := func(f float64) {
		is := circuit.Saturation(forward * f)
		for _, j := range js {
			j.Is = is
		}
	}
	a.vary(p.Ref, "", tolerance, set, elements...)
}

// part adds the elements of one part.
func (a *assembly) part(p *Part) {
	switch p.Kind {
	case Resistor, Inductor, Fuse, Link, Thermistor:
		a.resistive(p)
	case Capacitor:
		a.capacitor(p)
	case Diode, LED, Zener:
		a.diode(p)
	case Bridge:
		a.bridge(p)
	case Varistor:
		a.varistor(p)
	case Opamp:
		a.opamp(p)
	case Comparator:
		a.comparator(p)
	case Regulator:
		a.regulator(p)
	case NPN, PNP:
		a.bipolar(p)
	case NMOS, PMOS:
		a.mosfet(p)
	case IGBT:
		a.igbt(p)
	case Optocoupler:
		a.optocoupler(p)
	case InputPin:
		a.inputPin(p)
	case Switch:
		a.switched(p)
	case LoadPart:
		a.load(p)
	}
}

// resistive adds a resistor or a thermistor, or what is one at direct current.
func (a *assembly) resistive(p *Part) {
	x, y := a.ends(p)
	nominal, beta := p.Ohms(), 0.0
	if p.Kind == Thermistor {
		beta = p.Param("beta")
	}
	if size, ok := a.defect(p, ModeOpen); ok {
		a.resistor(p.Ref, x, y, size)
		return
	}
	if size, ok := a.defect(p, ModeShort); ok {
		a.resistor(p.Ref, x, y, size)
		return
	}
	factor := 1.0
	if size, ok := a.defect(p, ModeHigh); ok {
		factor *= size
	}
	if size, ok := a.defect(p, ModeLow); ok {
		factor /= size
	}
	r, i := a.resistor(p.Ref, x, y, nominal*factor)
	within, fixed := 1.0, 0.0
	set := func() {
		r.Ohms = nominal * factor * within
		if fixed > 0 {
			r.Ohms = fixed
		}
		if beta > 0 {
			r.Ohms = circuit.NTC(r.Ohms, beta, a.celsius)
		}
	}
	set()
	a.resize[p.Ref] = func(ohms float64) { fixed = ohms; set() }
	if beta > 0 {
		a.warm = append(a.warm, thermistor{i, set})
	}
	a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { within = f; set() }, i)
}

// ambient adds the temperature that all thermistors share.
func (a *assembly) ambient() {
	if len(a.warm) == 0 || a.profile.Ambient.Tolerance == 0 {
		return
	}
	var elements []int
	for _, t := range a.warm {
		elements = append(elements, t.element)
	}
	typical, tolerance := a.profile.Ambient.Typical, a.profile.Ambient.Tolerance
	a.add(Owner{}, func(u float64) {
		a.celsius = typical + u*tolerance
		for _, t := range a.warm {
			t.set()
		}
	}, elements)
}

func (a *assembly) capacitor(p *Part) {
	x, y := a.ends(p)
	a.beside(p, x, y, ModeShort, ModeLeaky)
	if a.gone(p) {
		return
	}
	esr := p.Param("esr")
	if math.IsNaN(esr) {
		esr = 0
	}
	nominal := p.Param("value")
	if size, ok := a.defect(p, ModeTired); ok {
		nominal /= size
		esr = max(esr*size, tiredOhms*(size-1))
	}
	c := &circuit.Capacitor{Name: p.Ref, A: x, B: y, Farads: nominal, ESR: esr}
	i := a.circuit.Add(c)
	a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { c.Farads = nominal * f }, i)
}

// tiredOhms is the series resistance that a tired capacitor of unknown ESR
// gains with each halving or so of its capacity.
const tiredOhms = 0.5

func (a *assembly) varistor(p *Part) {
	x, y := a.ends(p)
	a.beside(p, x, y, ModeShort, ModeLeaky)
	nominal := p.Param("volts")
	r := &circuit.Varistor{Name: p.Ref, A: x, B: y, Volts: nominal, Off: a.gone(p)}
	i := a.circuit.Add(r)
	a.vary(p.Ref, "", p.Param("tolerance"), func(f float64) { r.Volts = nominal * f }, i)
}

func (a *assembly) switched(p *Part) {
	closed, ok := a.state.Switches[p.Ref]
	if !ok {
		closed = p.Param("closed") != 0
	}
	x, y := a.ends(p)
	r, _ := a.resistor(p.Ref, x, y, contactOhms)
	r.Off = !closed
}

func (a *assembly) load(p *Part) {
	x, y := a.ends(p)
	r, _ := a.resistor(p.Ref, x, y, p.Param("unpowered"))
	a.loads = append(a.loads, load{resistor: r, powered: p.Param("powered")})
}

// source adds a supply of the state.
func (a *assembly) source(s Source) {
	e := &circuit.Source{
		Name: s.Name, Plus: a.node(s.Plus), Minus: a.node(s.Minus),
		Volts: s.Volts, Ohms: sourceOhms, Limit: s.Limit,
	}
	set := func(f float64) { e.Volts = s.Volts * f }
	switch s.Kind {
	case AmpsSource:
		e.Volts, e.Limit, e.Off = s.AtMost, s.Amps, s.Amps == 0
		set = func(f float64) { e.Limit = s.Amps * f }
	case HoldsSource:
		e.Volts = s.AtMost
		e.Hold = &circuit.Hold{Node: a.node(s.Holds.Node), Zero: a.node(s.Holds.To), Volts: s.Holds.Volts}
		set = func(f float64) { e.Hold.Volts = s.Holds.Volts * f }
	case ACSource:
		e.Volts, e.Ohms, e.Limit = 0, mainsOhms, 0
		e.AC, e.Hertz = s.VoltsAC, s.Frequency
		set = func(f float64) { e.AC = s.VoltsAC * f }
	}
	i := a.circuit.Add(e)
	a.driven[e.Plus] = true
	a.vary("", s.Name, s.Tolerance, set, i)
}
