package ui

import (
	"math"
	"strconv"
	"strings"
)

// Scaled is what a small scale beside a reading shows, in the base unit. Low
// and High are nil where the band reaches over-range; Low, Typical and High are
// all nil where a good board reads OL.
type Scaled struct {
	Known              bool // a band is known at all
	Low, Typical, High *float64
	Open, Short        *Reads // what the part would read open, shorted; nil: no such mode
	Actual             *Reads // nil: not read
	Log                bool   // ohms and farads; volts are linear
	Width              int    // of the drawing in pixels; 0: 150
}

// Reads is one displayed value.
type Reads struct {
	Value     float64
	OverRange bool
}

// Scale is that, laid out: positions are in pixels from the left of a drawing
// that is Width wide and Height high.
type Scale struct {
	Width, Height int
	End           float64 // where the numbers end and over-range begins
	Bar           *[2]float64
	Middle        float64 // the typical value; 0: none
	Ticks         []Tick
	Needle        *Needle
}

// Tick is a marked place: "open", "short".
type Tick struct {
	X     float64
	Label string
	Off   int // −1, +1: it lies beyond that end of the scale
	At    float64
	Align string // text-anchor of the label
}

// Needle is the reading.
type Needle struct {
	X      float64
	Off    int    // −1, +1: beyond the end, drawn as an arrow
	Factor string // "×6", beside an arrow
	At     float64
	Align  string
}

const (
	scaleHeight = 30
	overRange   = 26.0 // width of the zone at the right end that stands for OL
	inset       = 5.0
)

// window is the part of the axis that is drawn.
type window struct {
	from, to   float64 // on the axis: the logarithm, or the value itself
	left, room float64 // pixels
	log        bool
}

func (w window) axis(v float64) float64 {
	if w.log {
		return math.Log(math.Max(v, 1e-15))
	}
	return v
}

// place gives where a value stands, and beyond which end when it does not.
func (w window) place(v float64) (x float64, off int) {
	a := w.axis(v)
	switch {
	case a < w.from:
		return w.left, -1
	case a > w.to:
		return w.left + w.room, 1
	}
	return w.left + (a-w.from)/(w.to-w.from)*w.room, 0
}

// NewScale lays out a scale: the band in the middle with as much room on both
// sides as it is wide, at least a quarter of its value.
func NewScale(s Scaled) Scale {
	out := Scale{Width: s.Width, Height: scaleHeight}
	if out.Width == 0 {
		out.Width = 150
	}
	out.End = float64(out.Width) - overRange
	if !s.Known {
		return out
	}
	w := s.window(out.End)
	out.bar(s, w)
	for _, t := range []struct {
		label string
		at    *Reads
	}{{"short", s.Short}, {"open", s.Open}} {
		if t.at == nil {
			continue
		}
		if tick := out.tick(t.label, *t.at, w); tick.Off >= 0 { // a short far below says nothing
			out.Ticks = append(out.Ticks, tick)
		}
	}
	if s.Actual != nil {
		out.Needle = out.needle(s, w)
	}
	return out
}

// window chooses what is drawn of the axis.
func (s Scaled) window(end float64) window {
	w := window{left: inset, room: end - 2*inset, log: s.Log && s.Low != nil && *s.Low > 0}
	low, high := s.ends()
	if s.Log && low > 0 {
		w.log = true
	}
	a, b := w.axis(low), w.axis(high)
	least := math.Log(1.25)
	if !w.log {
		least = 0.15 * math.Max(math.Abs(low), math.Abs(high))
	}
	pad := math.Max(math.Max(b-a, least), 1e-12)
	w.from, w.to = a-pad, b+pad
	reach := 2 * (w.to - w.from)
	for _, r := range []*Reads{s.Open, s.Short} {
		if r == nil || r.OverRange || w.log && r.Value <= 0 {
			continue
		}
		switch x := w.axis(r.Value); {
		case x > w.to && x-w.to < reach:
			w.to = x + 0.1*(x-w.from)
		case x < w.from && w.from-x < reach:
			w.from = x - 0.1*(w.to-x)
		}
	}
	return w
}

