package analysis

import (
	"fmt"
	"math"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Times at which a creeping reading is looked at, in seconds, so many a decade.
const (
	settleFrom      = 1e-2
	settleTo        = 1e6
	settlePerDecade = 25
	firstSecond     = 1 // when Settling.First is read
)

// settleTimes are the times at which a creeping reading is looked at.
var settleTimes = func() []float64 {
	var out []float64
	n := int(math.Round(math.Log10(settleTo/settleFrom) * settlePerDecade))
	for k := range n + 1 {
		out = append(out, settleFrom*math.Pow(10, float64(k)/settlePerDecade))
	}
	return out
}()

// settling follows a cold resistance reading in time from empty capacitors, on
// the range on which it settles. It is nil where the reading stands within a
// second. An open part creeps too: until both differ by more than the meter can
// miss, the reading cannot tell.
func (m *Model) settling(c profile.Check, b *bench, nominal meter.Reading) *Settling {
	if c.Measure != profile.MeasureResistance || b.apart || !m.hasCapacitors() {
		return nil
	}
	follow := func(times []float64) ([]meter.Reading, error) {
		return m.meter.SettleResistance(b.board.Circuit, b.red, b.black, nominal.Range, times)
	}
	if quick, err := follow([]float64{firstSecond}); err != nil || settled(quick[0], nominal, nominal.Half/4) {
		return nil
	}
	good, err := follow(settleTimes)
	if err != nil {
		return nil
	}
	s := &Settling{Settled: shownAs(nominal), TellBy: math.Inf(1)}
	for k, t := range settleTimes {
		if t <= firstSecond {
			s.First = shownAs(good[k])
		}
		if !settled(good[k], nominal, nominal.Half) {
			s.Seconds = settleTimes[min(k+1, len(settleTimes)-1)]
		}
	}
	if s.Seconds <= firstSecond {
		return nil
	}
	if open := m.openCreep(c, nominal.Range); open != nil {
		s.TellBy = apartFrom(good, open)
	}
	return s
}

// settled tells whether a creeping reading has come within so much of where it
// settles.
func settled(now, at meter.Reading, within float64) bool {
	if now.Over || at.Over {
		return now.Over == at.Over
	}
	return math.Abs(now.Value-at.Value) <= within
}

// openCreep follows the same reading with the part across which it is taken
// open, nil where there is none.
func (m *Model) openCreep(c profile.Check, rng int) []meter.Reading {
	if c.Across == "" {
		return nil
	}
	b, err := m.newBench(c, nil, profile.Defect{Part: c.Across, Mode: profile.ModeOpen, Size: math.Inf(1)})
	if err != nil || b.apart {
		return nil
	}
	open, err := m.meter.SettleResistance(b.board.Circuit, b.red, b.black, rng, settleTimes)
	if err != nil {
		return nil
	}
	return open
}

// apartFrom gives the time from which two creeping readings stay further apart
// than the meter may miss both, +Inf when they never do.
func apartFrom(good, open []meter.Reading) float64 {
	from := math.Inf(1)
	for k := len(settleTimes) - 1; k >= 0; k-- {
		g, o := good[k], open[k]
		if g.Over && o.Over || g.Over == o.Over && math.Abs(g.Value-o.Value) <= g.Half+o.Half {
			break
		}
		from = settleTimes[k]
	}
	return from
}

// hasCapacitors tells whether there is anything to charge.
func (m *Model) hasCapacitors() bool {
	for i := range m.profile.Parts {
		if m.profile.Parts[i].Kind == profile.Capacitor {
			return true
		}
	}
	return false
}

// creep says how a reading creeps, after a separator; nothing when it does not.
func (s *Settling) creep(separator string) string {
	switch {
	case s == nil:
		return ""
	case math.IsInf(s.TellBy, 1):
		return fmt.Sprintf("%sit settles after %s", separator, span(s.Seconds))
	}
	return fmt.Sprintf("%sit settles after %s, and a good part and an open one can be told apart after %s", separator, span(s.Seconds), span(s.TellBy))
}

// span writes a time as one says it.
func span(seconds float64) string {
	switch {
	case seconds < 90:
		return fmt.Sprintf("%.0f s", math.Ceil(seconds))
	case seconds < 90*60:
		return fmt.Sprintf("%.0f min", math.Ceil(seconds/60))
	case seconds < 48*3600:
		return fmt.Sprintf("%.1f h", seconds/3600)
	}
	return "days"
}
