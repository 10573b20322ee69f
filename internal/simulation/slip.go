package simulation

import (
	"slices"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// slip makes a check wrongly and lets nobody notice, in one of these ways, each
// that the check allows as often as the others (common practice, no source):
//
//   - a probe is not on metal: OL, or of volts nothing or a part of them;
//   - k is typed for M, or nothing for k, or the other way round;
//   - the leads are exchanged where that makes a difference;
//   - a neighbouring place of the profile's list is touched.
//
// Some slips show by chance what a careful reading would.
func (b *Board) slip(c profile.Check) analysis.Reading {
	ways := []func(profile.Check) analysis.Reading{b.offMetal}
	switch c.Measure {
	case profile.MeasureResistance:
		ways = append(ways, b.mistyped, b.exchanged)
	case profile.MeasureDiode, profile.MeasureDCVolts:
		ways = append(ways, b.exchanged)
	}
	if len(b.neighbours(c)) > 0 {
		ways = append(ways, b.neighbouring)
	}
	r := ways[b.rng.IntN(len(ways))](c)
	r.Check = c
	return r
}

// offMetal reads with a probe in the air.
func (b *Board) offMetal(c profile.Check) analysis.Reading {
	r := b.careful(c)
	if c.Measure != profile.MeasureDCVolts && c.Measure != profile.MeasureACVolts {
		r.Value = quantity.Value{OverRange: true, Typed: "OL"}
		return r
	}
	if b.rng.IntN(2) == 0 {
		r.Value.Number = 0
	} else {
		r.Value.Number *= b.rng.Float64()
	}
	r.Value.OverRange = false
	return r
}

// mistyped notes a resistance with another prefix.
func (b *Board) mistyped(c profile.Check) analysis.Reading {
	r := b.careful(c)
	by := 1000.0
	switch ohms := r.Value.Number; {
	case ohms >= 1e6, ohms >= 1e3 && b.rng.IntN(2) == 0:
		by = 1e-3
	}
	r.Value.Number *= by
	r.Value.Digit *= by
	return r
}

// exchanged reads with red and black the wrong way round.
func (b *Board) exchanged(c profile.Check) analysis.Reading {
	c.RedNode, c.BlackNode = c.BlackNode, c.RedNode
	return b.careful(c)
}

// neighbouring reads another place of the profile's list.
func (b *Board) neighbouring(c profile.Check) analysis.Reading {
	all := b.neighbours(c)
	return b.careful(all[b.rng.IntN(len(all))])
}

// neighbours gives the checks of the same state and measure that stand next to
// one in the profile's list, before and after.
func (b *Board) neighbours(c profile.Check) []profile.Check {
	var like []profile.Check
	for _, k := range b.profile.Checks {
		if k.State == c.State && k.Measure == c.Measure && k.Lifted == c.Lifted {
			like = append(like, k)
		}
	}
	i := slices.IndexFunc(like, func(k profile.Check) bool { return k.Key() == c.Key() })
	var out []profile.Check
	for _, n := range []int{i - 1, i + 1} {
		if i >= 0 && n >= 0 && n < len(like) {
			out = append(out, like[n])
		}
	}
	return out
}
