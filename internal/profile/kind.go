package profile

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
	Load        Kind = "load"
)
