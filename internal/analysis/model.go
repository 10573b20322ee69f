package analysis

import (
	"sync"

	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Model is one profile seen through one meter.
type Model struct {
	profile *profile.Profile
	meter   *meter.Meter

	mu     sync.Mutex
	cells  map[string]*cell
	sweeps map[string]*sweep
}

// NewModel makes the model of a profile seen through a meter. Keep it as long
// as the profile version is in use: it remembers what it has computed.
func NewModel(p *profile.Profile, m *meter.Meter) *Model {
	return &Model{profile: p, meter: m, cells: map[string]*cell{}, sweeps: map[string]*sweep{}}
}

// Diagnose is the method behind the function of that name.
func (m *Model) Diagnose(readings []Reading, code string) (*Result, error) {
	if err := m.knowsCode(code); err != nil {
		return nil, err
	}
	return &Result{
		Profile:    m.profile.ID,
		Table:      m.table(readings),
		Suspects:   []Suspect{},
		Next:       []Next{},
		Conclusion: Conclusion{Status: Undecided, Parts: []string{}, Why: "More readings would tell."},
	}, nil
}

// knowsCode refuses a code that the profile's indications do not have.
func (m *Model) knowsCode(code string) error {
	if code == "" || code == "none" {
		return nil
	}
	for _, in := range m.profile.Indications {
		if in.Code == code {
			return nil
		}
	}
	return fault.New(fault.Invalid, "The profile %s has no indication with code %q.", m.profile.ID, code)
}
