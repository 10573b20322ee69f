package ui

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func at(x float64) *float64 { return &x }

func resistor(actual *Reads) Scaled {
	return Scaled{Known: true, Log: true, Low: at(6630), Typical: at(6800), High: at(6960), Open: &Reads{OverRange: true}, Short: &Reads{Value: 0.1}, Actual: actual}
}

func TestScaleOfAResistor(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		actual *Reads
		off    int
		factor string
		inBar  bool
		inOL   bool
	}{
		{"good", &Reads{Value: 6780}, 0, "", true, false},
		{"a little high", &Reads{Value: 7500}, 0, "", false, false},
		{"six times", &Reads{Value: 41300}, 1, "×6.1", false, false},
		{"a sixth", &Reads{Value: 1130}, -1, "÷6", false, false},
		{"far above", &Reads{Value: 5e6}, 1, "×735", false, false},
		{"nearly nothing", &Reads{Value: 0.2}, -1, "÷1000 +", false, false},
		{"nothing", &Reads{Value: 0}, -1, "", false, false},
		{"over-range", &Reads{OverRange: true}, 0, "", false, true},
	} {
		s := NewScale(resistor(c.actual))
		n := s.Needle
		if n.Off != c.off || n.Factor != c.factor {
			t.Errorf("%s: off %d %q, want %d %q", c.name, n.Off, n.Factor, c.off, c.factor)
		}
		if in := n.X >= s.Bar[0] && n.X <= s.Bar[1]; in != c.inBar {
			t.Errorf("%s: needle at %.1f, the bar from %.1f to %.1f", c.name, n.X, s.Bar[0], s.Bar[1])
		}
		if in := n.X > s.End; in != c.inOL {
			t.Errorf("%s: needle at %.1f, over-range begins at %.1f", c.name, n.X, s.End)
		}
	}
	s := NewScale(resistor(nil))
	if len(s.Ticks) != 1 || s.Ticks[0].Label != "open" || s.Ticks[0].X < s.End {
		t.Errorf("ticks: %+v, want open in the over-range zone and no short", s.Ticks)
	}
}

func TestScaleShowsANearOpenWhereItStands(t *testing.T) {
	t.Parallel()
	// A 10 k pull-up in circuit: 5.7 k good, 48 k open, would be beyond; 7.4 k is on it.
	near := resistor(nil)
	near.Open = &Reads{Value: 7400}
	s := NewScale(near)
	if k := s.Ticks[0]; k.Off != 0 || k.X <= s.Bar[1] || k.X >= s.End {
		t.Errorf("open at 7.4 k: %+v, bar to %.1f", k, s.Bar[1])
	}
	near.Open = &Reads{Value: 4.8e4}
	if k := NewScale(near).Ticks[0]; k.Off != 1 {
		t.Errorf("open at 48 k: %+v, want beyond the end", k)
	}
}

func TestScaleOfOverRangeBands(t *testing.T) {
	t.Parallel()
	s := NewScale(Scaled{Known: true, Log: true, Actual: &Reads{Value: 4700}}) // a good board reads OL
	if s.Bar[0] < s.End {
		t.Errorf("a band that is OL alone begins at %.1f, before %.1f", s.Bar[0], s.End)
	}
	if s.Needle.X > s.End {
		t.Error("a number stands in the over-range zone")
	}
	s = NewScale(Scaled{Known: true, Log: true, Low: at(5e6)}) // 5 M up to OL
	if s.Bar[0] > s.End || s.Bar[1] < s.End {
		t.Errorf("a band up to OL: %.1f to %.1f", s.Bar[0], s.Bar[1])
	}
	if s = NewScale(Scaled{Actual: &Reads{Value: 3}}); s.Bar != nil || s.Needle != nil {
		t.Error("something is drawn though nothing is known")
	}
}

// A fuse reads 0.0 Ω: that is inside a band that begins at nothing.
func TestScaleOfAlmostNothing(t *testing.T) {
	t.Parallel()
	s := NewScale(Scaled{Known: true, Log: true, Low: at(0), Typical: at(0.1), High: at(0.6), Open: &Reads{OverRange: true}, Actual: &Reads{Value: 0}})
	if n := s.Needle; n.Off != 0 || n.X < s.Bar[0]-0.1 || n.X > s.Middle {
		t.Errorf("needle %+v, bar %v", n, *s.Bar)
	}
}

func TestScaleOfVoltsIsLinear(t *testing.T) {
	t.Parallel()
	s := Scaled{Known: true, Low: at(-0.1), Typical: at(0), High: at(0.1), Actual: &Reads{Value: -0.05}}
	n := NewScale(s)
	if n.Needle.Off != 0 || n.Needle.X >= n.Middle || n.Needle.X <= n.Bar[0] {
		t.Errorf("−0.05 V in ±0.1 V: %+v, bar %v", n.Needle, *n.Bar)
	}
	s.Actual = &Reads{Value: 2.5}
	if n = NewScale(s); n.Needle.Off != 1 || n.Needle.Factor != "" {
		t.Errorf("2.5 V where 0 V belongs: %+v; a factor of nothing says nothing", n.Needle)
	}
}

