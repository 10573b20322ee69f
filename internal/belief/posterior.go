package belief

import "math"

// Posterior gives the probabilities that are proportional to exp(logWeight); it
// returns them in a slice of their own and the logarithm of the sum. Weights of
// −Inf are impossible; if all are, every probability is 0 and the sum −Inf.
func Posterior(logWeight []float64) (p []float64, logSum float64) {
	most := math.Inf(-1)
	for _, w := range logWeight {
		most = max(most, w)
	}
	p = make([]float64, len(logWeight))
	if math.IsInf(most, -1) {
		return p, most
	}
	sum := 0.0
	for i, w := range logWeight {
		p[i] = math.Exp(w - most)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p, most + math.Log(sum)
}

// LogAdd gives ln(eᵃ + eᵇ).
func LogAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// Normal gives Φ(z), the probability that a standard normal variable is below z.
func Normal(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// ChiSquareTail gives the probability that a sum of n squared standard normal
// variables exceeds x: Q(n/2, x/2), by the series or the continued fraction of
// the incomplete gamma function (Abramowitz and Stegun 6.5.29, 6.5.31).
func ChiSquareTail(x float64, n int) float64 {
	if n <= 0 || x <= 0 {
		return 1
	}
	a, y := float64(n)/2, x/2
	lg, _ := math.Lgamma(a)
	front := math.Exp(-y + a*math.Log(y) - lg)
	if y < a+1 {
		term := 1 / a
		sum := term
		for k := 1; k < 500 && term > 1e-16*sum; k++ {
			term *= y / (a + float64(k))
			sum += term
		}
		return 1 - front*sum
	}
	b := y + 1 - a
	c, d := 1e300, 1/b
	h := d
	for k := 1; k < 500; k++ {
		an := -float64(k) * (float64(k) - a)
		b += 2
		d = 1 / nonzero(an*d+b)
		c = nonzero(b + an/c)
		h *= d * c
		if math.Abs(d*c-1) < 1e-14 {
			break
		}
	}
	return front * h
}

func nonzero(x float64) float64 {
	if math.Abs(x) < 1e-300 {
		return 1e-300
	}
	return x
}
