package analysis

import (
	"math"
	"slices"

	"ohmstead/internal/profile"
)

// A source of wide tolerance is not the bench's own: the customer's battery, the
// mains. One that was read a little beyond its tolerance is off by itself, not a
// sign of a bad part (choices: from this tolerance, up to so many times it).
const (
	foreignTolerance = 0.15
	foreignReach     = 3
)

// foreign looks for such sources among the readings. Its tolerance then reaches to
// where the source was read; and an indication of what the controller believes of
// that source says nothing of the board, which may have been tried with it.
func (w *weighing) foreign(p *profile.Profile, readings []Reading, code string) {
	for _, state := range p.States {
		for _, src := range state.Sources {
			if src.Tolerance < foreignTolerance || nominalVolts(src) == 0 {
				continue
			}
			s, ok := w.d.model.lastSetting(src, readings, state.ID)
			if off := math.Abs(s.centre); !ok || off <= 1 || off > foreignReach {
				continue
			}
			loadMu.Lock()
			n, known := w.d.loads[loadKey{Owner: profile.Owner{Source: src.Name}, state: state.ID}]
			loadMu.Unlock()
			if !known {
				continue
			}
			if w.widened == nil {
				w.widened = map[int32]float64{}
			}
			w.widened[n] = s.centre * s.centre
			for i := range p.Indications {
				if in := &p.Indications[i]; in.Code == code && believedOf(p, in, src.Name) {
					w.shown, w.unweighed = nil, in
				}
			}
		}
	}
}

// believedOf tells whether an indication is about what the controller believes of a
// source.
func believedOf(p *profile.Profile, in *profile.Indication, source string) bool {
	return slices.ContainsFunc(in.Blocks, func(id string) bool {
		b, ok := p.Block(id)
		return ok && b.Believes != nil && b.Believes.Of == source
	})
}