// Whatever is put in stays inside the drawing, in order, and the needle lies in
// the bar exactly when the reading lies in the band.
func TestScaleKeepsOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		log := rapid.Bool().Draw(t, "log")
		low := rapid.Float64Range(0.001, 1e7).Draw(t, "low")
		if !log && rapid.Bool().Draw(t, "negative") {
			low = -low
		}
		width := rapid.Float64Range(1e-4, 3).Draw(t, "width")
		high := low + math.Abs(low)*width
		typical := low + (high-low)*rapid.Float64Range(0, 1).Draw(t, "typical")
		actual := rapid.Float64Range(-1, 4).Draw(t, "actual") * high
		s := NewScale(Scaled{Known: true, Log: log, Low: &low, Typical: &typical, High: &high, Actual: &Reads{Value: actual},
			Open: &Reads{Value: high * rapid.Float64Range(0.5, 100).Draw(t, "open")}})
		if s.Bar[0] > s.Bar[1] || s.Bar[0] < 0 || s.Bar[1] > s.End || s.Middle < s.Bar[0]-1 || s.Middle > s.Bar[1]+1 {
			t.Fatalf("bar %v, middle %g, end %g", *s.Bar, s.Middle, s.End)
		}
		n := s.Needle
		if n.X < 0 || n.X > float64(s.Width) || math.IsNaN(n.X) {
			t.Fatalf("needle at %g", n.X)
		}
		const wide = 1.0 // a bar is at least two pixels
		switch {
		case actual < low && n.X > s.Bar[0]+wide, actual > high && n.X < s.Bar[1]-wide,
			actual >= low && actual <= high && (n.X < s.Bar[0]-wide || n.X > s.Bar[1]+wide):
			t.Fatalf("%g in %g to %g: needle at %g, bar %v", actual, low, high, n.X, *s.Bar)
		}
	})
}

func TestStripIsLaidOutWithoutCollisions(t *testing.T) {
	t.Parallel()
	part := func(ref string) *StripPart { return &StripPart{Ref: ref, Nominal: "120 kΩ"} }
	s := Strip{Source: "bus", Believes: "bus 299 V", Stops: []Stop{
		{Node: &StripNode{Name: "p"}}, {Part: part("R11")}, {Node: &StripNode{Name: "a1"}},
		{Part: &StripPart{Ref: "R12", Broken: true}}, {Node: &StripNode{Name: "vb", Legs: []StripPart{{Ref: "R17", To: "com"}, {Ref: "C17", To: "com"}}}},
		{Part: part("R18")}, {Node: &StripNode{Name: "adb"}},
	}}
	d := s.lay()
	if len(d.Parts) != 5 || len(d.Nodes) != 4 || len(d.Breaks) != 1 {
		t.Fatalf("%d parts, %d nodes, %d breaks", len(d.Parts), len(d.Nodes), len(d.Breaks))
	}
	for i, p := range d.Parts {
		if p.X < 0 || p.X+partWide > float64(d.Width) || p.Y+partHigh > float64(d.Height) {
			t.Errorf("%s lies outside", p.Ref)
		}
		for _, q := range d.Parts[:i] {
			if p.Y == q.Y && math.Abs(p.X-q.X) < partWide {
				t.Errorf("%s and %s overlap", q.Ref, p.Ref)
			}
		}
	}
	for i, n := range d.Nodes[1:] {
		if n.X <= d.Nodes[i].X {
			t.Errorf("%s is not right of %s", n.Name, d.Nodes[i].Name)
		}
	}
	if s.RoomBelow() {
		t.Error("R17 hangs in the lower left corner, and a text is to stand there")
	}
	s.Stops[4].Node.Legs = nil
	if s.RoomBelow() {
		t.Error("nothing hangs below the line, and a text is to stand there")
	}
	s.Stops[6].Node.Legs = []StripPart{{Ref: "C18", To: "com"}}
	if !s.RoomBelow() {
		t.Error("C18 hangs far to the right, and the corner is not free")
	}
	broken := d.Breaks[0]
	for _, w := range d.Wires {
		if w[0] < broken+1 && w[1] > broken+breakWide-1 {
			t.Errorf("the wire from %g to %g goes on where the fault is found, at %g", w[0], w[1], broken)
		}
	}
}

func TestEdgeLapsesWithoutScript(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	e := Edge{Kind: EdgeRead, Words: "READ 0.03 V, 4 min ago", Remains: 360}
	if err := EdgeFrame(e).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"--remains:360s", `class="bar top lapsed"`, UnprovenWords} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the edge has no %q", want)
		}
	}
	b.Reset()
	if err := EdgeFrame(Edge{Kind: EdgeLive, Words: "LIVE"}).Render(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), UnprovenWords) {
		t.Error("a live board is called unproven")
	}
	if n := strings.Count(b.String(), ">LIVE<"); n != 4 {
		t.Errorf("the word stands in %d corners", n)
	}
}
