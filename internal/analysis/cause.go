package analysis

import (
	"math"

	"ohmstead/internal/prior"
	"ohmstead/internal/profile"
)

// cause is one way in which one part may be bad, of one size: a defect and the
// share of its mode for which it stands. Sizes that lie anywhere in a range are
// cut into cells, equal on a log scale; a cell's defect stands in its middle.
type cause struct {
	profile.Defect
	fault int     // index of its part and mode
	share float64 // of the mode
	width float64 // ln of the cell's upper over its lower end; 0: one size only
	ohms  float64 // what the part is instead, where a resistance says it all; 0: it does not
	joint bool    // the part itself is good: its joint or track is not
}

// fault is a part and a mode, and the causes that it covers.
type faultOf struct {
	part     *profile.Part
	index    int // of the part
	mode     profile.Mode
	stress   float64 // by which it fails more often than others of its kind
	from, to int     // its causes
}

// resistive tells whether a part is a resistance and nothing else.
func resistive(p *profile.Part) bool { return p.Ohms() > 0 }

// How many cells a decade of sizes is cut into. A value between two middles is
// not missed: each cell carries the variance along its curve, and the cells that
// matter are refined.
const cellsPerDecade = 4

// drift is the share of high and low that lies below ×1.2, where the formats'
// sizes begin: a part a little out of tolerance must have a name too.
const drift = 0.05

// cutSizes gives the causes of one mode of a part; volts as Profile.MostVolts.
func cutSizes(p *profile.Part, mode profile.Mode, volts func(x, y string) float64) []cause {
	of := func(size, share, width float64) cause {
		return cause{Defect: profile.Defect{Part: p.Ref, Mode: mode, Size: size}, share: share, width: width}
	}
	along := func(share, from, to float64, perDecade float64) []cause {
		n := max(1, int(math.Round(math.Log10(to/from)*perDecade)))
		width := math.Log(to/from) / float64(n)
		var out []cause
		for k := range n {
			out = append(out, of(from*math.Exp((float64(k)+0.5)*width), share/float64(n), width))
		}
		return out
	}
	ohms := p.Ohms()
	switch mode {
	case profile.ModeOpen:
		if p.Kind == profile.Bridge {
			return fourDiodes(of(math.Inf(1), 0.25, 0))
		}
		out := []cause{of(math.Inf(1), 1, 0)}
		if ohms > 0 {
			out[0].share = 0.5
			out = append(out, along(0.5, min(100*ohms, 0.5e9), 1e9, 3)...)
			out = append(out, asJoints(out)...)
		}
		return out
	case profile.ModeShort, profile.ModeOutputShort:
		if p.Kind == profile.Bridge {
			return fourDiodes(of(math.Sqrt(0.05), 0.25, math.Log(20)))
		}
		return along(1, 0.05, 1, 0.5)
	case profile.ModeLeaky:
		return along(1, 1e3, 100e3, cellsPerDecade)
	case profile.ModeWeak:
		return along(1, 2, 50, cellsPerDecade)
	case profile.ModeTired:
		return along(1, 1.3, 20, cellsPerDecade)
	case profile.ModeHigh:
		if p.Kind == profile.Regulator {
			return along(1, 1.1, p.MostHigh(volts), 2*cellsPerDecade)
		}
		return append(along(drift, 1.08, 1.2, 0), along(1-drift, 1.2, 100, cellsPerDecade)...)
	case profile.ModeLow:
		if p.Kind == profile.Regulator {
			return along(1, 1/0.9, 1/0.3, 2*cellsPerDecade)
		}
		return append(along(drift, 1.08, 1.2, 0), along(1-drift, 1.2, 20, cellsPerDecade)...)
	}
	return []cause{of(0, 1, 0)}
}

// asJoints halves the shares and gives the other halves: the same break in a
// joint or a track, which a reading of the lifted part does not see.
func asJoints(out []cause) []cause {
	var joints []cause
	for i := range out {
		out[i].share /= 2
		j := out[i]
		j.joint = true
		joints = append(joints, j)
	}
	return joints
}

func fourDiodes(c cause) []cause {
	var out []cause
	for k := range 4 {
		c.Diode = k
		out = append(out, c)
	}
	return out
}

// asResistance gives the ohms that stand for a defect of a resistive part; 0
// where they do not. A clean break is far above anything that a meter sees.
func asResistance(p *profile.Part, d profile.Defect) float64 {
	if !resistive(p) {
		return 0
	}
	switch d.Mode {
	case profile.ModeOpen:
		return min(d.Size, cleanBreak)
	case profile.ModeShort:
		return d.Size
	case profile.ModeHigh:
		return p.Ohms() * d.Size
	case profile.ModeLow:
		return p.Ohms() / d.Size
	}
	return 0
}

const cleanBreak = 1e15 // ohms

// impossible leaves out what is no fault: the short of a part that is hardly
// more than one (the formats' shorts have up to 1 Ω), and a tired capacitor
// shows by no direct current.
func impossible(p *profile.Part, mode profile.Mode) bool {
	return mode == profile.ModeShort && resistive(p) && p.Ohms() < 1
}

// listCauses lists the faults of a profile and their causes; volts gives the
// greatest volts between two nodes in any powered state.
func listCauses(p *profile.Profile, volts func(x, y string) float64) (faults []faultOf, all []cause) {
	for i := range p.Parts {
		part := &p.Parts[i]
		across := 0.0
		if part.Kind.TwoPin() {
			across = volts(part.Pins[0].Node, part.Pins[1].Node)
		}
		stress := prior.Stress(part, across)
		for _, mode := range part.Kind.Modes() {
			if impossible(part, mode) {
				continue
			}
			f := faultOf{part: part, index: i, mode: mode, stress: stress, from: len(all)}
			for _, c := range cutSizes(part, mode, volts) {
				c.fault = len(faults)
				c.ohms = asResistance(part, c.Defect)
				all = append(all, c)
			}
			f.to = len(all)
			faults = append(faults, f)
		}
	}
	return faults, all
}

// defects gives the defects of some places, each of its own size.
func (d *dictionary) defects(places []place) []profile.Defect {
	var out []profile.Defect
	for _, p := range places {
		c := &d.causes[p.cause]
		def := c.Defect
		if c.width > 0 {
			def.Size *= math.Exp(p.at * c.width)
		}
		out = append(out, def)
	}
	return out
}
