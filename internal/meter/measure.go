package meter

import (
	"math"

	"ohmstead/internal/circuit"
)

// Reading is what the instrument would show with no error of its own: the
// value before it is rounded to digits, and how far the display may be off.
type Reading struct {
	Value      float64 // base unit; meaningless when Over
	Over       bool    // OL
	Half       float64 // half-width of the error, which is uniform: accuracy·Value + counts·resolution
	Resolution float64 // of the display, base unit
	Least      float64 // the display shows this for anything below
	Most       float64 // and OL beyond this
	Slope      float64 // ∂Value/∂V, V being the volts between the probes; 0 when Over
	Range      int     // index of the range, from the lowest
}

// Show gives what the display shows when the error lies at e of its half-width,
// e from −1 to 1: rounded to the resolution, or OL.
func (r Reading) Show(e float64) (value float64, over bool) {
	if r.Over {
		return 0, true
	}
	v := max(r.Least, Round(r.Value+e*r.Half, r.Resolution))
	if v > r.Most+r.Resolution/2 {
		return 0, true
	}
	return v, false
}

// Round gives the multiple of a resolution that is nearest to a value.
func Round(value, resolution float64) float64 {
	if resolution <= 0 {
		return value
	}
	n := math.Round(value / resolution)
	if inverse := math.Round(1 / resolution); inverse > 1 && math.Abs(inverse*resolution-1) < 1e-9 {
		return n / inverse // 0.001 has no exact binary value, 1000 has
	}
	return n * resolution
}

// overRange is the reading of an open circuit.
var overRange = Reading{Over: true}

// ReadResistance measures between two nodes of an unpowered circuit, auto-range
// from the lowest: each range puts the test voltage behind its reference
// resistor, red positive, and shows reference·V/(open circuit − V). What a
// junction lets through depends on the range. Between islands it is OL. The
// error is a *circuit.Unsolved.
func (m *Meter) ReadResistance(s *circuit.Solver, red, black circuit.Node) (Reading, error) {
	return m.ReadResistanceFrom(s, red, black, 0)
}

// ReadResistanceFrom is ReadResistance with the search started at a range, as
// when a similar circuit is measured again: down while lower ranges hold the
// reading too, else up.
func (m *Meter) ReadResistanceFrom(s *circuit.Solver, red, black circuit.Node, from int) (Reading, error) {
	r := &m.Resistance
	if red == black {
		return r.on(0, 0), nil
	}
	if !s.Connected(red, black) {
		return r.over(), nil
	}
	held := r.over()
	for i := min(max(from, 0), len(r.Ranges)-1); i >= 0 && i < len(r.Ranges); {
		got, err := m.ReadResistanceAt(s, red, black, i)
		if err != nil {
			return overRange, err
		}
		switch holds := !got.Over && got.Value <= r.Ranges[i].FullScale; {
		case holds && i <= from:
			held = got
			i--
		case holds:
			return got, nil
		case !held.Over:
			return held, nil
		default:
			i = max(i, from) + 1
		}
	}
	return held, nil
}

// over is OL on the last range.
func (r *Resistance) over() Reading {
	return Reading{Over: true, Range: len(r.Ranges) - 1}
}

// ReadResistanceAt measures on one range, whether it holds the reading or not.
func (m *Meter) ReadResistanceAt(s *circuit.Solver, red, black circuit.Node, i int) (Reading, error) {
	r := &m.Resistance
	if !s.Connected(red, black) {
		return r.read(i, r.OpenCircuit), nil
	}
	s.Attach(circuit.Probe{Red: red, Black: black, Volts: r.OpenCircuit, Ohms: r.Ranges[i].Reference})
	if err := s.Solve(); err != nil {
		return overRange, err
	}
	return r.read(i, s.Volts(red, black)), nil
}

// read gives the reading of a range at which the volts v stand between the
// probes.
func (r *Resistance) read(i int, v float64) Reading {
	if v >= r.OpenCircuit*(1-1e-12) {
		return Reading{Over: true, Range: i, Most: r.Ranges[i].FullScale}
	}
	left := r.OpenCircuit - max(v, 0)
	got := r.on(i, r.Ranges[i].Reference*max(v, 0)/left)
	got.Slope = r.Ranges[i].Reference * r.OpenCircuit / (left * left)
	return got
}

// on gives the reading of a resistance on a range.
func (r *Resistance) on(i int, ohms float64) Reading {
	g := r.Ranges[i]
	return Reading{
		Value: ohms, Range: i, Resolution: g.Resolution, Most: r.Ranges[len(r.Ranges)-1].FullScale,
		Half: g.Accuracy*ohms + g.Counts*g.Resolution,
	}
}

// At gives the reading of a resistance by the first range that holds it.
func (r *Resistance) At(ohms float64) Reading {
	for i, g := range r.Ranges {
		if ohms <= g.FullScale {
			return r.on(i, ohms)
		}
	}
	return overRange
}

// ReadDiode forces the test current from red to black and shows the volts that
// they take, OL at the compliance.
func (m *Meter) ReadDiode(s *circuit.Solver, red, black circuit.Node) (Reading, error) {
	d := &m.Diode
	if red == black {
		return d.At(0), nil
	}
	if !s.Connected(red, black) {
		return overRange, nil
	}
	s.Attach(circuit.Probe{Red: red, Black: black, Volts: d.Compliance, Limit: d.Current})
	if err := s.Solve(); err != nil {
		return overRange, err
	}
	return d.At(s.Volts(red, black)), nil
}

// At gives the reading of a junction that takes so many volts.
func (d *Diode) At(v float64) Reading {
	if v >= d.Compliance*(1-1e-9) {
		return overRange
	}
	return Reading{
		Value: v, Slope: 1, Resolution: d.Resolution, Least: math.Inf(-1), Most: d.Compliance,
		Half: d.Accuracy*math.Abs(v) + d.Counts*d.Resolution,
	}
}

// ReadDCVolts shows the volts of red against black with the meter's own input
// resistance between them; between islands, 0.
func (m *Meter) ReadDCVolts(s *circuit.Solver, red, black circuit.Node) (Reading, error) {
	v := 0.0
	if red != black && s.Connected(red, black) {
		s.Attach(circuit.Probe{Red: red, Black: black, Ohms: m.DCVolts.InputResistance})
		if err := s.Solve(); err != nil {
			return overRange, err
		}
		v = s.Volts(red, black)
	}
	return m.DCVolts.At(v), nil
}

// At gives the reading of a voltmeter with so many volts at its inputs.
func (v *Volts) At(volts float64) Reading {
	for i, step := range v.Steps {
		if math.Abs(volts) > step.UpTo {
			continue
		}
		return Reading{
			Value: volts, Slope: 1, Range: i, Resolution: step.Resolution,
			Least: math.Inf(-1), Most: v.Steps[len(v.Steps)-1].UpTo,
			Half: v.Accuracy*math.Abs(volts) + v.Counts*step.Resolution,
		}
	}
	return overRange
}
