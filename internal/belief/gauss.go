package belief

import "math"

// Numbers are displayed numbers under one hypothesis: how far each lies from
// what the hypothesis foresees, and the covariance of these differences, in any
// one scale per reading. Readings of one board share its parts, so the
// covariance is not diagonal.
type Numbers struct {
	Residual []float64 // displayed − foreseen
	Cov      []float64 // n × n, row by row: parts, sources, instrument
	LogStep  []float64 // ln of the display's resolution in the same scale
	LogSlip  []float64 // ln of the probability of that display, given a slip
	SlipRate float64   // probability that a reading is a slip: beside the metal, charge left, k for M
}

// Score is what Numbers says of its hypothesis.
type Score struct {
	LogLikelihood float64   // ln of the probability of the displayed digits
	Slip          []float64 // probability that each reading is a slip, given the hypothesis
	ChiSquare     float64   // Residualᵀ·Cov⁻¹·Residual, no slip assumed

	// Of each reading given all others: the difference left, in standard
	// deviations, and the standard deviation.
	Left, SD []float64

	k      []float64 // Cov⁻¹
	u      []float64 // Cov⁻¹·Residual
	logDet float64   // ln det Cov
}

// Score works out the likelihood: the normal density of all readings together,
// and of all but one and all but two where those are slips, each leaving the
// others as they are. With K = Cov⁻¹ and u = K·Residual, leaving readings S out
// changes the quadratic form by −u_Sᵀ·(K_SS)⁻¹·u_S and the determinant by
// det K_SS (rank-one and rank-two downdates), so the factor is computed once.
// ok is false when Cov is not positive definite.
func (m *Numbers) Score() (s Score, ok bool) {
	n := len(m.Residual)
	if n == 0 {
		return Score{}, true
	}
	factor, ok := cholesky(m.Cov, n)
	if !ok {
		return Score{}, false
	}
	for i := range n {
		s.logDet += 2 * math.Log(factor[i*n+i])
	}
	white := forward(factor, m.Residual, n)
	for _, x := range white {
		s.ChiSquare += x * x
	}
	inv := inverse(factor, n)
	s.k = precision(inv, n)
	s.u = backward(inv, white, n)
	m.finish(&s)
	return s, true
}

// finish fills in what follows from K, u, χ² and the determinant.
func (m *Numbers) finish(s *Score) {
	n := len(s.u)
	s.Slip = make([]float64, n)
	s.leave()
	base := -(s.ChiSquare + s.logDet) / 2
	for i := range n {
		base += m.LogStep[i] - halfLogTau
	}
	m.slips(s, base, s.k, s.u)
}

// leave fills in what each reading differs given all others: with K = Cov⁻¹ and
// u = K·Residual that is u_i/√K_ii, of standard deviation 1/√K_ii.
func (s *Score) leave() {
	n := len(s.u)
	s.Left, s.SD = make([]float64, n), make([]float64, n)
	for i := range n {
		s.SD[i] = 1 / math.Sqrt(s.k[i*n+i])
		s.Left[i] = s.u[i] * s.SD[i]
	}
}

var halfLogTau = math.Log(2*math.Pi) / 2

// slips sums over no slip, any one and any two.
func (m *Numbers) slips(s *Score, base float64, k, u []float64) {
	n := len(u)
	one := make([]float64, n) // ln of the ratio: reading i a slip, against none
	toSlip := math.Log(m.SlipRate) - math.Log1p(-m.SlipRate)
	gain, logK := make([]float64, n), make([]float64, n)
	for i := range n {
		kii := k[i*n+i]
		gain[i] = toSlip + m.LogSlip[i] - m.LogStep[i] + halfLogTau
		logK[i] = math.Log(kii)
		one[i] = gain[i] + s.Left[i]*s.Left[i]/2 - logK[i]/2
	}
	total := 0.0
	for i := range n {
		total = LogAdd(total, one[i])
	}
	weight := append([]float64(nil), one...)
	for i := range n {
		for j := i + 1; j < n; j++ {
			kii, kij, kjj := k[i*n+i], k[i*n+j], k[j*n+j]
			if kij*kij < 0.9*kii*kjj { // then the pair adds at most this, and it is quickly seen
				quad := (u[i]*u[i]*kjj - 2*u[i]*u[j]*kij + u[j]*u[j]*kii) / (kii*kjj - kij*kij)
				if gain[i]+gain[j]+quad/2-(logK[i]+logK[j])/2+1.2 < total-negligible {
					continue
				}
			}
			two := gain[i] + gain[j] + pairGain(kii, kij, kjj, u[i], u[j])
			if two < total-negligible {
				continue
			}
			total = LogAdd(total, two)
			weight[i], weight[j] = LogAdd(weight[i], two), LogAdd(weight[j], two)
		}
	}
	for i := range n {
		s.Slip[i] = math.Exp(weight[i] - total)
	}
	s.LogLikelihood = base + total + float64(n)*math.Log1p(-m.SlipRate)
}

