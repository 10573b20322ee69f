package profile

import (
	"math"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// Kind is a kind of part, as the file names it.
type Kind string

// The kinds of part.
const (
	Resistor    Kind = "resistor"
	Capacitor   Kind = "capacitor"
	Inductor    Kind = "inductor"
	Diode       Kind = "diode"
	Zener       Kind = "zener"
	LED         Kind = "led"
	Bridge      Kind = "bridge"
	Varistor    Kind = "varistor"
	Thermistor  Kind = "thermistor"
	Fuse        Kind = "fuse"
	Link        Kind = "link"
	Opamp       Kind = "opamp"
	Comparator  Kind = "comparator"
	Regulator   Kind = "regulator"
	NPN         Kind = "npn"
	PNP         Kind = "pnp"
	NMOS        Kind = "nmos"
	PMOS        Kind = "pmos"
	IGBT        Kind = "igbt"
	Optocoupler Kind = "optocoupler"
	InputPin    Kind = "input_pin"
	Switch      Kind = "switch"
	LoadPart    Kind = "load" // whatever is not drawn
)

// kindRule is a row of the table of kinds: how pins are written and which
// parameters there are.
type kindRule struct {
	list   []string // pin names when pins are written as a list; nil: they are not
	named  []string // pin names when pins are written as a map; nil: they are not
	params []written.Rule
}

var (
	open   = map[string]float64{"open": math.Inf(1)}
	none   = map[string]float64{"none": math.Inf(1)}
	twoPin = []string{"a", "b"}
	diode  = []string{"anode", "cathode"}
	bjt    = []string{"base", "collector", "emitter"}
	fet    = []string{"gate", "drain", "source"}
	amp    = []string{"plus", "minus", "out", "supply_plus", "supply_minus"}
)

func required(name string, u quantity.Unit) written.Rule {
	return written.Rule{Name: name, Unit: u, Required: true}
}

func defaulted(name string, u quantity.Unit, def float64) written.Rule {
	return written.Rule{Name: name, Unit: u, Default: def}
}

func tolerance(def float64) written.Rule {
	return written.Rule{Name: "tolerance", Unit: quantity.Percent, Default: def, Zero: true}
}

func forward(def float64) written.Rule { return defaulted("forward", quantity.Volt, def) }

// kinds is the table of kinds. The tolerance is that of the parameter after
// which it stands; every forward voltage and clamp has ±10 % of its own, which
// a diode, an LED or a bridge may state otherwise.
var kinds = map[Kind]kindRule{
	Resistor: {list: twoPin, params: []written.Rule{required("value", quantity.Ohm), tolerance(0.05)}},
	Capacitor: {list: twoPin, named: []string{"plus", "minus"}, params: []written.Rule{
		required("value", quantity.Farad), tolerance(0.2),
		{Name: "esr", Unit: quantity.Ohm, Default: math.NaN(), Zero: true}}},
	Inductor:   {list: twoPin, params: []written.Rule{defaulted("resistance", quantity.Ohm, 0.1), tolerance(0.2)}},
	Diode:      {named: diode, params: []written.Rule{forward(0.6), tolerance(0.1)}},
	Zener:      {named: diode, params: []written.Rule{required("zener", quantity.Volt), tolerance(0.05), forward(0.65)}},
	LED:        {named: diode, params: []written.Rule{forward(1.8), tolerance(0.1)}},
	Bridge:     {named: []string{"ac1", "ac2", "plus", "minus"}, params: []written.Rule{forward(0.55), tolerance(0.1)}},
	Varistor:   {list: twoPin, params: []written.Rule{required("volts", quantity.Volt), tolerance(0.1)}},
	Thermistor: {list: twoPin, params: []written.Rule{required("value", quantity.Ohm), defaulted("beta", quantity.Plain, 3950), tolerance(0.05)}},
	Fuse:       {list: twoPin, params: []written.Rule{defaulted("resistance", quantity.Ohm, 0.05), tolerance(0.2)}},
	Link:       {list: twoPin, params: []written.Rule{defaulted("resistance", quantity.Ohm, 0.05), tolerance(0.2)}},
	Opamp: {named: amp, params: []written.Rule{
		{Name: "headroom_high", Unit: quantity.Volt, Default: 1.5, Zero: true},
		{Name: "headroom_low", Unit: quantity.Volt, Default: 0.1, Zero: true}}},
	Comparator: {named: amp},
	Regulator: {named: []string{"in", "out", "ground"}, params: []written.Rule{required("volts", quantity.Volt), tolerance(0.04),
		{Name: "dropout", Unit: quantity.Volt, Default: 2, Zero: true}}},
	NPN: {named: bjt, params: []written.Rule{defaulted("gain", quantity.Plain, 100), tolerance(0.3), forward(0.65)}},
	PNP: {named: bjt, params: []written.Rule{defaulted("gain", quantity.Plain, 100), tolerance(0.3), forward(0.65)}},
	NMOS: {named: fet, params: []written.Rule{defaulted("threshold", quantity.Volt, 3), tolerance(0.1),
		defaulted("on_resistance", quantity.Ohm, 0.1), forward(0.5)}},
	PMOS: {named: fet, params: []written.Rule{defaulted("threshold", quantity.Volt, 3), tolerance(0.1),
		defaulted("on_resistance", quantity.Ohm, 0.1), forward(0.5)}},
	IGBT: {named: []string{"gate", "collector", "emitter"}, params: []written.Rule{defaulted("threshold", quantity.Volt, 5),
		defaulted("on_volts", quantity.Volt, 1.5), forward(0.5)}},
	Optocoupler: {named: []string{"anode", "cathode", "collector", "emitter"}, params: []written.Rule{
		defaulted("ctr", quantity.Percent, 1), tolerance(0.2), forward(1.1)}},
	InputPin: {named: []string{"pin", "ground", "supply"}, params: []written.Rule{
		{Name: "clamp", Unit: quantity.Volt, Default: 0.6, Words: none},
		{Name: "resistance", Unit: quantity.Ohm, Default: 10e6, Words: open}}},
	Switch: {list: twoPin}, // closed is true or false, not a value
	LoadPart: {list: twoPin, params: []written.Rule{
		{Name: "unpowered", Unit: quantity.Ohm, Default: math.Inf(1), Words: open},
		{Name: "powered", Unit: quantity.Ohm, Default: math.Inf(1), Words: open}}},
}

// TwoPin tells whether a check can be taken across the part.
func (k Kind) TwoPin() bool {
	r := kinds[k]
	return r.list != nil || len(r.named) == 2
}
