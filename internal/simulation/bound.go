package simulation

import (
	"math"
	"math/bits"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// Bound is how few readings could do for single faults of a profile if every
// reading had two outcomes: an ideal to hold the readings used against. A meter
// shows more than two outcomes, so that it can be undercut.
type Bound struct {
	Groups    int     // sets of parts that some check tells from every other
	HalfSplit int     // readings at most, halving the groups each time
	Bits      float64 // readings on average at least: the entropy of how often the groups fail
}

// HalfSplit gives ⌈log₂ n⌉: the two-way tests that find one of n equally likely
// causes, at worst.
func HalfSplit(n int) int { return bits.Len(uint(max(n, 1) - 1)) }

// Bits gives Shannon's entropy −Σ p·log₂ p of causes with these weights, which
// need not sum to 1: the two-way tests that find one of them on average, at least.
func Bits(weights ...float64) float64 {
	sum, h := 0.0, 0.0
	for _, w := range weights {
		sum += w
	}
	for _, w := range weights {
		if w > 0 {
			h -= w / sum * math.Log2(w/sum)
		}
	}
	return h
}

// Bound works the bound out: every fault of every part is read at every check
// with parts at their nominal values, drifts and leaks in two sizes. Two parts are
// in one group when each fault of either reads everywhere like some fault of the
// other. A fault that no check reveals counts with none.
func (t *Technician) Bound() Bound {
	parts := t.signatures()
	group := make([]int, len(parts))
	for i := range parts {
		group[i] = i
		for j := range i {
			if parts[i].like(&parts[j]) && parts[j].like(&parts[i]) {
				group[i] = group[j]
				break
			}
		}
	}
	weights := map[int]float64{}
	for i, g := range group {
		weights[g] += parts[i].weight
	}
	var all []float64
	for i := range parts {
		if w, ok := weights[i]; ok {
			all = append(all, w)
		}
	}
	return Bound{Groups: len(all), HalfSplit: HalfSplit(len(all)), Bits: Bits(all...)}
}

// signature is what every check shows of the faults of one part.
type signature struct {
	part   string
	weight float64
	faults [][]shown
}

// shown is one reading and how far it may move by tolerance and meter.
type shown struct {
	r      meter.Reading
	margin float64
	no     bool // there is none: the board has no solution
}

func (a shown) apart(b shown) bool {
	if a.no || b.no || a.r.Over != b.r.Over {
		return a.no != b.no || a.r.Over != b.r.Over
	}
	return !a.r.Over && math.Abs(a.r.Value-b.r.Value) > a.margin+b.margin
}

func apart(a, b []shown) bool {
	for i := range a {
		if a[i].apart(b[i]) {
			return true
		}
	}
	return false
}

// like tells whether every fault of a part reads like some fault of another.
func (s *signature) like(other *signature) bool {
	for _, f := range s.faults {
		found := false
		for _, g := range other.faults {
			found = found || !apart(f, g)
		}
		if !found {
			return false
		}
	}
	return true
}

// signatures gives those of all parts that have a fault which some check reveals.
func (t *Technician) signatures() []signature {
	good := t.shownBy()
	at := map[string]int{}
	var out []signature
	for _, f := range faultsOf(t.Profile, World{}) {
		part, _ := t.Profile.Part(f.Part)
		told := false
		for _, d := range typical(part, f.Mode) {
			s := t.shownBy(d)
			if !apart(s, good) {
				continue
			}
			i, known := at[f.Part]
			if !known {
				i = len(out)
				at[f.Part] = i
				out = append(out, signature{part: f.Part})
			}
			out[i].faults = append(out[i].faults, s)
			if !told {
				out[i].weight += f.weight
				told = true
			}
		}
	}
	return out
}

// typical gives a mode in one or two sizes.
func typical(part *profile.Part, mode profile.Mode) []profile.Defect {
	sizes := map[profile.Mode][]float64{
		profile.ModeOpen: {math.Inf(1)}, profile.ModeShort: {0.2}, profile.ModeOutputShort: {0.2},
		profile.ModeLeaky: {3e3, 30e3}, profile.ModeWeak: {3, 20}, profile.ModeTired: {1.5, 5},
		profile.ModeHigh: {1.5, 10}, profile.ModeLow: {1.5, 5},
	}[mode]
	if part.Kind == profile.Regulator && len(sizes) == 2 {
		sizes = []float64{1.2, 2}
	}
	if len(sizes) == 0 {
		sizes = []float64{0} // a mode without a size
	}
	var out []profile.Defect
	for _, size := range sizes {
		out = append(out, profile.Defect{Part: part.Ref, Mode: mode, Size: size})
	}
	return out
}

// shownBy reads every check of a nominal board with defects.
func (t *Technician) shownBy(defects ...profile.Defect) []shown {
	out := make([]shown, len(t.rows))
	boards := map[string]*profile.Board{}
	for i := range t.rows {
		row := &t.rows[i]
		c := row.Measured
		key := c.State
		if c.Lifted {
			key += " " + c.Across
		}
		board, known := boards[key]
		if !known {
			board = t.nominal(c, defects)
			boards[key] = board
		}
		out[i] = t.shownOn(board, c)
		if g := row.Guard; g.Low != nil && g.High != nil && g.Typical != nil && *g.Typical != 0 {
			out[i].margin += math.Abs(out[i].r.Value / *g.Typical) * (*g.High - *g.Low) / 2
		}
	}
	return out
}

// nominal gives the board of a check, nil when it has no solution.
func (t *Technician) nominal(c profile.Check, defects []profile.Defect) *profile.Board {
	make := func() (*profile.Board, error) { return t.Profile.Board(c.State, defects...) }
	if c.Lifted {
		make = func() (*profile.Board, error) { return t.Profile.LiftedBoard(c.Across, defects...) }
	}
	board, err := make()
	if err != nil {
		return nil
	}
	return board
}

func (t *Technician) shownOn(board *profile.Board, c profile.Check) shown {
	if board == nil {
		return shown{no: true}
	}
	red, black, ok := board.Nodes(c.RedNode, c.BlackNode)
	if !ok {
		return shown{r: meter.Reading{Over: c.Measure != profile.MeasureDCVolts}}
	}
	r, err := readOn(t.Meter, board, c, red, black)
	return shown{r: r, margin: r.Half, no: err != nil}
}
