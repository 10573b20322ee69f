package analysis

import (
	"fmt"
	"math"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// whyShown explains what the board showed from the parts of a hypothesis: where
// the pin stands, what the controller believes, and whether that fits.
func (w *weighing) whyShown(h *hypothesis) string {
	if w.shown == nil {
		return ""
	}
	p := w.shownProbability(h.places)
	in := w.d.model.profile.Indications
	if w.shown.at == len(in) {
		if p < 0.1 {
			return "It would have shown something; it showed nothing, which does not fit."
		}
		return ""
	}
	said := in[w.shown.at]
	text := ""
	if len(said.Limits) > 0 && len(h.places) > 0 {
		text = w.pinText(&said, h)
	}
	verdict := "does not fit"
	if p > 0.3 {
		verdict = "fits"
	} else if p > 0.05 {
		verdict = "may fit"
	}
	return fmt.Sprintf("%s“%s” %s.", text, said.Shows, verdict)
}

// shownProbability is how probable what the board showed when it came is with causes
// in their places.
func (w *weighing) shownProbability(places []place) float64 {
	var moving []place
	for _, p := range places {
		if _, ok := w.shown.with[int32(p.cause)]; ok {
			moving = append(moving, p)
		}
	}
	switch len(moving) {
	case 0:
		return w.shown.healthy[w.shown.at]
	case 1:
		return w.shown.with[int32(moving[0].cause)][w.shown.at]
	}
	return w.d.showTogether(moving)[w.shown.at]
}

// pinText says where the pin of a violated limit stands.
func (w *weighing) pinText(in *profile.Indication, h *hypothesis) string {
	for i, x := range w.d.model.profile.Indications {
		if x.Code != in.Code {
			continue
		}
		for k, l := range w.d.levels(w.d.defects(h.places)...)[i] {
			limit := in.Limits[k]
			if l.violated(limit) < 0.3 {
				continue
			}
			return w.d.standsText(limit, l)
		}
	}
	return ""
}

func (d *dictionary) standsText(limit profile.Limit, l level) string {
	name := limit.Place
	if name == "" {
		name = limit.Node
	}
	switch {
	case l.lost:
		return ""
	case l.floats:
		return fmt.Sprintf("%s floats then, so this indication, another or none may show: ", name)
	}
	volts := quantity.Format(l.volts, max(threeDigits(l.volts), 0.001), quantity.Volt)
	if math.Abs(l.volts) < 0.0005 {
		volts = "0 V"
	}
	if believed := d.believedText(limit, l.volts); believed != "" {
		return fmt.Sprintf("%s stands at %s then and %s: ", name, volts, believed)
	}
	return fmt.Sprintf("%s stands at %s then: ", name, volts)
}

// believedText says what the controller takes a pin's volts for.
func (d *dictionary) believedText(limit profile.Limit, volts float64) string {
	p := d.model.profile
	for _, b := range p.Blocks {
		if b.Believes == nil || b.Believes.Node != limit.Node || b.Believes.FullScale == 0 {
			continue
		}
		if volts >= b.Believes.FullScale {
			return "the controller believes full scale"
		}
		state, _ := p.State(limit.State)
		for _, src := range state.Sources {
			if src.Name != b.Believes.Of || src.Volts == 0 {
				continue
			}
			if healthy, ok := d.healthyVolts(limit); ok && healthy != 0 {
				step := math.Pow(10, math.Floor(math.Log10(src.Volts))-2)
				return "the controller believes " + quantity.Format(math.Round(src.Volts*volts/healthy/step)*step, step, quantity.Volt)
			}
		}
	}
	return ""
}

func (d *dictionary) healthyVolts(limit profile.Limit) (float64, bool) {
	b, err := d.model.profile.Board(limit.State)
	if err != nil {
		return 0, false
	}
	l := levelOf(b, limit)
	return l.volts, !l.floats && !l.lost
}
