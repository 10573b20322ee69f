package bench

import (
	"errors"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
)

// measured finds the check that a stored reading is: its places resolved to
// nodes, its ID that of the profile's own check when it is the same measurement.
// A removed part is measured alone, as a lifted one is.
func (m *Model) measured(r evidence.Reading) (profile.Check, error) {
	return m.Profile.Resolve(profile.Check{
		State: r.State, Measure: profile.Measure(r.Measure), Across: r.Across, Red: r.Red, Black: r.Black,
		Lifted: r.Lifted || r.Subject == evidence.SubjectOld, Swapped: r.Swapped,
	})
}

// placeProblem notes at its field why the profile does not know a place.
func (m *Model) placeProblem(r evidence.Reading, problems map[string]string) {
	_, err := m.measured(r)
	var c *profile.CheckError
	if !errors.As(err, &c) || problems[c.Field] != "" {
		return
	}
	text := "“" + c.Text + "”: " + c.Problem
	if c.Text == "" {
		text = c.Problem
	}
	if c.Expected != "" {
		text += "; expected " + c.Expected
	}
	problems[c.Field] = text + "."
}
