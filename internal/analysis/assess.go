package analysis

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync"

	"ohmstead/internal/profile"
)

// assessment is all that is known of one check before it is read: what a
// healthy board shows and which faults would show otherwise.
type assessment struct {
	expectation
	canTell     bool
	open, short *Shown    // of the part across which it is taken
	telling     []Telling // faults that would read outside the band
	settling    *Settling // nil where the reading stands at once
}

// cell is a place in the cache that is filled once.
type cell struct {
	once sync.Once
	a    assessment
}

// assess gives the assessment of a check with what is known of the sources. It
// is computed at the first call and kept.
func (m *Model) assess(c profile.Check, settings []setting) *assessment {
	key := cacheKey(c, settings)
	m.mu.Lock()
	k, ok := m.cells[key]
	if !ok {
		if len(m.cells) >= maxCells {
			clear(m.cells) // what is in use is held by its users
		}
		k = &cell{}
		m.cells[key] = k
	}
	m.mu.Unlock()
	k.once.Do(func() { k.a = m.compute(c, settings) })
	return &k.a
}

// maxCells bounds the cache of a Model: beyond the profile's own checks it
// holds other places and other bus voltages.
const maxCells = 4000

func cacheKey(c profile.Check, settings []setting) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%+v", c.Key())
	if c.Across != "" {
		fmt.Fprintf(&b, " across %s", c.Across)
	}
	for _, s := range settings {
		fmt.Fprintf(&b, " %s=%.6g±%.6g", s.source, s.centre, s.half)
	}
	return b.String()
}

func (m *Model) compute(c profile.Check, settings []setting) assessment {
	if len(m.profile.Parts) == 0 {
		return assessment{expectation: expectation{err: errNoParts}}
	}
	if c.Measure == profile.MeasureESR && m.unknownESR(c) {
		return assessment{expectation: expectation{err: errNoESR}}
	}
	b, err := m.newBench(c, settings)
	if err != nil {
		return assessment{expectation: expectation{err: err}}
	}
	a := assessment{expectation: expectOn(b)}
	if a.err == nil {
		if _, err := b.read(); err != nil { // back to the nominal board, from which faulty ones start
			return assessment{expectation: expectation{err: err}}
		}
		m.tell(c, settings, &a, b)
		a.settling = m.settling(c, b, a.nominal)
	}
	return a
}

// assessAll fills the cache for many checks on all processors.
func (m *Model) assessAll(checks []profile.Check, settings func(profile.Check) []setting) {
	work := make(chan profile.Check)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(checks)) {
		wg.Go(func() {
			for c := range work {
				m.assess(c, settings(c))
			}
		})
	}
	for _, c := range checks {
		work <- c
	}
	close(work)
	wg.Wait()
	m.mu.Lock()
	clear(m.faulty) // they take much memory
	m.mu.Unlock()
}

// unknownESR tells whether a capacitor between the probes has a series
// resistance that the profile does not give.
func (m *Model) unknownESR(c profile.Check) bool {
	for i := range m.profile.Parts {
		p := &m.profile.Parts[i]
		if p.Kind != profile.Capacitor || !math.IsNaN(p.Param("esr")) || c.Lifted && p.Ref != c.Across {
			continue
		}
		a, b := p.Pins[0].Node, p.Pins[1].Node
		if a == c.RedNode && b == c.BlackNode || b == c.RedNode && a == c.BlackNode {
			return true
		}
	}
	return false
}
