package boardtest

import (
	"fmt"
	"math"
	"testing"

	"ohmstead/internal/circuit"
	"ohmstead/internal/circuit/spicetest"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// reader makes the questions of one board and keeps count.
type reader struct {
	*testing.T
	count *tally
	d     *drawing
	b     *profile.Board
	m     *meter.Meter
}

// within says whether a reading is the same here and there.
func (r reader) within(what string, at place, ours, theirs, floor float64) {
	r.Helper()
	share, kind := 1e-3, "linear"
	if r.d.bent {
		share, kind = 1e-2, "junction"
	}
	off := math.Abs(ours-theirs) / math.Max(share*math.Abs(theirs), floor)
	r.count.saw(what, kind, off)
	if !(off <= 1) {
		r.Errorf("%s: %s from %s to %s: %.8g here, %.8g there\n%s", r.d, what, at.red, at.black, ours, theirs, r.d.deck)
	}
}

// floorVolts is what volts may be off whatever they are.
func (r reader) floorVolts() float64 {
	if r.d.bent {
		return 2e-3
	}
	return 1e-3
}

// over says whether one reads OL where the other does not.
func (r reader) over(what string, at place, ours bool, theirs bool, told string) {
	r.Helper()
	if ours != theirs {
		r.Errorf("%s: %s from %s to %s: OL here %t, there %t (%s)\n%s", r.d, what, at.red, at.black, ours, theirs, told, r.d.deck)
	}
}

// resistance: the test voltage behind each range's reference resistor, both ways
// round, and which range shows the reading.
func (r reader) resistance(at place) *question {
	r.d = r.d.copy(false)
	meter := &r.m.Resistance
	put := func() []spicetest.Ask { return r.d.ohmmeter(meter, at, 1, -1) }
	return &question{r.d, put, func(a []spicetest.Answer) {
		n := len(meter.Ranges)
		var there [2][]float64
		for k, answer := range a {
			v := real(answer[r.d.across(at.red, at.black)])
			if k >= n {
				v = -v
			}
			there[k/n] = append(there[k/n], meter.Ranges[k%n].Reference*v/(meter.OpenCircuit-v))
		}
		r.ranges(at, there[0])
		r.ranges(place{at.black, at.red}, there[1])
	}}
}

// ranges compares each range's reading and the range that is chosen.
func (r reader) ranges(at place, there []float64) {
	r.Helper()
	red, black, _ := r.b.Nodes(at.red, at.black)
	ranges := r.m.Resistance.Ranges
	chosen := -1
	for i, g := range ranges {
		ours, err := r.m.ReadResistanceAt(r.b.Solver, red, black, i)
		if err != nil {
			r.Errorf("%s: %v", r.d, err)
			return
		}
		what := rangeName(i)
		if theirs := there[i]; theirs >= 0 && theirs <= g.FullScale {
			if chosen < 0 {
				chosen = i
			}
			r.over(what, at, ours.Over, false, fmt.Sprint(theirs))
			r.within(what, at, ours.Value, theirs, g.Resolution/10)
		} else if !ours.Over && ours.Value < g.FullScale*0.99 {
			r.Errorf("%s: %s from %s to %s: %g here, %g there\n%s", r.d, what, at.red, at.black, ours.Value, theirs, r.d.deck)
		}
	}
	ours, err := r.m.ReadResistance(r.b.Solver, red, black)
	if err != nil {
		r.Errorf("%s: %v", r.d, err)
		return
	}
	if r.nearEdge(there) { // either of two ranges may show it
		r.count.edges++
		return
	}
	r.over("resistance", at, ours.Over, chosen < 0, fmt.Sprint(there))
	if chosen < 0 || ours.Over {
		r.count.readings["resistance OL"]++
		return
	}
	r.count.readings[rangeName(chosen)+" chosen"]++
	if ours.Range != chosen {
		r.Errorf("%s: from %s to %s range %d is chosen here, %d there", r.d, at.red, at.black, ours.Range, chosen)
	}
	r.within("resistance", at, ours.Value, there[chosen], ranges[chosen].Resolution/10)
}

func rangeName(i int) string { return fmt.Sprintf("resistance range %d", i) }

// nearEdge tells whether a range just holds a reading, or just does not.
func (r reader) nearEdge(there []float64) bool {
	for i, g := range r.m.Resistance.Ranges {
		if math.Abs(there[i]-g.FullScale) < g.FullScale/100 {
			return true
		}
	}
	return false
}

// diode: the test current, which falls off within 0.1 mV of the compliance.
func (r reader) diode(at place) *question {
	r.d = r.d.copy(false)
	most := r.m.Diode.Compliance
	put := func() []spicetest.Ask { return r.d.diodeTest(&r.m.Diode, at) }
	return &question{r.d, put, func(a []spicetest.Answer) {
		theirs := real(a[0][r.d.across(at.red, at.black)])
		ours, err := r.read(at, r.m.ReadDiode)
		switch edge := math.Abs(theirs-most) < most/1000 && !ours.Over; {
		case err != nil:
			r.Errorf("%s: %v", r.d, err)
		case edge: // just below the compliance
			r.within("diode", at, ours.Value, theirs, r.floorVolts())
		case theirs >= most*0.9999:
			r.over("diode", at, ours.Over, true, fmt.Sprint(theirs))
			r.count.readings["diode OL"]++
		default:
			r.over("diode", at, ours.Over, false, fmt.Sprint(theirs))
			r.within("diode", at, ours.Value, theirs, r.floorVolts())
		}
	}}
}

// read takes a reading here.
func (r reader) read(at place, how func(*circuit.Solver, circuit.Node, circuit.Node) (meter.Reading, error)) (meter.Reading, error) {
	red, black, _ := r.b.Nodes(at.red, at.black)
	return how(r.b.Solver, red, black)
}

// dcVolts: the meter's input resistance between the probes.
func (r reader) dcVolts(at place) *question {
	r.d = r.d.copy(false)
	put := func() []spicetest.Ask { return r.d.voltmeter(&r.m.DCVolts, at) }
	return &question{r.d, put, func(a []spicetest.Answer) {
		theirs := real(a[0][r.d.across(at.red, at.black)])
		ours, err := r.read(at, r.m.ReadDCVolts)
		if err != nil {
			r.Errorf("%s: %v", r.d, err)
			return
		}
		r.within("dc_volts", at, ours.Value, theirs, r.floorVolts())
	}}
}

// acVolts: the phasors about the operating point, the frequencies by their
// squares.
func (r reader) acVolts(at place) *question {
	r.d = r.d.copy(false)
	put := func() []spicetest.Ask { return r.d.acVoltmeter(&r.m.ACVolts, at) }
	return &question{r.d, put, func(a []spicetest.Answer) {
		ours, err := r.read(at, r.m.ReadACVolts)
		if err != nil {
			r.Errorf("%s: %v", r.d, err)
			return
		}
		r.within("ac_volts", at, ours.Value, rms(a, r.d.across(at.red, at.black)), r.floorVolts())
	}}
}

// impedance: an alternating current of 1 A through the board with all off that is
// not linear. The volts are the impedance.
func (r reader) impedance(at place) *question {
	r.d = r.d.copy(true)
	joined := false
	put := func() (asks []spicetest.Ask) {
		red, black := r.d.node(at.red), r.d.node(at.black)
		joined = r.d.deck.Joined(red, black)
		r.d.deck.Line("im %s %s DC 0 AC 1", black, red)
		r.d.deck.Resistor(red, black, 1e15) // so that there is an answer without a path
		for _, hertz := range []float64{r.m.Capacitance.Frequency, r.m.ESR.Frequency} {
			asks = append(asks, spicetest.Ask{Solve: fmt.Sprintf("ac lin 1 %g %g", hertz, hertz), Print: []string{r.d.across(at.red, at.black)}})
		}
		return asks
	}
	return &question{r.d, put, func(a []spicetest.Answer) {
		z := r.d.across(at.red, at.black)
		r.capacitance(at, a[0][z], joined)
		r.esr(at, a[1][z], joined)
	}}
}

// capacitance: −1/(ω·Im Z); 0 without a path, OL where nothing is capacitive.
func (r reader) capacitance(at place, z complex128, joined bool) {
	r.Helper()
	ours, err := r.read(at, r.m.ReadCapacitance)
	theirs := -1 / (2 * math.Pi * r.m.Capacitance.Frequency * imag(z))
	switch {
	case err != nil:
		r.Errorf("%s: %v", r.d, err)
	case !joined:
		r.within("capacitance without a path", at, ours.Value, 0, 1e-15)
	case -imag(z) <= 1e-9*real(z): // what is left of rounding
		r.over("capacitance", at, ours.Over, true, fmt.Sprint(z))
		r.count.readings["capacitance OL"]++
	default:
		r.over("capacitance", at, ours.Over, false, fmt.Sprint(z))
		r.within("capacitance", at, ours.Value, theirs, 1e-15)
	}
}

// esr: Re Z; OL without a path.
func (r reader) esr(at place, z complex128, joined bool) {
	r.Helper()
	ours, err := r.read(at, r.m.ReadESR)
	switch {
	case err != nil:
		r.Errorf("%s: %v", r.d, err)
	case !joined:
		r.over("esr", at, ours.Over, true, fmt.Sprint(z))
		r.count.readings["esr OL"]++
	default:
		r.over("esr", at, ours.Over, false, fmt.Sprint(z))
		r.within("esr", at, ours.Value, real(z), 1e-6)
	}
}
