package simulation

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"testing"

	"ohmstead/internal/analysis"
	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/profile/boardtest"
)

// oracle answers for one simulated board: every reading is asked of an independent
// simulator, ngspice, on a board drawn for it from the formats alone.
type oracle struct {
	t         *testing.T
	simulator spicetest.Simulator
	boards    map[string]*boardtest.Board // by state and by what is still bad
	readings  int
}

func (o *oracle) answers(b *Board, c profile.Check) (meter.Reading, error) {
	key := fmt.Sprint(c.State, b.defects)
	if c.Lifted {
		key += c.Across
	}
	board, known := o.boards[key]
	if !known {
		var ok bool
		if board, ok = boardtest.New(o.t, o.simulator, b.profile, c, b.defects...); !ok {
			return meter.Reading{}, fmt.Errorf("no rest in state %s", c.State)
		}
		o.boards[key] = board
	}
	r, ok := board.Read(o.t, b.meter, c)
	if !ok {
		return r, fmt.Errorf("no answer to %s", c.ID)
	}
	o.readings++
	return r, nil
}

// varies is the parameter of a kind to which its tolerance belongs, by the table
// of kinds. The forward volts of every junction have their own, ±10 %.
var varies = map[profile.Kind]string{
	profile.Resistor: "value", profile.Capacitor: "value", profile.Thermistor: "value", profile.Inductor: "resistance",
	profile.Fuse: "resistance", profile.Link: "resistance", profile.Zener: "zener", profile.Varistor: "volts",
	profile.Regulator: "volts", profile.NPN: "gain", profile.PNP: "gain", profile.NMOS: "threshold", profile.PMOS: "threshold",
	profile.IGBT: "threshold", profile.Optocoupler: "ctr",
}

// particular gives the profile of one board: parts, sources and bench somewhere
// within tolerance are its nominal values.
func particular(p *profile.Profile, rng *rand.Rand) *profile.Profile {
	q := *p
	u := func() float64 { return 2*rng.Float64() - 1 }
	q.Ambient.Typical += q.Ambient.Tolerance * u()
	q.Parts = append([]profile.Part(nil), p.Parts...)
	for i := range q.Parts {
		part := &q.Parts[i]
		part.Params = maps.Clone(part.Params)
		if name, ok := varies[part.Kind]; ok {
			part.Params[name] *= 1 + part.Params["tolerance"]*u()
		}
		for _, name := range []string{"forward", "clamp"} {
			if v, ok := part.Params[name]; ok && !math.IsInf(v, 1) {
				part.Params[name] = v * (1 + 0.1*u())
			}
		}
	}
	q.States = append([]profile.State(nil), p.States...)
	for i := range q.States {
		s := &q.States[i]
		s.Sources = append([]profile.Source(nil), s.Sources...)
		for k := range s.Sources {
			by := 1 + s.Sources[k].Tolerance*u()
			s.Sources[k].Volts *= by
			s.Sources[k].Amps *= by
			s.Sources[k].VoltsAC *= by
			s.Sources[k].Holds.Volts *= by
		}
	}
	return &q
}

// answered makes a board whose readings come from another simulator. What is
// nominal there is this board's own, so nothing more varies.
func answered(t *testing.T, tech *Technician, seed uint64, defects ...profile.Defect) (*Board, *oracle) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 21))
	o := &oracle{t: t, simulator: spicetest.Find(t), boards: map[string]*boardtest.Board{}}
	b := NewBoard(particular(tech.Profile, rng), tech.Meter, World{Twice: true}, rng, defects...)
	b.answers = o.answers
	return b, o
}

// Every single fault of the small board is found, and the board healthy with new
// parts, when not this project's own solver answers but an independent simulator.
// What no check reveals is called healthy.
func TestRepairsThroughAnotherSimulator(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	exact, readings := share{}, 0
	for i, d := range tech.Every(rand.New(rand.NewPCG(1, 1))) {
		b, o := answered(t, tech, uint64(i), d)
		r := tech.repair(b)
		readings += o.readings
		if len(r.Good) > 0 || !r.Cured || r.Final != analysis.Healthy {
			t.Errorf("%s", r)
		}
		if !r.Visible {
			continue
		}
		if exact.count(r.Exact()); !r.Exact() {
			t.Logf("%s", r)
		}
	}
	t.Logf("exact %s, %d readings by the other simulator", exact, readings)
	if exact.all < 18 || exact.of < exact.all-1 || readings < 80 {
		t.Errorf("exact %s, %d readings by the other simulator", exact, readings)
	}
}

// Faults of shipped boards, up to the first conclusion.
func TestShippedFaultsThroughAnotherSimulator(t *testing.T) {
	for i, c := range []struct {
		profile string
		defect  profile.Defect
	}{
		{"hearth-2", open("R7")},
		{"sedge-d", sized("U1-ADB", profile.ModeLeaky, 3300)},
		{"sedge-f", open("R28")},
	} {
		tech := technician(t, c.profile)
		b, o := answered(t, tech, uint64(i), c.defect)
		out := &Repair{Defects: []profile.Defect{c.defect}, Visible: true, Telling: []string{c.defect.Part}}
		var readings []analysis.Reading
		state := profile.Cold
		r := tech.conclude(b, out, &readings, &state)
		if k := &r.Conclusion; !out.exact(k.Status, k.Parts, k.Groups) || o.readings != out.Total {
			t.Errorf("%s, %v: %s %v %v after %d readings, %d by the other simulator: %s", c.profile, c.defect,
				k.Status, k.Parts, k.Groups, out.Total, o.readings, k.Why)
		}
	}
}
