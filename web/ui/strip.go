package ui

import "strconv"

// Strip is a chain of parts in the order the signal runs, ready to be drawn:
// texts as they are read, verdicts, breaks. Words tells the same in a sentence
// for those who cannot see the drawing.
type Strip struct {
	Title    string // "DC-bus voltage sensing"
	Words    string
	Source   string // what feeds the chain: "mains230, 324 V"
	Stops    []Stop // nodes and parts in turn
	Believes string // what the controller believes, without the quotation marks; "" when it is not said
	Note     string // under it, one short line
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
	partWide  = 92
	partHigh  = 36
	nodeWide  = 44
	legWide   = 104
	lineY     = 56
	legY      = 124
	sourceGap = 18
	beliefGap = 26
	beliefW   = 214
)

// drawn is a strip with every place computed.
type drawn struct {
	Width, Height int
	LineY         int
	Source        string
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
	d := drawn{LineY: lineY, Height: lineY + 74, Source: s.Source}
	x := float64(sourceGap)
	from := x
	for _, stop := range s.Stops {
		if stop.Part != nil {
			p := drawnPart{StripPart: *stop.Part, X: x, Y: lineY - partHigh/2}
			d.wire(from, x)
			from = x + partWide
			d.Parts = append(d.Parts, p)
			x = from
			continue
		}
		wide := max(nodeWide, legWide*len(stop.Node.Legs))
		n := drawnNode{StripNode: *stop.Node, X: x + float64(wide)/2}
		for i, leg := range stop.Node.Legs {
			d.Parts = append(d.Parts, drawnPart{StripPart: leg, X: x + float64(legWide*i) + (legWide-partWide)/2, Y: legY, DropX: n.X})
			d.Height = legY + partHigh + 56
		}
		d.Nodes = append(d.Nodes, n)
		x += float64(wide)
	}
	d.BelievesX = x + beliefGap
	d.wire(from, d.BelievesX-6)
	d.Width = int(d.BelievesX)
	if s.Believes != "" {
		d.Width += beliefW
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

func whole(n int) string { return strconv.Itoa(n) }
