package analysis

import (
	"fmt"
	"math"
	"strings"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
)

// Account is what a hypothesis makes of the readings, for those who show it
// piece by piece; Suspect.Why says the same in sentences.
type Account struct {
	Readings int      // that were weighed
	Misfits  []Misfit // those that it does not explain
	Silent   bool     // no reading would have shown it
	Size     string   // "R32 about 22.6 MΩ instead of 1 kΩ."; empty: not known
	Shown    string   // how what the board shows by itself fits; empty: not known
}

// Misfit is a reading that a hypothesis does not explain.
type Misfit struct {
	Row   int    // of the reading in the table
	Place string // "across R14"
	Read  string // as it was typed
	Would string // what would have been read
}

// Set is the suspects with the same bad parts, however they failed.
type Set struct {
	Parts       []string  // none: nothing is wrong
	Probability float64   // all ways of failing together
	Modes       []Suspect // most probable first; at most mostModes, the rest counts in Probability
}

const (
	mostSets  = 8
	mostModes = 4
)

// sets lists the suspects by their parts, most probable first.
func (w *weighing) sets() []Set {
	byParts := map[string][]Suspect{}
	for _, g := range w.groups(false) {
		if g.sibling != nil || g.p < leastNamed {
			continue
		}
		key := strings.Join(w.refs(&g), " ")
		if modes := byParts[key]; len(modes) < mostModes {
			byParts[key] = append(modes, w.suspect(&g))
		}
	}
	var out []Set
	for _, g := range w.groups(true) {
		if len(out) == mostSets || g.p < leastNamed {
			break
		}
		if g.sibling != nil {
			continue
		}
		refs := w.refs(&g)
		out = append(out, Set{Parts: refs, Probability: rounded(g.p), Modes: byParts[strings.Join(refs, " ")]})
	}
	return out
}

// account goes through the readings under the most probable member of a group.
func (w *weighing) account(g *group) Account {
	h := &w.all[g.best]
	a := Account{Readings: len(w.evidence), Silent: len(h.places) > 0, Size: w.sizeText(h), Shown: w.whyShown(h)}
	s := w.score(h.places)
	off := w.offReadings(&s)
	for i := range w.evidence {
		if s.shapes[i].touched {
			a.Silent = false
		}
		if off[i] {
			a.Misfits = append(a.Misfits, w.misfitAt(i, &s))
		}
	}
	return a
}

// text says it in sentences.
func (a *Account) text() string {
	var parts []string
	switch n := a.Readings; {
	case n == 0:
		parts = append(parts, "No reading speaks for or against it yet.")
	case len(a.Misfits) == 0 && a.Silent:
		parts = append(parts, fmt.Sprintf("No reading so far would have shown it (%d of %d fit).", n, n))
	case len(a.Misfits) == 0:
		parts = append(parts, fmt.Sprintf("Explains %s.", allOf(n)))
	default:
		var not []string
		for _, m := range a.Misfits[:min(3, len(a.Misfits))] {
			not = append(not, m.text())
		}
		parts = append(parts, fmt.Sprintf("Explains %d of %d readings; does not explain: %s.", n-len(a.Misfits), n, strings.Join(not, "; ")))
	}
	for _, more := range []string{a.Size, a.Shown} {
		if more != "" {
			parts = append(parts, more)
		}
	}
	return strings.Join(parts, " ")
}

func (m Misfit) text() string {
	return fmt.Sprintf("%s read %s, would be %s", m.Place, m.Read, m.Would)
}

// misfit names a reading and what would have been read.
func (w *weighing) misfit(i int, s *scored) string { return w.misfitAt(i, s).text() }

func (w *weighing) misfitAt(i int, s *scored) Misfit {
	ev := &w.evidence[i]
	return Misfit{Row: ev.row, Place: placeText(ev.check), Read: typed(ev.reading), Would: w.outcomeText(ev.entry, &s.shapes[i].outcome)}
}

// named gives a hypothesis in words, as somebody with a meter in hand would: a
// break that still conducts reads high, not open.
func (w *weighing) named(h *hypothesis) string {
	var out []string
	for _, p := range h.places {
		if w.fitted[w.partOf(p.cause)] {
			continue
		}
		c := &w.d.causes[p.cause]
		mode := c.Mode.Words()
		if c.Mode == profile.ModeOpen && c.width > 0 && w.sizeOf(p) < w.d.model.mostOhms() {
			mode = profile.ModeHigh.Words()
		}
		out = append(out, c.Part+" "+mode)
	}
	if len(out) == 0 {
		return "nothing wrong"
	}
	return list(out)
}

// mostOhms is the greatest resistance that the meter shows.
func (m *Model) mostOhms() float64 {
	r := m.meter.Resistance.Ranges
	return r[len(r)-1].FullScale
}

// sizeOf gives the size of a cause at a place of its cell.
func (w *weighing) sizeOf(p place) float64 {
	c := &w.d.causes[p.cause]
	return c.Size * math.Exp(p.at*c.width)
}

// sizeText says of what size the faults are, where that is known.
func (w *weighing) sizeText(h *hypothesis) string {
	var out []string
	for _, p := range h.places {
		c := &w.d.causes[p.cause]
		if w.fitted[w.partOf(p.cause)] || c.width == 0 || p.part == 1 {
			continue
		}
		size := w.sizeOf(p)
		switch part := w.d.faults[c.fault].part; {
		case resistive(part) && (c.Mode == profile.ModeOpen || c.Mode == profile.ModeHigh || c.Mode == profile.ModeLow):
			ohms := asResistance(part, profile.Defect{Mode: c.Mode, Size: size})
			out = append(out, fmt.Sprintf("%s about %s instead of %s", c.Part,
				quantity.Format(round2(ohms), 0, quantity.Ohm), quantity.Format(part.Ohms(), 0, quantity.Ohm)))
		case c.Mode == profile.ModeOpen:
			out = append(out, fmt.Sprintf("%s about %s", c.Part, quantity.Format(round2(size), 0, quantity.Ohm)))
		case c.Mode == profile.ModeLeaky:
			out = append(out, fmt.Sprintf("%s about %s beside it", c.Part, quantity.Format(round2(size), 0, quantity.Ohm)))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return strings.Join(out, ", ") + "."
}

// round2 rounds to two digits.
func round2(x float64) float64 {
	if x <= 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(x))-1)
	return math.Round(x/unit) * unit
}
