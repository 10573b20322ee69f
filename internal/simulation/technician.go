package simulation

import (
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"time"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Technician repairs boards of one profile with one meter, several at a time if
// asked to.
type Technician struct {
	Profile *profile.Profile
	Meter   *meter.Meter
	Model   *analysis.Model
	rows    []analysis.Row // what good boards read, in the profile's order

	weighings, weighing atomic.Int64 // how often the analysis was asked; nanoseconds
}

// NewTechnician prepares; the model is worked out as it is needed.
func NewTechnician(p *profile.Profile, m *meter.Meter) (*Technician, error) {
	t := &Technician{Profile: p, Meter: m, Model: analysis.NewModel(p, m)}
	r, err := t.Model.Diagnose(nil, "")
	if err != nil {
		return nil, err
	}
	t.rows = r.Table
	return t, nil
}

// Weighings gives how often the analysis was asked, and the time that all its
// answers took together, whatever else the machine did.
func (t *Technician) Weighings() (int, time.Duration) {
	return int(t.weighings.Load()), time.Duration(t.weighing.Load())
}

// row gives what good boards read at a check, nil when the profile lists no such
// check.
func (t *Technician) row(c profile.Check) *analysis.Row {
	i := slices.IndexFunc(t.rows, func(r analysis.Row) bool { return r.Measured.Key() == c.Key() })
	if i < 0 {
		return nil
	}
	return &t.rows[i]
}

// inOrder reads a board from the top of the profile's list to its end, the
// unpowered state first, until the analysis concludes. A conclusion before the
// first odd reading could only be that all is well; so the analysis is asked from
// then on, after every reading, and makes readings again where it asks to.
func (t *Technician) inOrder(b *Board, of *Repair) *FixedOrder {
	h := &hands{t: t, b: b, state: profile.Cold, again: map[profile.Key]int{}}
	var last *analysis.Result
	for i, c := range t.order() {
		r := h.read(c)
		if last == nil && i < len(t.rows)-1 && !odd(r, t.row(c)) {
			continue
		}
		last = t.weigh(h.readings, of.Code)
		for {
			again, ok := h.askedAgain(last)
			if !ok {
				break
			}
			h.read(again)
			last = t.weigh(h.readings, of.Code)
		}
		if last.Conclusion.Status != analysis.Undecided {
			break
		}
	}
	c := last.Conclusion
	return &FixedOrder{Readings: h.made, Minutes: h.minutes, Exact: of.exact(c.Status, c.Parts, c.Groups)}
}

// order gives the profile's checks state by state, the unpowered one first, each
// as the profile lists them.
func (t *Technician) order() []profile.Check {
	var out []profile.Check
	for _, s := range t.Profile.States {
		for _, c := range t.Profile.Checks {
			if c.State == s.ID {
				out = append(out, c)
			}
		}
	}
	return out
}

// Drawn is a number of faults that is itself drawn: as many as the analysis
// supposes that boards have.
const Drawn = -1

// Draw draws so many faults on different parts, or a drawn number of them.
func (t *Technician) Draw(w World, rng *rand.Rand, faults int) []profile.Defect {
	if faults == Drawn {
		faults = drawCount(rng)
	}
	return drawDefects(t.Profile, faults, w, rng)
}

// Every gives every mode of every part once, of a drawn size.
func (t *Technician) Every(rng *rand.Rand) []profile.Defect {
	var out []profile.Defect
	for _, f := range faultsOf(t.Profile, World{}) {
		part, _ := t.Profile.Part(f.Part)
		out = append(out, Sized(t.Profile, part, f.Mode, rng))
	}
	return out
}
