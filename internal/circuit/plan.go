package circuit

import (
	"math"
	"sync"
)

// plan is how a matrix is eliminated: column after column, each with a row as
// its pivot, and the entries that this touches. It depends on which entries
// there are and, through the pivots, on their size.
type plan struct {
	entries int     // of the matrix for which it was made; 0: none was
	row     []int   // row[k] is the row that serves as the k-th
	steps   []step  // of each column, and one more for the end
	lower   []entry // of each step: what is cleared below the pivot
	upper   []entry // and what stands beside it
	target  []int32 // for each lower and each upper of a step: the entry at their crossing
	*draft
}

// draft is the memory in which a plan is made; it serves one after the other.
type draft struct {
	words int
	a     []float64 // row-major
	mask  []uint64  // words of each row: a bit for every entry that may not be zero
	at    []int32   // place of each entry, what fills in too
	below []int     // places among the rows of those with an entry in the present column
	cols  []int
}

var drafts = sync.Pool{New: func() any { return &draft{} }}

// draftFor gives clean memory for n rows.
func draftFor(n int) *draft {
	d := drafts.Get().(*draft)
	d.words = (n + 63) / 64
	if cap(d.a) < n*n {
		d.a, d.mask, d.at = make([]float64, n*n), make([]uint64, n*d.words), make([]int32, n*n)
	}
	d.a, d.mask, d.at = d.a[:n*n], d.mask[:n*d.words], d.at[:n*n]
	clear(d.a)
	clear(d.mask)
	return d
}

// step is the elimination of one column.
type step struct {
	pivot, own   int32 // entries: the pivot, and that of the column's own row, −1 when it served before
	lower, upper int32 // where its share of the plan's lists begins
}

// entry is an entry of the factors and, of what is cleared, its row in the order
// of elimination, of what stands beside the pivot, its column.
type entry struct {
	place, at int32
}

// makePlan chooses pivots for the matrix as it is and plans its elimination. It
// reports the column without a pivot, or −1.
func (f *lu) makePlan(tiny float64) int {
	p, n := &f.plan, f.n
	if p.row == nil {
		p.row, p.steps = make([]int, n), make([]step, n+1)
	}
	p.draft = draftFor(n)
	defer func() { drafts.Put(p.draft); p.draft = nil }()
	for k, v := range f.val {
		i, j := int(f.rows[k]), int(f.cols[k])
		p.a[i*n+j] = v
		p.mask[i*p.words+j>>6] |= 1 << (j & 63)
	}
	for i := range p.row {
		p.row[i] = i
	}
	for k := range n {
		at := p.choose(k, tiny)
		if at < 0 {
			return k
		}
		p.row[k], p.row[at] = p.row[at], p.row[k]
		p.eliminate(k, at)
	}
	f.note()
	return -1
}

// choose gives the place among the rows left of the one that serves for column
// k, or −1, and notes which rows have an entry there.
func (p *plan) choose(k int, tiny float64) int {
	n, word, bit := len(p.row), k>>6, uint64(1)<<(k&63)
	chosen, best, own := -1, tiny, -1
	p.below = p.below[:0]
	for i := k; i < n; i++ {
		r := p.row[i]
		if p.mask[r*p.words+word]&bit == 0 {
			continue
		}
		p.below = append(p.below, i)
		if m := math.Abs(p.a[r*n+k]); m > best {
			chosen, best = i, m
		}
		if r == k {
			own = i
		}
	}
	if own >= 0 && chosen >= 0 && math.Abs(p.a[k*n+k]) >= ownShare*best {
		return own
	}
	return chosen
}

// eliminate clears column k below the pivot row, which came from place at.
func (p *plan) eliminate(k, at int) {
	n, words := len(p.row), p.words
	r := p.row[k]
	pivot, mask := p.a[r*n:r*n+n], p.mask[r*words:(r+1)*words]
	p.cols = bitsOf(p.cols[:0], mask, k+1, n)
	inv := 1 / pivot[k]
	for _, i := range p.below {
		if i == at {
			continue // it is the pivot row now
		}
		if i == k {
			i = at // the rows changed places
		}
		r := p.row[i]
		line, own := p.a[r*n:r*n+n], p.mask[r*words:(r+1)*words]
		m := line[k] * inv
		for _, j := range p.cols {
			line[j] -= m * pivot[j]
		}
		for w, bits := range mask {
			own[w] |= above(bits, w, k)
		}
	}
}

// note writes down, from the rows' masks, what the elimination touches.
func (f *lu) note() {
	p, n := &f.plan, f.n
	copy(p.at, f.place)
	places := int32(len(f.val))
	for r := range n {
		p.cols = bitsOf(p.cols[:0], p.mask[r*p.words:(r+1)*p.words], 0, n)
		for _, j := range p.cols {
			if p.at[r*n+j] == 0 {
				places++
				p.at[r*n+j] = places
			}
		}
	}
	p.lower, p.upper, p.target = p.lower[:0], p.upper[:0], p.target[:0]
	for k, r := range p.row {
		s := step{pivot: p.at[r*n+k] - 1, own: -1, lower: int32(len(p.lower)), upper: int32(len(p.upper))}
		if r == k {
			s.own = s.pivot
		}
		p.cols = bitsOf(p.cols[:0], p.mask[r*p.words:(r+1)*p.words], k+1, n)
		for _, j := range p.cols {
			p.upper = append(p.upper, entry{p.at[r*n+j] - 1, int32(j)})
		}
		for i := k + 1; i < n; i++ {
			o := p.row[i]
			if p.mask[o*p.words+k>>6]&(1<<(k&63)) == 0 {
				continue
			}
			at := p.at[o*n+k] - 1
			p.lower = append(p.lower, entry{at, int32(i)})
			if o == k {
				s.own = at
			}
			for _, j := range p.cols {
				p.target = append(p.target, p.at[o*n+j]-1)
			}
		}
		p.steps[k] = s
	}
	p.steps[n] = step{lower: int32(len(p.lower)), upper: int32(len(p.upper))}
	if f.fac = f.fac[:0]; cap(f.fac) < int(places) {
		f.fac = make([]float64, 0, places+places/4)
	}
	f.fac = f.fac[:places]
	p.entries = len(f.val)
}
