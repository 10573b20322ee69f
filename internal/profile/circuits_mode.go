package profile

import "strings"

// Mode is a way in which a part fails.
type Mode string

// The modes; Modes says which kind has which.
const (
	ModeOpen        Mode = "open"
	ModeShort       Mode = "short"
	ModeHigh        Mode = "high"
	ModeLow         Mode = "low"
	ModeLeaky       Mode = "leaky"
	ModeTired       Mode = "tired" // capacity down, series resistance up
	ModeStuckHigh   Mode = "stuck_high"
	ModeStuckLow    Mode = "stuck_low"
	ModeDead        Mode = "dead"
	ModeLEDOpen     Mode = "led_open"
	ModeOutputOpen  Mode = "output_open"
	ModeOutputShort Mode = "output_short"
	ModeWeak        Mode = "weak"
)

// modes is the table "Ways a part fails" of the formats; kinds that are not in
// it (switch, load) do not fail.
var modes = map[Kind][]Mode{
	Resistor:    {ModeOpen, ModeShort, ModeHigh, ModeLow},
	Thermistor:  {ModeOpen, ModeShort, ModeHigh, ModeLow},
	Inductor:    {ModeOpen},
	Fuse:        {ModeOpen},
	Link:        {ModeOpen},
	Capacitor:   {ModeShort, ModeLeaky, ModeOpen, ModeTired},
	Varistor:    {ModeShort, ModeLeaky, ModeOpen},
	Diode:       {ModeOpen, ModeShort, ModeLeaky},
	Zener:       {ModeOpen, ModeShort, ModeLeaky},
	LED:         {ModeOpen, ModeShort, ModeLeaky},
	Bridge:      {ModeOpen, ModeShort},
	Opamp:       {ModeStuckHigh, ModeStuckLow, ModeDead},
	Comparator:  {ModeStuckHigh, ModeStuckLow, ModeDead},
	Regulator:   {ModeDead, ModeHigh, ModeLow},
	NPN:         {ModeOpen, ModeShort},
	PNP:         {ModeOpen, ModeShort},
	NMOS:        {ModeOpen, ModeShort},
	PMOS:        {ModeOpen, ModeShort},
	IGBT:        {ModeOpen, ModeShort},
	Optocoupler: {ModeLEDOpen, ModeOutputOpen, ModeOutputShort, ModeWeak},
	InputPin:    {ModeShort, ModeLeaky},
}

// Modes gives the ways in which a kind of part fails, most plain first. The
// caller must not change the list.
func (k Kind) Modes() []Mode { return modes[k] }

// Words gives the mode as a technician says it: "stuck high", "open".
func (m Mode) Words() string {
	switch m {
	case ModeShort:
		return "shorted"
	case ModeOutputShort:
		return "output shorted"
	case ModeLEDOpen:
		return "LED open"
	}
	return strings.ReplaceAll(string(m), "_", " ")
}
