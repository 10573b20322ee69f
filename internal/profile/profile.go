// Package profile knows board profiles: what the parts of one board revision
// are and how they are connected, where it can be touched, in which states and
// with which checks it is measured, what belongs together and what the board's
// own indications mean.
//
// It reads the files (Load, LoadFile), merges siblings that are based on each
// other, reports every error with file, line and column, and resolves places to
// nodes. What a profile's circuit does when it is solved is the business of the
// circuit package; what a reading means, of analysis.
package profile

import "ohmstead/internal/written"

// Profile is one board profile, complete: siblings merged, defaults filled in,
// places resolved. Lists keep the order of the file. Values are in base units,
// percentages are fractions.
type Profile struct {
	File     string // where it was read from, for messages
	ID       string
	Title    string
	Family   string // given, or the title up to its first comma
	Revision string
	BasedOn  string // the parent's id, empty when it stands alone
	Note     string
	Ground   string // the node that reads 0 V; may be empty when there are no parts

	StoredEnergy  []string // capacitors to discharge and prove dead before cold work
	HazardousLive []string // nodes that are live where a state's LiveCommon is false
	Alike         [][]string
	Ambient       Ambient

	Parts       []Part
	Points      []Point
	States      []State // cold is always the first
	Checks      []Check
	Blocks      []Block
	Indications []Indication // in order of priority

	Nodes    []string         // every node, in the order of its first mention
	Warnings []*written.Error // what is allowed but probably a slip

	index   index
	islands map[string]islands
	tree    *written.Node // as written, parents merged in; for Flatten
}

// Ambient is the temperature of the bench in °C, for thermistors.
type Ambient struct {
	Typical   float64
	Tolerance float64
}

// Part is one part of the board.
type Part struct {
	Ref  string // designator
	Kind Kind
	Pins []Pin // in the order of the table of kinds; two-pin parts: red pin first

	// Params holds every parameter of the kind in base units, defaults filled
	// in: "value", "tolerance", "forward" and so on. "open" and "none" are
	// +Inf, an unknown esr is NaN, closed is 1 or 0, percentages are fractions.
	Params map[string]float64

	Where   string
	Package string
	Marking string
	Note    string
	Rating  Rating
	Safety  bool // replace by the same class only
	Photo   *Photo
}

// Pin is one pin of a part and the node on which it stands.
type Pin struct {
	Name string
	Node string
}

// Rating is what a part is rated for; 0 means not given.
type Rating struct {
	Volts float64
	Watts float64
}

// Photo is a place on the board's photograph, as fractions of its width and
// height from the upper left corner.
type Photo struct {
	X, Y float64
}

// Point is a named place to touch.
type Point struct {
	Name  string
	Node  string
	To    string // the node that is its zero as written, empty when not given
	Where string
	Note  string
	Photo *Photo
}

// Hazard says how dangerous it is to work in a state.
type Hazard string

// The hazards, from harmless to deadly.
const (
	HazardNone      Hazard = "none"
	ExtraLowVoltage Hazard = "extra_low_voltage" // up to 60 V DC, current-limited
	Hazardous       Hazard = "hazardous"
)

// Cold is the id of the unpowered state, which every profile has.
const Cold = "cold"

// State is one way in which the board stands on the bench.
type State struct {
	ID           string
	Title        string
	Note         string
	Hazard       Hazard
	SetupMinutes float64
	LiveCommon   bool // every node is live, the common too
	Sources      []Source
	Switches     map[string]bool // overrides of switches: true is closed
}

// SourceKind tells which of its values drives a source.
type SourceKind string

// The kinds of source.
const (
	VoltsSource SourceKind = "volts"    // Volts, up to Limit
	AmpsSource  SourceKind = "amps"     // Amps out of plus through the board into minus, up to AtMost volts
	HoldsSource SourceKind = "holds"    // the volts, 0 to AtMost, at which Holds is met
	ACSource    SourceKind = "volts_ac" // VoltsAC rms at Frequency
)

// Source is one supply that a state connects between two nodes.
type Source struct {
	Name      string
	Kind      SourceKind
	Plus      string
	Minus     string
	Volts     float64 // volts DC
	Amps      float64 // amperes DC
	VoltsAC   float64 // volts rms
	Frequency float64 // hertz
	AtMost    float64 // volts
	Holds     Holds
	Tolerance float64 // fraction
	Limit     float64 // amperes beyond which the voltage falls; AC sources have 0.1 Ω instead
}

// Holds is the node that a regulated supply keeps at a value.
type Holds struct {
	Node  string
	To    string // the node that is its zero, resolved
	Volts float64
}

// Measure is what the meter is set to.
type Measure string

// The measures.
const (
	MeasureResistance  Measure = "resistance"
	MeasureDiode       Measure = "diode"
	MeasureDCVolts     Measure = "dc_volts"
	MeasureACVolts     Measure = "ac_volts"
	MeasureCapacitance Measure = "capacitance"
	MeasureESR         Measure = "esr"
)

// Check is one measurement that a technician can make. Across, Red, Black and
// Swapped stand as written; RedNode and BlackNode are where the probes are.
type Check struct {
	ID      string
	State   string
	Measure Measure
	Across  string // designator, or empty
	Red     string // place as written, or empty
	Black   string // place as written, or empty
	Lifted  bool   // one leg of the part off the board: the part alone
	Swapped bool
	Minutes float64 // without set-up
	Note    string

	RedNode   string
	BlackNode string
}

// Key is what makes two checks the same measurement.
type Key struct {
	State   string
	Measure Measure
	Lifted  string // the part that is lifted, or empty: only then does the part matter
	Red     string // node
	Black   string // node
}

// Block is what belongs together, in the order the signal runs.
type Block struct {
	ID       string
	Title    string
	Note     string
	Path     []string // nodes, points and designators in turn
	Parts    []string // designators
	Believes *Believes
	Safety   bool // its function must be proven before hand-over
}

// Believes says how the controller understands a node: proportional to the
// source Of, and full scale at FullScale volts of the node.
type Believes struct {
	Node      string
	Of        string // name of a source
	FullScale float64
}

// Indication is something the board shows by itself.
type Indication struct {
	Code          string
	Shows         string
	Meaning       string
	Note          string
	Blocks        []string
	Limits        []Limit // shown when any of these is violated
	NormalOnBench bool
}

// Limit is a condition on one node in one state. A bound that is not given is
// −Inf (Below) or +Inf (Above): the limit is violated when the node reads less
// than Below or more than Above.
type Limit struct {
	State string
	Place string // as written
	Node  string // resolved
	To    string // the node that is its zero, resolved
	Below float64
	Above float64
}
