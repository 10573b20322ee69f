package simulation

import (
	"math"
	"math/rand/v2"

	"ohmstead/internal/analysis"
	"ohmstead/internal/prior"
	"ohmstead/internal/profile"
)

// drawDefects draws so many faults on different parts, by the published weights
// or, in a mismatched world, every part and mode alike. Sizes lie anywhere on a
// log scale within their mode's range.
func drawDefects(p *profile.Profile, n int, w World, rng *rand.Rand) []profile.Defect {
	var out []profile.Defect
	used := map[string]bool{}
	for len(out) < n {
		d := drawDefect(p, w, rng)
		if !used[d.Part] {
			used[d.Part] = true
			out = append(out, d)
		}
	}
	return out
}

// drawCount draws how many faults a board has, by the published guess.
func drawCount(rng *rand.Rand) int {
	n := 0
	for at := rng.Float64(); n < prior.MostFaults && at > prior.Count(n); n++ {
		at -= prior.Count(n)
	}
	return n
}

func drawDefect(p *profile.Profile, w World, rng *rand.Rand) profile.Defect {
	all := faultsOf(p, w)
	total := 0.0
	for _, f := range all {
		total += f.weight
	}
	at := rng.Float64() * total
	k := 0
	for at > all[k].weight && k < len(all)-1 {
		at -= all[k].weight
		k++
	}
	part, _ := p.Part(all[k].Part)
	return Sized(p, part, all[k].Mode, rng)
}

// weighted is a way in which a part fails, and how often beside others.
type weighted struct {
	analysis.Fault
	weight float64
}

// faultsOf gives every mode of every part.
func faultsOf(p *profile.Profile, w World) []weighted {
	var all []weighted
	var weights []float64
	for i := range p.Parts {
		part := &p.Parts[i]
		for _, mode := range part.Kind.Modes() {
			if mode == profile.ModeShort && part.Ohms() > 0 && part.Ohms() < 1 {
				continue // no fault: the part is a short itself
			}
			all = append(all, weighted{Fault: analysis.Fault{Part: part.Ref, Mode: mode}})
			weights = append(weights, prior.Weight(part, mode, prior.Handbook))
		}
	}
	prior.Cap(weights)
	for i := range all {
		if all[i].weight = weights[i]; w.Mismatched {
			all[i].weight = 1
		}
	}
	return all
}

// Sized draws the size of a mode of a part of a profile.
func Sized(p *profile.Profile, part *profile.Part, mode profile.Mode, rng *rand.Rand) profile.Defect {
	d := profile.Defect{Part: part.Ref, Mode: mode}
	between := func(low, high float64) float64 { return low * math.Pow(high/low, rng.Float64()) }
	switch mode {
	case profile.ModeOpen:
		d.Size = math.Inf(1)
		if part.Ohms() > 0 && rng.Float64() < 0.5 {
			d.Size = between(min(100*part.Ohms(), 0.5e9), 1e9)
		}
	case profile.ModeShort, profile.ModeOutputShort:
		d.Size = between(0.05, 1)
	case profile.ModeLeaky:
		d.Size = between(1e3, 100e3)
	case profile.ModeWeak:
		d.Size = between(2, 50)
	case profile.ModeTired:
		d.Size = between(1.3, 20)
	case profile.ModeHigh:
		d.Size = between(1.2, 100)
		if part.Kind == profile.Regulator {
			d.Size = between(1.1, part.MostHigh(p.MostVolts()))
		}
	case profile.ModeLow:
		d.Size = between(1.2, 20)
		if part.Kind == profile.Regulator {
			d.Size = between(1/0.9, 1/0.3)
		}
	}
	if part.Kind == profile.Bridge {
		d.Diode = rng.IntN(4)
	}
	return d
}
