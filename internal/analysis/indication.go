package analysis

import (
	"math"
	"slices"

	"ohmstead/internal/belief"
	"ohmstead/internal/profile"
)

// shows is what a board shows by itself, with every cause: the probability of
// each indication of the profile, in its order, and last that of none.
type shows struct {
	healthy []float64
	with    map[int32][]float64 // by cause; absent: as healthy
}

// shown is an indication that was seen, or that none was.
type shown struct {
	*shows
	at int // its place in the profile's order; the number of indications: none
}

// Chances that the formats leave to judgement.
const (
	misread      = 0.02 // another indication was noted than was shown
	unlimited    = 0.03 // an indication without limits applies, whatever is wrong
	ofItsBlock   = 0.4  // or its block has the fault
	benchContact = 0.5  // an indication that is normal on a bench: what it misses was not connected
	floating     = 0.5  // a floating pin violates a limit within its interval
	pinVolts     = 5e-3 // how well a controller knows its pin
)

// indications works out what the board shows with every cause, once.
func (d *dictionary) indications() *shows {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.showing != nil {
		return d.showing
	}
	s := &shows{with: map[int32][]float64{}}
	s.healthy = d.showOf(d.levels(), nil)
	found := make([][]float64, len(d.causes))
	parallel(len(d.causes), func() func(int) {
		return func(id int) {
			if c := &d.causes[id]; c.joint {
				return
			}
			p := d.showOf(d.levels(d.causes[id].Defect), []int{d.causes[id].fault})
			if differ(p, s.healthy) {
				found[id] = p
			}
		}
	})
	for id := range d.causes {
		if d.causes[id].joint {
			found[id] = found[d.twin(id)]
		}
		if found[id] != nil {
			s.with[int32(id)] = found[id]
		}
	}
	d.showing = s
	return s
}

func differ(p, q []float64) bool {
	for i := range p {
		if math.Abs(p[i]-q[i]) > 1e-3 {
			return true
		}
	}
	return false
}

// level is where a controller's pin stands.
type level struct {
	volts, sd float64
	low, high float64 // where it floats
	floats    bool
	lost      bool
}

// levels gives the level of every limit of every indication, with some defects:
// in the order of the profile, limits within.
func (d *dictionary) levels(defects ...profile.Defect) [][]level {
	boards := map[string]*profile.Board{}
	var out [][]level
	for _, in := range d.model.profile.Indications {
		var of []level
		for _, l := range in.Limits {
			b, ok := boards[l.State]
			if !ok {
				b, _ = d.model.profile.Board(l.State, defects...)
				boards[l.State] = b
			}
			of = append(of, levelOf(b, l))
		}
		out = append(out, of)
	}
	return out
}

func levelOf(b *profile.Board, l profile.Limit) level {
	if b == nil {
		return level{lost: true}
	}
	n, zero, ok := b.Nodes(l.Node, l.To)
	if !ok {
		return level{lost: true}
	}
	all, err := b.Solver.Levels()
	if err != nil {
		return level{lost: true}
	}
	at, base := all[n], all[zero]
	if at.Floating {
		return level{floats: true, low: at.Low - base.High, high: at.High - base.Low}
	}
	slopes := make([]float64, len(b.Params))
	b.Solver.Sensitivity(n, zero, b.Params, slopes)
	return level{volts: b.Solver.Volts(n, zero), sd: math.Sqrt(variance(slopes) + pinVolts*pinVolts)}
}

// violated gives the probability that a limit is.
func (l level) violated(limit profile.Limit) float64 {
	switch {
	case l.lost:
		return floating
	case l.floats:
		if l.low > limit.Above || l.high < limit.Below {
			return 1
		}
		if l.low >= limit.Below && l.high <= limit.Above {
			return 0
		}
		return floating
	}
	return belief.Normal((limit.Below-l.volts)/l.sd) + belief.Normal((l.volts-limit.Above)/l.sd)
}

// showOf turns levels into the probability of each indication: the first that
// applies is shown.
func (d *dictionary) showOf(levels [][]level, faults []int) []float64 {
	p := d.model.profile
	out := make([]float64, len(p.Indications)+1)
	left := 1.0
	for i, in := range p.Indications {
		applies := d.applies(&in, levels[i], faults)
		out[i] = left * applies
		left *= 1 - applies
	}
	out[len(p.Indications)] = left
	for i := range out {
		out[i] = (1-misread)*out[i] + misread/float64(len(out))
	}
	return out
}

// applies gives the probability that an indication applies.
func (d *dictionary) applies(in *profile.Indication, levels []level, faults []int) float64 {
	if len(in.Limits) == 0 {
		for _, f := range faults {
			for _, id := range in.Blocks {
				if b, ok := d.model.profile.Block(id); ok && slices.Contains(b.Parts, d.faults[f].part.Ref) {
					return ofItsBlock
				}
			}
		}
		if in.NormalOnBench {
			return benchContact
		}
		return unlimited
	}
	not := 1.0
	for k, l := range in.Limits {
		not *= 1 - levels[k].violated(l)
	}
	if in.NormalOnBench {
		return benchContact * (1 - not)
	}
	return 1 - not
}

// shownLog gives ln of the probability of what the board showed when it came, 0
// when it is not known.
func (w *weighing) shownLog(places []place) float64 {
	if w.shown == nil {
		return 0
	}
	return math.Log(w.shownProbability(places))
}

// showTogether works out what a board shows with several causes.
func (d *dictionary) showTogether(places []place) []float64 {
	key := combinationOf(nil, places)
	d.mu.Lock()
	p, ok := d.shownWith[key]
	d.mu.Unlock()
	if ok {
		return p
	}
	var faults []int
	for _, q := range places {
		faults = append(faults, d.causes[q.cause].fault)
	}
	p = d.showOf(d.levels(d.defects(middles(places))...), faults)
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.shownWith) > mostRemembered {
		clear(d.shownWith)
	}
	d.shownWith[key] = p
	return p
}

// noticed finds a code among the indications; nil when it is not known.
func (d *dictionary) noticed(code string) *shown {
	in := d.model.profile.Indications
	switch code {
	case "":
		return nil
	case "none":
		return &shown{d.indications(), len(in)}
	}
	return &shown{d.indications(), slices.IndexFunc(in, func(x profile.Indication) bool { return x.Code == code })}
}
