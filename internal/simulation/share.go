package simulation

import (
	"fmt"
	"math"
)

// share is how many of a number of things.
type share struct{ of, all int }

// count adds one thing.
func (s *share) count(yes bool) {
	s.all++
	if yes {
		s.of++
	}
}

// wilsonZ is the standard normal quantile of 97.5 %.
const wilsonZ = 1.959963984540054

// Wilson gives the score interval of a proportion at 95 % (E. B. Wilson, 1927;
// method 3 in R. G. Newcombe, Statistics in Medicine 17, 1998), clipped to 0 and
// 1. ok is false where there is nothing to count.
func Wilson(of, all int) (low, high float64, ok bool) {
	if all == 0 {
		return 0, 0, false
	}
	n, p := float64(all), float64(of)/float64(all)
	const zz = wilsonZ * wilsonZ
	mid := (p + zz/(2*n)) / (1 + zz/n)
	half := wilsonZ * math.Sqrt(p*(1-p)/n+zz/(4*n*n)) / (1 + zz/n)
	return max(0, mid-half), min(1, mid+half), true
}

// String writes a share with its interval in percent, and of how many.
func (s share) String() string {
	low, high, ok := Wilson(s.of, s.all)
	if !ok {
		return "none"
	}
	return fmt.Sprintf("%.1f %% (%.1f to %.1f) of %d", 100*float64(s.of)/float64(s.all), 100*low, 100*high, s.all)
}
