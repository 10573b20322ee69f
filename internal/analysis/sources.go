package analysis

import (
	"math"

	"ohmstead/internal/profile"
)

// settingsOf narrows the sources of a state by the readings that were taken
// across them: with the bus read at 311 V, everything else is expected at
// 311 V. The last reading of a source counts. The check itself is left out: it
// is judged by what the source may be, not by itself.
func (m *Model) settingsOf(c profile.Check, readings []Reading) []setting {
	state, ok := m.profile.State(c.State)
	if !ok || c.Lifted {
		return nil
	}
	var out []setting
	for _, src := range state.Sources {
		if src.Kind != profile.VoltsSource || src.Tolerance == 0 || src.Volts == 0 || across(c, src) != 0 {
			continue
		}
		for i := len(readings) - 1; i >= 0; i-- {
			if s, ok := m.setting(src, readings[i], c.State); ok {
				out = append(out, s)
				break
			}
		}
	}
	return out
}

// across gives +1 when a check of DC volts is taken across a source, −1 when
// turned round, otherwise 0.
func across(c profile.Check, src profile.Source) float64 {
	switch {
	case c.Measure != profile.MeasureDCVolts:
	case c.RedNode == src.Plus && c.BlackNode == src.Minus:
		return 1
	case c.RedNode == src.Minus && c.BlackNode == src.Plus:
		return -1
	}
	return 0
}

// setting gives what a reading says of a source, if anything.
func (m *Model) setting(src profile.Source, r Reading, state string) (setting, bool) {
	sign := across(r.Check, src)
	if r.Check.State != state || sign == 0 || r.NotPossible || r.Bare() || r.Value.OverRange || r.Moving != Still {
		return setting{}, false
	}
	shown := m.meter.DCVolts.At(r.Value.Number)
	half := shown.Half
	if r.Value.Digit > shown.Resolution*(1+1e-9) {
		half += r.Value.Digit / 2
	}
	scale := math.Abs(src.Volts) * src.Tolerance
	return setting{
		source: src.Name,
		centre: (sign*r.Value.Number/src.Volts - 1) / src.Tolerance,
		half:   half / scale,
	}, true
}
