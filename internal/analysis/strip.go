package analysis

import (
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// StripView is a block of the board drawn in the order the signal runs:
// source, parts, nodes, controller pin, and what the controller believes.
type StripView struct {
	Block    *profile.Block
	State    *profile.State
	Stages   []Stage
	Believes *Belief // nil when the block does not say how the controller reads it
}

// Stage is one place of a strip: a node or a part.
type Stage struct {
	Name string        // as the path writes it
	Node string        // the node, empty when the stage is a part
	Part *profile.Part // the part, nil when the stage is a node
	// Level is what the healthy board's node stands at in the state, at nominal
	// values and without a meter; set for nodes.
	Level Level
	Rows  []Row // checks across the part, or at the node in the state: expected, read, verdict
}

// Level is the volts of a node against its zero. A floating node has an
// interval: Low and High bound it (they may be infinite) and Typical is NaN.
type Level struct {
	Zero               string // the node that is its zero
	Low, Typical, High float64
	Floating           bool
}

// Belief is what the controller makes of a node: the source's value that a
// healthy board would need for the node to stand where it stands.
type Belief struct {
	Of         string        // name of the source
	Unit       quantity.Unit // of the source's value
	Node       string
	FullScale  float64 // source value that the pin's full scale means
	Nominal    float64 // believed at the healthy board's level
	Read       *Believed
	Actual     *float64 // the source as it was read, nil when it was not
	ActualNote string   // where Actual comes from, empty when nil
}

// Believed is the value that follows from a reading at the node.
type Believed struct {
	Volts     float64 // read at the node
	Value     float64 // believed of the source, at most FullScale
	FullScale bool    // the pin is at or beyond its full scale
}
