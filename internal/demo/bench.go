package demo

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"ohmstead/internal/circuit"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// specimen is one physical board: a profile, what is wrong with it, and parts
// that lie where this board's happen to lie within their tolerance.
type specimen struct {
	profile *profile.Profile
	defects []profile.Defect
	seed    string // the serial: two boards with the same serial are the same
}

// draw gives a number from −1 to 1 that belongs to this board and this name.
func (b specimen) draw(name string) float64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s/%s", b.seed, name)
	return 2*rand.New(rand.NewPCG(h.Sum64(), 1)).Float64() - 1
}

// circuit builds the board in a state, its parts where they lie.
func (b specimen) circuit(c profile.Check) (*profile.Board, error) {
	var made *profile.Board
	var err error
	if c.Lifted {
		made, err = b.profile.LiftedBoard(c.Across, b.defects...)
	} else {
		made, err = b.profile.Board(c.State, b.defects...)
	}
	if err != nil {
		return nil, err
	}
	seen := map[profile.Owner]int{}
	for i := range made.Params {
		o := made.Owners[i]
		made.Set(i, b.draw(fmt.Sprintf("%s/%s/%d", o.Part, o.Source, seen[o])))
		seen[o]++
	}
	return made, nil
}

// read makes one check with a meter and gives what a person would type.
func (b specimen) read(m *meter.Meter, c profile.Check) (string, error) {
	made, err := b.circuit(c)
	if err != nil {
		return "", err
	}
	red, black, ok := made.Nodes(c.RedNode, c.BlackNode)
	if !ok {
		return "OL", nil
	}
	got, unit, err := measure(m, made.Solver, c.Measure, red, black)
	if err != nil {
		return "", err
	}
	shown, over := got.Show(b.draw("meter/" + c.ID))
	if over {
		return "OL", nil
	}
	return typed(shown, got.Resolution, unit), nil
}

// typed writes what a display shows as a person would type it: volts as they
// stand there, ohms with the letter of the range.
func typed(shown, resolution float64, unit quantity.Unit) string {
	if unit == quantity.Volt {
		return strconv.FormatFloat(shown, 'f', max(0, int(math.Round(-math.Log10(resolution)))), 64)
	}
	text := strings.TrimSuffix(quantity.Format(shown, resolution, unit), string(unit))
	return strings.ReplaceAll(text, " ", "")
}

func measure(m *meter.Meter, s *circuit.Solver, what profile.Measure, red, black circuit.Node) (meter.Reading, quantity.Unit, error) {
	switch what {
	case profile.MeasureResistance:
		r, err := m.ReadResistance(s, red, black)
		return r, quantity.Ohm, err
	case profile.MeasureDiode:
		r, err := m.ReadDiode(s, red, black)
		return r, quantity.Volt, err
	case profile.MeasureDCVolts:
		r, err := m.ReadDCVolts(s, red, black)
		return r, quantity.Volt, err
	}
	return meter.Reading{}, "", fmt.Errorf("the demo does not measure %s", what)
}
