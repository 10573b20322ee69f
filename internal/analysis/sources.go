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
		if src.Tolerance == 0 || nominalVolts(src) == 0 || across(c, src) != 0 {
			continue
		}
		if s, ok := m.lastSetting(src, readings, c.State); ok {
			out = append(out, s)
		}
	}
	return out
}

// lastSetting gives what the last reading across a source says of it, if any was
// made in that state.
func (m *Model) lastSetting(src profile.Source, readings []Reading, state string) (setting, bool) {
	for i := len(readings) - 1; i >= 0; i-- {
		if s, ok := m.setting(src, readings[i], state); ok {
			return s, true
		}
	}
	return setting{}, false
}

// nominalVolts gives what a source of DC or AC volts should read across, 0 for
// other kinds, whose volts follow from the board.
func nominalVolts(src profile.Source) float64 {
	switch src.Kind {
	case profile.VoltsSource:
		return src.Volts
	case profile.ACSource:
		return src.VoltsAC
	}
	return 0
}

// across gives +1 when a check of volts is taken across a source, −1 when turned
// round, otherwise 0. Alternating volts have no sign.
func across(c profile.Check, src profile.Source) float64 {
	straight := c.RedNode == src.Plus && c.BlackNode == src.Minus
	turned := c.RedNode == src.Minus && c.BlackNode == src.Plus
	switch {
	case src.Kind == profile.ACSource:
		if c.Measure == profile.MeasureACVolts && (straight || turned) {
			return 1
		}
	case c.Measure != profile.MeasureDCVolts:
	case straight:
		return 1
	case turned:
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
	if src.Kind == profile.ACSource {
		shown = m.meter.ACVolts.At(r.Value.Number)
	}
	half := shown.Half
	if r.Value.Digit > shown.Resolution*(1+1e-9) {
		half += r.Value.Digit / 2
	}
	nominal := nominalVolts(src)
	scale := math.Abs(nominal) * src.Tolerance
	return setting{
		source: src.Name,
		centre: (sign*r.Value.Number/nominal - 1) / src.Tolerance,
		half:   half / scale,
	}, true
}
