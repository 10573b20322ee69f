package ui

import (
	"strconv"
	"unicode/utf8"
)

// Strip is a chain of parts in the order the signal runs, ready to be drawn:
// texts as they are read, verdicts, breaks. Words tells the same in a sentence
// for those who cannot see the drawing.
type Strip struct {
	Title    string // "DC-bus voltage sensing"
	Words    string
	Source   string // what feeds the chain: "mains230"
	Stops    []Stop // nodes and parts in turn
	Believes string // what the controller believes, without the quotation marks; "" when it is not said
	Note     string // under it, one short line
}

// RoomBelow tells whether the lower left corner of the drawing is free for a
// line of text: parts hang below the line, but none of them there.
func (s Strip) RoomBelow() bool {
	const text = 330
	legs := false
	for _, p := range s.lay().Parts {
		if p.DropX > 0 {
			legs = true
			if p.X < text {
				return false
			}
		}
	}
	return legs
}

// anyRead tells whether some node was read: the readings stand above the line.
func (s Strip) anyRead() bool {
	for _, stop := range s.Stops {
		if stop.Node != nil && stop.Node.Read != "" {
			return true
		}
	}
	return false
}

// Stop is one stage of a strip: a node or a part.
type Stop struct {
	Node *StripNode
	Part *StripPart
}

// StripNode is a dot on the line.
type StripNode struct {
	Name    string
	Level   string // "3.03 V", "floats"
	Read    string // "2.80 V"; "" when not read
	Verdict Verdict
	Legs    []StripPart // parts that hang from it to somewhere else
}

// StripPart is a slim box.
type StripPart struct {
	Ref     string
	Nominal string
	To      string // of a leg: the node at its other end
	Scale   *Scale
	Read    string
	Verdict Verdict
	Broken  bool // a found fault: the line is cut here
	Suspect bool
}

// PartWidth is how wide a part is drawn, for its scale.
const PartWidth = partWide

// Measures of the drawing in pixels.
const (
	partWide  = 88
	partHigh  = 34
	nodeWide  = 30
	legWide   = 92
	lineY     = 52 // of the line; nodes that were read push it down
	readHigh  = 18
	legDrop   = 44 // from the line to the boxes of legs
	breakWide = 22
	beliefGap = 20
	beliefW   = 172
)

// drawn is a strip with every place computed.
type drawn struct {
	Width, Height int
	LineY         int
	Source        string
	SourceX       float64
	Breaks        []float64 // where the line is cut
	Nodes         []drawnNode
	Parts         []drawnPart
	Wires         [][2]float64 // stretches of the line, from x to x
	BelievesX     float64
}

type drawnNode struct {
	StripNode
	X float64
}

type drawnPart struct {
	StripPart
	X, Y  float64 // upper left corner of the box
	DropX float64 // of a leg: where it hangs from; 0 otherwise
}

// lay computes where everything goes: parts and nodes from left to right, legs
// below their node, side by side where there are several.
func (s Strip) lay() drawn {
	line := lineY
	if s.anyRead() {
		line += readHigh
	}
	d := drawn{LineY: line, Height: line + 62, Source: s.Source}
	x := 18.0
	if s.Source != "" {
		x = max(x, 7*float64(utf8.RuneCountInString(s.Source)))
	}
	d.SourceX = x
	from := x
	for _, stop := range s.Stops {
		if stop.Part != nil {
			d.wire(from, x)
			if stop.Part.Broken {
				d.Breaks = append(d.Breaks, x)
				x += breakWide
			}
			d.Parts = append(d.Parts, drawnPart{StripPart: *stop.Part, X: x, Y: float64(line - partHigh/2)})
			x += partWide
			from = x
			continue
		}
		wide := max(nodeWide, legWide*len(stop.Node.Legs))
		n := drawnNode{StripNode: *stop.Node, X: x + float64(wide)/2}
		for i, leg := range stop.Node.Legs {
			d.Parts = append(d.Parts, drawnPart{StripPart: leg, X: x + float64(legWide*i) + (legWide-partWide)/2, Y: float64(line + legDrop), DropX: n.X})
			d.Height = line + legDrop + partHigh + 44
		}
		d.Nodes = append(d.Nodes, n)
		x += float64(wide)
	}
	d.BelievesX = x + beliefGap
	d.wire(from, d.BelievesX-6)
	d.Width = int(d.BelievesX)
	if s.Believes != "" {
		d.Width += max(beliefW, int(12.5*float64(utf8.RuneCountInString(s.Believes)+2)), 7*utf8.RuneCountInString(s.Note)) + 8
	}
	for _, n := range d.Nodes {
		d.Width = max(d.Width, int(n.readX()+18+n.readWide()))
	}
	return d
}

func (d *drawn) wire(from, to float64) {
	if to > from {
		d.Wires = append(d.Wires, [2]float64{from, to})
	}
}

// middle is the middle of a part's box.
func (p drawnPart) middle() float64 { return p.X + partWide/2 }

// leads says where a leg leads, as long as it fits beside the designator.
func (p drawnPart) leads() string {
	if p.To == "" || utf8.RuneCountInString(p.Ref+p.To) > 6 {
		return ""
	}
	return " to " + p.To
}

// at moves a place up or down from the line.
func (d drawn) at(dy int) string { return strconv.Itoa(d.LineY + dy) }

// readX sets a node's mark and reading so that both together stand above it.
func (n drawnNode) readX() float64 { return max(0, n.X-(18+n.readWide())/2) }

// readWide is about how wide a reading is written.
func (n drawnNode) readWide() float64 { return 8.5 * float64(utf8.RuneCountInString(n.Read)) }

func whole(n int) string { return strconv.Itoa(n) }
