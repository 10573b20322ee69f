package boardtest

import (
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Whole boards, healthy and faulty, under every function of the meter, against an
// independent simulator: ngspice. Board and meter are drawn for it from the
// formats alone.

// tally counts what was compared.
type tally struct {
	boards, faulty  int
	modes           map[string]int // kind and mode
	readings        map[string]int
	worst           map[string]float64 // as a share of what is allowed
	edges           int                // readings at the edge of a range
	asked, unsolved int
}

func newTally() *tally {
	return &tally{modes: map[string]int{}, readings: map[string]int{}, worst: map[string]float64{}}
}

// saw notes a comparison and how far it was off, as a share of what is allowed.
func (y *tally) saw(what, kind string, off float64) {
	y.readings[what]++
	what = strings.TrimSpace(what + " " + kind)
	y.worst[what] = math.Max(y.worst[what], off)
}

// specimen is one board to be compared in a state.
type specimen struct {
	d   *drawing
	m   *meter.Meter
	rng *rand.Rand
	// places gives where to put the probes, and for which measure.
	places func(s *specimen) []probing
}

type probing struct {
	place
	measure profile.Measure
}

// compare puts boards to the simulator and compares the readings: first each
// board alone, to see which chips wake, then under the meter.
func compare(t *testing.T, simulator spicetest.Simulator, y *tally, all []*specimen) {
	t.Helper()
	var boards, readings []*question
	for _, s := range all {
		boards = append(boards, &question{d: s.d, put: func() []spicetest.Ask { return nil },
			judge: func([]spicetest.Answer) { readings = append(readings, s.questions(t, y)...) }})
	}
	answered := ask(t, simulator, boards)
	answered += ask(t, simulator, readings)
	y.asked = len(boards) + len(readings)
	y.unsolved = y.asked - answered
}

// questions solves the board here and asks for its readings.
func (s *specimen) questions(t *testing.T, y *tally) []*question {
	t.Helper()
	var b *profile.Board
	var err error
	if s.d.lifted != "" {
		b, err = s.d.p.LiftedBoard(s.d.lifted, s.d.defects...)
	} else {
		b, err = s.d.p.Board(s.d.state.ID, s.d.defects...)
	}
	if err != nil {
		t.Errorf("%s: %v", s.d, err)
		return nil
	}
	r := reader{T: t, count: y, d: s.d, b: b, m: s.m}
	var out []*question
	for _, at := range s.places(s) {
		if _, _, ok := b.Nodes(at.red, at.black); !ok || at.red == at.black {
			continue
		}
		switch at.measure {
		case profile.MeasureResistance:
			out = append(out, r.resistance(at.place))
		case profile.MeasureDiode:
			out = append(out, r.diode(at.place))
		case profile.MeasureDCVolts:
			out = append(out, r.dcVolts(at.place))
		case profile.MeasureACVolts:
			out = append(out, r.acVolts(at.place))
		default:
			out = append(out, r.impedance(at.place))
		}
	}
	return out
}

// report says what was compared, and fails where that is too little.
func (y *tally) report(t *testing.T, least map[string]int) {
	t.Helper()
	t.Logf("%d boards, %d of them faulty; no answer to %d of %d questions; %d readings at the edge of a range",
		y.boards, y.faulty, y.unsolved, y.asked, y.edges)
	for _, what := range slices.Sorted(maps.Keys(y.worst)) {
		t.Logf("worst deviation, %s: %.1g of what is allowed", what, y.worst[what])
	}
	t.Logf("readings: %v", y.readings)
	if y.unsolved > y.asked/50 {
		t.Errorf("the simulator did not answer %d of %d questions: too little to say that we agree", y.unsolved, y.asked)
	}
	for what, n := range least {
		if y.readings[what] < n {
			t.Errorf("only %d readings of %s compared, want %d", y.readings[what], what, n)
		}
	}
}

// anywhere draws places on a board: across a capacitor for impedances, across its
// part X1, or between any two nodes.
func anywhere(s *specimen) []probing {
	var out []probing
	for _, m := range []profile.Measure{profile.MeasureResistance, profile.MeasureResistance, profile.MeasureDiode, profile.MeasureDiode, profile.MeasureESR, profile.MeasureDCVolts, profile.MeasureDCVolts, profile.MeasureDCVolts, profile.MeasureACVolts} {
		powered := m == profile.MeasureDCVolts || m == profile.MeasureACVolts
		if powered == (s.d.state.ID == profile.Cold) || m == profile.MeasureACVolts && !s.mains() {
			continue
		}
		out = append(out, probing{s.somewhere(m), m})
	}
	return out
}

func (s *specimen) somewhere(m profile.Measure) place {
	p, rng := s.d.p, s.rng
	among := func(pins []profile.Pin) place {
		return place{pins[rng.IntN(len(pins))].Node, pins[rng.IntN(len(pins))].Node}
	}
	at := func(part profile.Part) bool { return part.Kind == profile.Capacitor && m == profile.MeasureESR }
	x, _ := p.Part("X1")
	switch i := slices.IndexFunc(p.Parts, at); {
	case i >= 0 && rng.IntN(3) > 0:
		return place{p.Parts[i].Pins[0].Node, p.Parts[i].Pins[1].Node}
	case rng.IntN(2) == 0:
		return among(x.Pins)
	case rng.IntN(3) == 0:
		return place{p.Nodes[rng.IntN(len(p.Nodes))], p.Nodes[rng.IntN(len(p.Nodes))]}
	}
	return place{p.Nodes[rng.IntN(len(p.Nodes))], p.Ground}
}

// mains tells whether the state has an alternating supply.
func (s *specimen) mains() bool {
	return slices.ContainsFunc(s.d.state.Sources, func(src profile.Source) bool { return src.Kind == profile.ACSource })
}

// kinds are all kinds of part that fail.
var kinds = []profile.Kind{
	profile.Bridge, profile.Capacitor, profile.Comparator, profile.Diode, profile.Fuse, profile.IGBT, profile.Inductor, profile.InputPin,
	profile.LED, profile.Link, profile.NMOS, profile.NPN, profile.Opamp, profile.Optocoupler, profile.PMOS, profile.PNP,
	profile.Regulator, profile.Resistor, profile.Thermistor, profile.Varistor, profile.Zener,
}

// ways lists every way in which a kind of part fails.
func ways() [][2]string {
	var all [][2]string
	for _, kind := range kinds {
		for _, m := range kind.Modes() {
			all = append(all, [2]string{string(kind), string(m)})
		}
	}
	return all
}

// boardsEach is how many boards fail in each way.
const boardsEach = 10

// TestInventedBoardsAgainstSimulator compares every function of two meters on
// small random boards over every kind of part, each failing in every way, and
// every third of them healthy too.
func TestInventedBoardsAgainstSimulator(t *testing.T) {
	t.Parallel()
	simulator := spicetest.Find(t)
	meters := []*meter.Meter{meter.Default(), lowOhms(t)}
	y := newTally()
	var batch []*specimen
	every := ways()
	for seed := range boardsEach * len(every) {
		kind, mode := profile.Kind(every[seed%len(every)][0]), profile.Mode(every[seed%len(every)][1])
		p := invent(t, seed, kind, seed%4 == 0)
		part, _ := p.Part("X1")
		rng := rand.New(rand.NewPCG(uint64(seed), 12))
		boards := [][]profile.Defect{{{Part: "X1", Mode: mode, Size: size(rng, part, mode), Diode: rng.IntN(4)}}}
		if seed%3 == 0 {
			boards = append(boards, nil)
		}
		for _, defects := range boards {
			y.plant(p, defects)
			for _, state := range []string{profile.Cold, "on"} {
				s := &specimen{d: newDrawing(p, state, defects), m: meters[seed%2], rng: rng, places: anywhere}
				s.d.exact = true
				batch = append(batch, s)
			}
		}
	}
	compare(t, simulator, y, batch)
	least := map[string]int{"diode": 100, "diode OL": 100, "dc_volts": 500, "ac_volts": 50, "capacitance": 50, "capacitance OL": 50, "esr": 100, "esr OL": 20,
		"resistance": 500, "resistance OL": 50}
	for i := range 6 {
		least[rangeName(i)], least[rangeName(i)+" chosen"] = 50, 20
	}
	y.report(t, least)
	for _, way := range every {
		if n := y.modes[way[0]+" "+way[1]]; n != boardsEach {
			t.Errorf("%d boards whose %s is %s", n, way[0], way[1])
		}
	}
	if y.boards < 500 {
		t.Errorf("%d boards", y.boards)
	}
}

// plant counts a board with its defects.
func (y *tally) plant(p *profile.Profile, defects []profile.Defect) {
	y.boards++
	if len(defects) > 0 {
		y.faulty++
	}
	for _, d := range defects {
		part, _ := p.Part(d.Part)
		y.modes[string(part.Kind)+" "+string(d.Mode)]++
	}
}

func lowOhms(t *testing.T) *meter.Meter {
	t.Helper()
	m, err := meter.Shipped("handheld-low-ohms")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// offered gives what the profile offers in a state, so many checks at random; with
// a lifted part, those of the part alone.
func offered(n int) func(s *specimen) []probing {
	return func(s *specimen) []probing {
		var out []probing
		for _, i := range s.rng.Perm(len(s.d.p.Checks)) {
			c := s.d.p.Checks[i]
			if c.State != s.d.state.ID || c.Lifted != (s.d.lifted != "") || c.Lifted && c.Across != s.d.lifted {
				continue
			}
			if out = append(out, probing{place{c.RedNode, c.BlackNode}, c.Measure}); len(out) == n {
				break
			}
		}
		return out
	}
}

// TestShippedBoardsAgainstSimulator compares checks that the shipped profiles
// offer, on healthy boards and such with one or two faults, in every state.
func TestShippedBoardsAgainstSimulator(t *testing.T) {
	t.Parallel()
	simulator := spicetest.Find(t)
	y := newTally()
	var batch []*specimen
	library := profile.NewLibrary(os.DirFS("../../../profiles"), "profiles")
	ids, err := library.IDs()
	if err != nil {
		t.Fatal(err)
	}
	for nth, id := range ids {
		p, err := library.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		for seed := range 12 {
			rng := rand.New(rand.NewPCG(uint64(seed), uint64(nth)))
			defects := faults(rng, p, seed%3)
			y.plant(p, defects)
			for _, s := range p.States {
				batch = append(batch, &specimen{d: newDrawing(p, s.ID, defects), m: meter.Default(), rng: rng, places: offered(6)})
			}
			for _, c := range p.Checks {
				if c.Lifted && rng.IntN(8) == 0 {
					s := &specimen{d: newDrawing(p, profile.Cold, defects), m: meter.Default(), rng: rng, places: offered(1)}
					s.d.lifted = c.Across
					batch = append(batch, s)
				}
			}
		}
	}
	compare(t, simulator, y, batch)
	y.report(t, map[string]int{"resistance": 300, "diode": 40, "dc_volts": 300, "ac_volts": 5})
}

// faults draws so many faults, each of another part.
func faults(rng *rand.Rand, p *profile.Profile, n int) []profile.Defect {
	var out []profile.Defect
	for _, i := range rng.Perm(len(p.Parts)) {
		part := &p.Parts[i]
		ways := part.Kind.Modes()
		if len(out) == n {
			break
		}
		if len(ways) > 0 {
			m := ways[rng.IntN(len(ways))]
			out = append(out, profile.Defect{Part: part.Ref, Mode: m, Size: size(rng, part, m), Diode: rng.IntN(4)})
		}
	}
	return out
}