// negligible is how many nats below the sum a pair is left out.
const negligible = 20

// pairGain gives ½·u_Sᵀ·(K_SS)⁻¹·u_S − ½·ln det K_SS for two readings.
func pairGain(kii, kij, kjj, ui, uj float64) float64 {
	det := kii*kjj - kij*kij
	if det <= 1e-14*kii*kjj { // one given the other is certain: leave one out
		return max(ui*ui/kii, uj*uj/kjj)/2 - math.Log(kii)/2
	}
	return (ui*ui*kjj-2*ui*uj*kij+uj*uj*kii)/(2*det) - math.Log(det)/2
}

// Foresee gives the conditional mean shift and variance of a further quantity
// whose covariance with the readings is cross and whose own variance is
// variance, given the readings and no slip.
func (s *Score) Foresee(cross []float64, variance float64) (shift, left float64) {
	n := len(s.u)
	left = variance
	for i, x := range cross {
		if x == 0 {
			continue
		}
		shift += x * s.u[i]
		row := s.k[i*n : i*n+n]
		sum := 0.0
		for j, y := range cross {
			sum += row[j] * y
		}
		left -= x * sum
	}
	return shift, max(left, 1e-12*variance)
}

// cholesky factors a symmetric matrix into L·Lᵀ. Boards give covariances with
// many zeros, which it steps over.
func cholesky(a []float64, n int) ([]float64, bool) {
	l := make([]float64, n*n)
	first := make([]int, n) // first column of each row that is not zero
	for i := range n {
		first[i] = i
		for j := range i {
			if a[i*n+j] != 0 {
				first[i] = j
				break
			}
		}
		for j := first[i]; j <= i; j++ {
			sum := a[i*n+j]
			for k := max(first[i], first[j]); k < j; k++ {
				sum -= l[i*n+k] * l[j*n+k]
			}
			if j < i {
				l[i*n+j] = sum / l[j*n+j]
				continue
			}
			if sum <= 1e-13*a[i*n+i] || math.IsNaN(sum) {
				return nil, false
			}
			l[i*n+i] = math.Sqrt(sum)
		}
	}
	return l, true
}

// forward solves L·x = b.
func forward(l, b []float64, n int) []float64 {
	x := make([]float64, n)
	for i := range n {
		sum := b[i]
		for j := range i {
			if f := l[i*n+j]; f != 0 {
				sum -= f * x[j]
			}
		}
		x[i] = sum / l[i*n+i]
	}
	return x
}

// inverse gives L⁻¹, lower triangular.
func inverse(l []float64, n int) []float64 {
	inv := make([]float64, n*n)
	for i := range n {
		d := 1 / l[i*n+i]
		inv[i*n+i] = d
		for k := range i {
			f := l[i*n+k]
			if f == 0 {
				continue
			}
			for j := range k + 1 {
				inv[i*n+j] -= f * d * inv[k*n+j]
			}
		}
	}
	return inv
}

// precision gives L⁻ᵀ·L⁻¹.
func precision(inv []float64, n int) []float64 {
	k := make([]float64, n*n)
	for r := range n {
		for i := range r + 1 {
			f := inv[r*n+i]
			if f == 0 {
				continue
			}
			for j := range r + 1 {
				k[i*n+j] += f * inv[r*n+j]
			}
		}
	}
	for i := range n {
		for j := range i {
			k[j*n+i] = k[i*n+j]
		}
	}
	return k
}

// backward gives L⁻ᵀ·w.
func backward(inv, w []float64, n int) []float64 {
	u := make([]float64, n)
	for r := range n {
		for i := range r + 1 {
			u[i] += inv[r*n+i] * w[r]
		}
	}
	return u
}
