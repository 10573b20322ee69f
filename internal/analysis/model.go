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

	mu       sync.Mutex
	cells    map[string]*cell
	faulty   map[string]faulty
	siblings map[string]*Model

	listed sync.Once
	faults *dictionary
}

// NewModel makes the model of a profile seen through a meter. Keep it as long
// as the profile version is in use: it remembers what it has computed.
func NewModel(p *profile.Profile, m *meter.Meter) *Model {
	return &Model{profile: p, meter: m, cells: map[string]*cell{}, faulty: map[string]faulty{}}
}

// Diagnose is the method behind the function of that name.
func (m *Model) Diagnose(readings []Reading, code string) (*Result, error) {
	return m.Answer(Case{Readings: readings, Code: code})
}

// Answer weighs all that is known of one board. An error is of kind
// fault.Invalid when the input is wrong.
func (m *Model) Answer(c Case) (*Result, error) {
	r, err := m.Weigh(c)
	if err == nil {
		r.Table = m.Table(c.Readings)
	}
	return r, err
}

// Weigh is Answer without the table.
func (m *Model) Weigh(c Case) (*Result, error) {
	if err := m.knowsCode(c.Code); err != nil {
		return nil, err
	}
	r := &Result{Profile: m.profile.ID, Table: []Row{}, Suspects: []Suspect{}, Next: []Next{}}
	m.answer(&c, r)
	return r, nil
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
