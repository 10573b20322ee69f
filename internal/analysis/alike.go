package analysis

import (
	"fmt"
	"math"
	"slices"
)

// Where the profile lists no parts nothing can be computed, but like channels
// still say which of them is the odd one out.

// How near like channels stand to each other, and how far an odd one.
const (
	alikeWithin = 0.10
	oddFrom     = 0.30
)

// oddOneOut names the checks that read unlike the others of their group, in plain
// sentences. At least three of a group must have been read.
func (m *Model) oddOneOut(readings []Reading) []string {
	latest := map[string]*Reading{}
	for i := range readings {
		if r := &readings[i]; !r.Bare() && !r.NotPossible && r.Moving == Still {
			latest[r.Check.ID] = r
		}
	}
	var out []string
	for _, group := range m.profile.Alike {
		var read []*Reading
		for _, id := range group {
			if r, ok := latest[id]; ok {
				read = append(read, r)
			}
		}
		if odd := oddOf(read); odd != nil {
			out = append(out, fmt.Sprintf("%s read %s, unlike its like channels.", placeText(odd.Check), typed(odd)))
		}
	}
	return out
}

// oddOf gives the one reading that stands apart while all others agree.
func oddOf(read []*Reading) *Reading {
	if len(read) < 3 {
		return nil
	}
	var odd *Reading
	for i, r := range read {
		rest := slices.Delete(slices.Clone(read), i, i+1)
		low, high := math.Inf(1), math.Inf(-1)
		for _, x := range rest {
			low, high = min(low, magnitude(x)), max(high, magnitude(x))
		}
		together := high-low <= alikeWithin*math.Max(math.Abs(high), 1e-9) || math.IsInf(low, 1)
		if apart := math.Max(low-magnitude(r), magnitude(r)-high); together && (apart > oddFrom*math.Abs(high) || math.IsInf(apart, 1)) {
			odd = r
		}
	}
	return odd
}

// magnitude gives a reading as one number; over-range is above all.
func magnitude(r *Reading) float64 {
	if r.Value.OverRange {
		return math.Inf(1)
	}
	return r.Value.Number
}
