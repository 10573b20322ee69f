package analysis

import (
	"fmt"
	"math"
)

// One part is often seen by one check. Its odd reading then leaves two rivals, the
// part and a slip, and no other check tells them apart as quickly as making that
// reading again; so that is asked for first. It is no offered check: those were
// not made yet.

// Of the sets of parts so many are looked at, or all but this probability.
const (
	againGroups = 40
	againMass   = 0.99
)

// readAgainFirst asks for a reading to be made again where that is expected to
// tell more a minute about which parts are bad than any check that is offered.
func (f *foresight) readAgainFirst(c *Conclusion, parts []group, offered []Next) {
	best := leastGain
	for i := range offered {
		best = max(best, offered[i].GainBits/offered[i].Minutes)
	}
	i, bits := f.doubted(parts)
	if i < 0 || bits/f.minutesAgain(i) < best {
		return
	}
	ev := &f.evidence[i]
	c.Again = &ev.check
	c.Why += fmt.Sprintf(" Make a reading again first: %s read %s; a slip would explain that as well.", placeText(ev.check), typed(ev.reading))
}

// minutesAgain is what it takes to make a reading again: a leg that is still lifted
// since the last reading need not be lifted again.
func (f *foresight) minutesAgain(i int) float64 {
	c := f.evidence[i].check
	if c.Lifted && i == len(f.evidence)-1 {
		return 1
	}
	return max(c.Minutes, 0.1)
}

// restsOn is the information, in bits, from which a cause that was found rests on
// one reading: about one chance in a thousand that this was a slip.
const restsOn = 0.01

// readAgainBefore asks for the one reading on which a cause rests to be made again
// before anything is replaced for it.
func (f *foresight) readAgainBefore(c *Conclusion, parts []group) {
	i, bits := f.doubted(parts)
	if i < 0 || bits < restsOn {
		return
	}
	ev := &f.evidence[i]
	c.Again = &ev.check
	c.Why += fmt.Sprintf(" That rests on one reading; make it again before anything is replaced: %s read %s.", placeText(ev.check), typed(ev.reading))
}

// doubted gives the reading of which it would tell most to know whether it was a
// slip, and the bits; −1 when there is none. Of those made in the state in which
// the board stands, once.
func (f *foresight) doubted(parts []group) (reading int, bits float64) {
	var p []float64
	var slips [][]float64
	mass := 0.0
	for i := range parts {
		g := &parts[i]
		if g.sibling != nil {
			continue
		}
		s := f.score(f.all[g.best].places)
		row := make([]float64, len(f.evidence))
		for k, fit := range s.fits {
			row[k] = fit.slip
		}
		p, slips = append(p, g.p), append(slips, row)
		if mass += g.p; mass > againMass || len(p) == againGroups {
			break
		}
	}
	reading = -1
	for i := range f.evidence {
		if ev := &f.evidence[i]; ev.charge != 0 || ev.check.State != f.evidence[len(f.evidence)-1].check.State || f.timesMade(i) > 1 {
			continue
		}
		if b := tellsSlip(p, slips, i); b > bits {
			reading, bits = i, b
		}
	}
	return reading, bits
}

// timesMade counts how often the check of a reading was made on the same board.
func (f *foresight) timesMade(i int) int {
	n := 0
	for k := range f.evidence {
		if f.evidence[k].entry == f.evidence[i].entry && len(f.evidence[k].fitted) == len(f.evidence[i].fitted) {
			n++
		}
	}
	return n
}

// tellsSlip gives the information in bits that knowing whether a reading was a
// slip gives about which of the sets of probabilities p it is.
func tellsSlip(p []float64, slips [][]float64, i int) float64 {
	yes, no, all := 0.0, 0.0, 0.0
	for k := range p {
		yes += p[k] * slips[k][i]
		all += p[k]
	}
	no = all - yes
	if yes <= 0 || no <= 0 {
		return 0
	}
	bits := 0.0
	for k := range p {
		for _, joint := range []struct{ both, marginal float64 }{{p[k] * slips[k][i], yes}, {p[k] * (1 - slips[k][i]), no}} {
			if joint.both > 0 {
				bits += joint.both / all * math.Log2(joint.both*all/(p[k]*joint.marginal))
			}
		}
	}
	return bits
}
