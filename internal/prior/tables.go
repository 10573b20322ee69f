package prior

import "ohmstead/internal/profile"

// class is a kind of part as the published tables divide them.
type class string

const (
	filmResistor   class = "film resistor"
	powerResistor  class = "power film resistor"
	thermistor     class = "thermistor"
	electrolytic   class = "aluminium electrolytic"
	ceramic        class = "ceramic capacitor"
	plasticFilm    class = "plastic film capacitor"
	coil           class = "coil"
	diode          class = "diode"
	rectifier      class = "rectifier"
	zener          class = "Zener diode"
	led            class = "LED"
	varistor       class = "varistor"
	fuse           class = "fuse"
	link           class = "connector or joint"
	linear         class = "linear circuit"
	supply         class = "supply"
	bipolar        class = "bipolar transistor"
	mosfet         class = "field-effect transistor"
	optocoupler    class = "optocoupler"
	controllerPins class = "controller pin"
)

// rates are failures per 10⁶ h, ground fixed, quality factor 1:
// MIL-HDBK-217F Notice 2, Appendix A, as one public copy gives them. Where a
// kind has no row, the row taken is named.
var rates = map[class]float64{
	filmResistor: 0.0027, powerResistor: 0.025, thermistor: 0.32,
	electrolytic: 0.081, ceramic: 0.0074, plasticFilm: 0.0083,
	coil:  0.0073,
	diode: 0.028, rectifier: 0.022, zener: 0.024, led: 0.0012, varistor: 0.023,
	fuse: 0.020, link: 0.021, // board connector
	linear:  0.024,
	supply:  0.024, // linear circuit
	bipolar: 0.0011, mosfet: 0.099, optocoupler: 0.070,
	controllerPins: 0.17 / 16, // a 16-bit microprocessor, over a handful of pins
}

// shares are the parts of a class's failures that are of each mode.
type shares map[profile.Mode]float64

// Table is one published account of how parts fail.
type Table string

// The tables. Each falls back on Handbook for the classes that it does not have.
const (
	// Handbook is MIL-HDBK-338B (1998), section 7.8, drawn from FMD-91, from
	// memory. A change in value is high or low as said at each row; modes that a
	// kind of part does not have here are left out and the rest counts alone.
	Handbook Table = "handbook"
	// Maker is Lazzaroni et al., Reliability Engineering: Basic Concepts and
	// Applications in ICT (2011), Table 8.11, a board maker's own figures.
	Maker Table = "maker"
	// Component follows a public table said to be after IEC 61709; its
	// provenance is weak.
	Component Table = "component"
)

// Tables gives all of them.
func Tables() []Table { return []Table{Handbook, Maker, Component} }

// What the tables do not say is a judgement of this project: thick-film chips
// drift up, seldom down (common practice, no source); a warm electrolytic first
// shows as capacity lost and series resistance gained, which the handbook's 2 %
// does not count; a bad ceramic capacitor conducts a little about as often as it
// shorts; a fuse here only fails open.
var published = map[Table]map[class]shares{
	Handbook: {
		filmResistor:  {profile.ModeOpen: 0.59, profile.ModeHigh: 0.29, profile.ModeLow: 0.07, profile.ModeShort: 0.05},
		powerResistor: {profile.ModeOpen: 0.65, profile.ModeHigh: 0.21, profile.ModeLow: 0.05, profile.ModeShort: 0.09},
		thermistor:    {profile.ModeOpen: 0.63, profile.ModeHigh: 0.11, profile.ModeLow: 0.11, profile.ModeShort: 0.15},
		electrolytic:  {profile.ModeShort: 0.35, profile.ModeOpen: 0.23, profile.ModeLeaky: 0.07, profile.ModeTired: 0.35},
		ceramic:       {profile.ModeShort: 0.29, profile.ModeLeaky: 0.20, profile.ModeTired: 0.29, profile.ModeOpen: 0.22},
		plasticFilm:   {profile.ModeOpen: 0.42, profile.ModeShort: 0.30, profile.ModeLeaky: 0.10, profile.ModeTired: 0.18},
		coil:          {profile.ModeOpen: 1},
		diode:         {profile.ModeShort: 0.49, profile.ModeOpen: 0.36, profile.ModeLeaky: 0.15},
		rectifier:     {profile.ModeShort: 0.51, profile.ModeOpen: 0.29},
		zener:         {profile.ModeOpen: 0.45, profile.ModeLeaky: 0.35, profile.ModeShort: 0.20},
		led:           {profile.ModeOpen: 0.68, profile.ModeShort: 0.29, profile.ModeLeaky: 0.03},
		varistor:      {profile.ModeShort: 0.5, profile.ModeLeaky: 0.3, profile.ModeOpen: 0.2}, // no row; ours
		fuse:          {profile.ModeOpen: 1},
		link:          {profile.ModeOpen: 1},
		linear:        {profile.ModeStuckHigh: 0.385, profile.ModeStuckLow: 0.385, profile.ModeDead: 0.23},
		supply:        {profile.ModeDead: 0.52, profile.ModeHigh: 0.16, profile.ModeLow: 0.32},
		bipolar:       {profile.ModeShort: 0.73, profile.ModeOpen: 0.27},
		mosfet:        {profile.ModeShort: 0.51, profile.ModeOpen: 0.27}, // open, and output low
		optocoupler: {profile.ModeLEDOpen: 0.35, profile.ModeOutputOpen: 0.25, // an LED and a sensor, half each
			profile.ModeOutputShort: 0.25, profile.ModeWeak: 0.15},
		controllerPins: {profile.ModeShort: 0.5, profile.ModeLeaky: 0.5},
	},
	Maker: {
		filmResistor: {profile.ModeOpen: 0.8, profile.ModeShort: 0.1, profile.ModeHigh: 0.08, profile.ModeLow: 0.02},
		ceramic:      {profile.ModeOpen: 0.4, profile.ModeShort: 0.24, profile.ModeLeaky: 0.16, profile.ModeTired: 0.2},
	},
	Component: {
		filmResistor: {profile.ModeOpen: 0.6, profile.ModeHigh: 0.24, profile.ModeLow: 0.06, profile.ModeShort: 0.1},
		ceramic:      {profile.ModeShort: 0.42, profile.ModeLeaky: 0.28, profile.ModeOpen: 0.15, profile.ModeTired: 0.15},
		electrolytic: {profile.ModeShort: 0.4, profile.ModeLeaky: 0.1, profile.ModeOpen: 0.3, profile.ModeTired: 0.2},
		mosfet:       {profile.ModeShort: 0.55, profile.ModeOpen: 0.3},
	},
}