// ends gives the finite ends of the band; where it reaches over-range, the
// typical or the lower end stand in.
func (s Scaled) ends() (low, high float64) {
	known := false
	for _, v := range []*float64{s.Low, s.Typical, s.High} {
		if v != nil {
			if !known {
				low, known = *v, true
			}
			high = *v
		}
	}
	if !known && s.Actual != nil && !s.Actual.OverRange {
		return s.Actual.Value, s.Actual.Value
	}
	return low, high
}

func (out *Scale) bar(s Scaled, w window) {
	right := float64(out.Width) - inset
	switch {
	case s.Low == nil:
		out.Bar = &[2]float64{out.End + 3, right}
		return
	case s.High == nil:
		x, _ := w.place(*s.Low)
		out.Bar = &[2]float64{x, right}
	default:
		a, _ := w.place(*s.Low)
		b, _ := w.place(*s.High)
		if b-a < 2 { // a hairline band must still be seen
			a, b = (a+b)/2-1, (a+b)/2+1
		}
		out.Bar = &[2]float64{a, b}
	}
	if s.Typical != nil {
		if x, off := w.place(*s.Typical); off == 0 {
			out.Middle = x
		}
	}
}

func (out *Scale) tick(label string, r Reads, w window) Tick {
	t := Tick{Label: label}
	if r.OverRange {
		t.X = out.overRange()
	} else {
		t.X, t.Off = w.place(r.Value)
	}
	t.At, t.Align = out.beside(t.X, 15)
	return t
}

func (out *Scale) needle(s Scaled, w window) *Needle {
	n := &Needle{}
	if s.Actual.OverRange {
		n.X = out.overRange()
	} else {
		n.X, n.Off = w.place(s.Actual.Value)
	}
	if n.Off != 0 && s.Typical != nil {
		n.Factor = factor(s.Actual.Value, *s.Typical)
	}
	n.At, n.Align = out.beside(n.X, 15)
	return n
}

func (out *Scale) overRange() float64 { return out.End + overRange/2 - 1 }

// beside keeps a label of that half width inside the drawing.
func (out *Scale) beside(x, half float64) (at float64, align string) {
	switch {
	case x < half:
		return 0, "start"
	case x > float64(out.Width)-half:
		return float64(out.Width), "end"
	}
	return x, "middle"
}

// factor says how far beyond the scale a reading lies, "×6" or "÷40"; where a
// ratio says nothing it is empty.
func factor(actual, typical float64) string {
	if typical == 0 || actual == 0 || (actual > 0) != (typical > 0) {
		return ""
	}
	r, sign := actual/typical, "×"
	if r < 1 {
		r, sign = 1/r, "÷"
	}
	switch {
	case r < 10:
		return sign + strings.TrimSuffix(strconv.FormatFloat(r, 'f', 1, 64), ".0")
	case r < 1000:
		return sign + strconv.FormatFloat(r, 'f', 0, 64)
	}
	return sign + "1000 +"
}

// px writes a position for an attribute.
func px(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

// arrow draws a head that points beyond an end of the scale.
func arrow(x, y float64, off int, size float64) string {
	back := x - float64(off)*size
	return "M" + px(back) + " " + px(y-size*0.75) + "L" + px(x+float64(off)) + " " + px(y) + "L" + px(back) + " " + px(y+size*0.75)
}

// pointer draws the needle: a line with a head on top.
func pointer(x float64) string {
	return "M" + px(x-3.5) + " 12H" + px(x+3.5) + "L" + px(x+0.75) + " 17V30H" + px(x-0.75) + "V17Z"
}

// factorX puts the factor on the inner side of the arrow.
func factorX(n *Needle) string { return px(n.X - float64(n.Off)*11) }

func factorAlign(n *Needle) string {
	if n.Off < 0 {
		return "start"
	}
	return "end"
}
