package belief

import "math"

// Most hypotheses move few of the readings. What the others say of each other is
// the same for all of them, so a Score is revised for the readings that differ
// instead of being worked out anew. With K = Cov⁻¹ cut into the readings that stay
// (U) and those that go (T), the inverse of what stays is
//
//	P = K_UU − K_UT·K_TT⁻¹·K_TU,
//
// and readings A with the covariances X to what stays are put in by their Schur
// complement S = Cov_AA − X·P·Xᵀ (block inversion; Golub and Van Loan, Matrix
// Computations, 2.1.4).

// Revise is Score for numbers of which only some differ from those of s: same
// gives for each where it stands among the old ones, −1 when it is another. Of Cov
// only the rows and columns of the others are read. ok is false when Cov is not
// positive definite.
func (s *Score) Revise(m *Numbers, same []int) (out Score, ok bool) {
	keep, add := split(same)
	p, ok := s.without(keep, same)
	if !ok {
		return Score{}, false
	}
	n, k, old := len(same), len(add), len(keep)
	out = Score{k: make([]float64, n*n), u: make([]float64, n), ChiSquare: p.ChiSquare, logDet: p.logDet}
	g := make([]float64, k*old) // X·P
	schur := make([]float64, k*k)
	left := make([]float64, k)
	for a, i := range add {
		row := g[a*old : a*old+old]
		left[a] = m.Residual[i]
		for b, j := range keep {
			if x := m.Cov[i*n+j]; x != 0 {
				left[a] -= x * p.u[b]
				for c, y := range p.k[b*old : b*old+old] {
					row[c] += x * y
				}
			}
		}
		for b, j := range add[:a+1] {
			sum := m.Cov[i*n+j]
			for c, h := range keep {
				sum -= g[b*old+c] * m.Cov[i*n+h]
			}
			schur[a*k+b], schur[b*k+a] = sum, sum
		}
	}
	inv, logDet, ok := invert(schur, k)
	if !ok {
		return Score{}, false
	}
	out.logDet += logDet
	out.put(p, keep, add, g, inv, left)
	m.finish(&out)
	return out, true
}

// put fills K, u and χ² in from what stays and what is added.
func (s *Score) put(p *Score, keep, add []int, g, inv, left []float64) {
	n, k, old := len(s.u), len(add), len(keep)
	for a, i := range keep {
		s.u[i] = p.u[a]
		for b, j := range keep {
			s.k[i*n+j] = p.k[a*old+b]
		}
	}
	w := make([]float64, old) // S⁻¹·X·P, a row of it
	for a, i := range add {
		clear(w)
		at := 0.0
		for b, j := range add {
			x := inv[a*k+b]
			s.k[i*n+j] = x
			at += x * left[b]
			for c := range w {
				w[c] += x * g[b*old+c]
			}
		}
		s.u[i] = at
		s.ChiSquare += at * left[a]
		for c, j := range keep {
			s.k[i*n+j], s.k[j*n+i] = -w[c], -w[c]
			s.u[j] -= g[a*old+c] * at
			if x := g[a*old+c]; x != 0 {
				for d, h := range keep {
					s.k[j*n+h] += x * w[d]
				}
			}
		}
	}
}

// split gives the places that stay and those that are new.
func split(same []int) (keep, add []int) {
	for i, at := range same {
		if at >= 0 {
			keep = append(keep, i)
		} else {
			add = append(add, i)
		}
	}
	return keep, add
}

// Without is Score without some readings, for what they leave: Slip stays empty
// and there is no likelihood. same gives for each that stays where it stood.
func (s *Score) Without(same []int) (Score, bool) {
	keep, _ := split(same)
	out, ok := s.without(keep, same)
	if !ok {
		return Score{}, false
	}
	out.leave()
	return *out, true
}

// without gives K, u, χ² and the determinant of the readings that stay.
func (s *Score) without(keep, same []int) (*Score, bool) {
	n, m := len(s.u), len(keep)
	stays := make([]bool, n)
	for _, i := range keep {
		stays[same[i]] = true
	}
	var gone []int
	for i := range n {
		if !stays[i] {
			gone = append(gone, i)
		}
	}
	t := len(gone)
	block, old := make([]float64, t*t), make([]float64, t)
	for a, i := range gone {
		old[a] = s.u[i]
		for b, j := range gone {
			block[a*t+b] = s.k[i*n+j]
		}
	}
	inv, logDet, ok := invert(block, t)
	if !ok {
		return nil, false
	}
	out := &Score{k: make([]float64, m*m), u: make([]float64, m), ChiSquare: s.ChiSquare, logDet: s.logDet + logDet}
	w := make([]float64, t)
	for a := range gone {
		for b := range gone {
			w[a] += inv[a*t+b] * old[b]
		}
		out.ChiSquare -= w[a] * old[a]
	}
	h := make([]float64, t)
	for a, i := range keep {
		from := same[i]
		out.u[a] = s.u[from]
		row := s.k[from*n : from*n+n]
		for b, g := range gone {
			out.u[a] -= row[g] * w[b]
			h[b] = 0
			for c, e := range gone {
				h[b] += inv[b*t+c] * row[e]
			}
		}
		for b, j := range keep {
			sum := row[same[j]]
			for c, e := range gone {
				sum -= h[c] * s.k[e*n+same[j]]
			}
			out.k[a*m+b] = sum
		}
	}
	return out, true
}

// invert gives the inverse of a small positive definite matrix and ln of its
// determinant.
func invert(a []float64, n int) (inv []float64, logDet float64, ok bool) {
	factor, ok := cholesky(a, n)
	if !ok {
		return nil, 0, false
	}
	for i := range n {
		logDet += 2 * math.Log(factor[i*n+i])
	}
	return precision(inverse(factor, n), n), logDet, true
}
