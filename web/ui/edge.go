package ui

import "time"

// Edge is the state of the board as it stands round the whole screen, in word
// and pattern. It never claims more than was measured.
type Edge struct {
	Kind    EdgeKind
	Words   string    // in each corner: "UNPROVEN", "READ 0.3 V, 4 min ago"
	Why     string    // one sentence between the corners
	ReadAt  time.Time // of a reading: the page counts the minutes from here
	Volts   string    // of a reading: "0.3 V"
	Lapses  time.Time // when a reading counts no more; zero: never
	Remains int       // seconds until then, when the page was made
}

// EdgeKind chooses the pattern.
type EdgeKind string

// The kinds: diagonal hatch, double line, dots, solid.
const (
	EdgeUnproven EdgeKind = "unproven"
	EdgeRead     EdgeKind = "read"
	EdgeLow      EdgeKind = "low"
	EdgeLive     EdgeKind = "live"
)

// UnprovenWords stands in the corners until something was measured.
const UnprovenWords = "UNPROVEN"
