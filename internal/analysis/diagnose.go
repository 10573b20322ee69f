package analysis

import (
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Diagnose weighs the readings of one board against its profile, as seen with
// the meter. code is what the board shows by itself: an indication's code,
// "none" (powered, and it shows nothing) or empty (not known). An error is of
// kind fault.Invalid when the input is wrong. The board may turn out to be one of
// the siblings.
func Diagnose(p *profile.Profile, m *meter.Meter, readings []Reading, code string, siblings ...*profile.Profile) (*Result, error) {
	return NewModel(p, m).Answer(Case{Readings: readings, Code: code, Siblings: siblings})
}
