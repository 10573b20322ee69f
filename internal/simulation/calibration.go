package simulation

import (
	"fmt"
	"io"
	"math"

	"ohmstead/internal/analysis"
)

// bins of probability for the calibration.
const bins = 10

// Calibration holds claimed probabilities against what was true. A suspect
// counts as true when its parts fail in its ways and nothing is left out but, of
// several faults, what no check reveals. Suspects of one answer exclude each other
// and those of one board are alike, so a bin's interval is a guide only.
type Calibration struct {
	claimed [bins]float64
	is      [bins]share
}

// Add counts the suspects of one answer.
func (c *Calibration) Add(r *Repair, suspects []analysis.Suspect) {
	for _, s := range suspects {
		b := min(int(s.Probability*bins), bins-1)
		c.claimed[b] += s.Probability
		c.is[b].count(r.explainedBy(s))
	}
}

// Gap is how far claimed lies from true: over all bins the mean distance,
// weighted by how many suspects a bin has, as a fraction.
func (c *Calibration) Gap() float64 {
	apart, n := 0.0, 0
	for b := range bins {
		apart += math.Abs(c.claimed[b] - float64(c.is[b].of))
		n += c.is[b].all
	}
	return apart / float64(max(n, 1))
}

// Markdown writes the table.
func (c *Calibration) Markdown(w io.Writer) {
	fmt.Fprintln(w, "| claimed | suspects | claimed, mean | true, with 95 % interval |")
	fmt.Fprintln(w, "|---|---|---|---|")
	for b := range bins {
		if n := c.is[b].all; n > 0 {
			low, high, _ := Wilson(c.is[b].of, n)
			fmt.Fprintf(w, "| %d to %d %% | %d | %.1f %% | %.1f %% (%.1f to %.1f) |\n", 100*b/bins, 100*(b+1)/bins, n,
				100*c.claimed[b]/float64(n), 100*float64(c.is[b].of)/float64(n), 100*low, 100*high)
		} else {
			fmt.Fprintf(w, "| %d to %d %% | 0 | | |\n", 100*b/bins, 100*(b+1)/bins)
		}
	}
}
