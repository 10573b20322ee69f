package bench

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
)

// desk is where a model works out suspects: one question after the other, so that
// nobody who only wants to read or to store waits for it. It keeps the newest
// answers: a page that is drawn again, or polled, asks the same question.
type desk struct {
	mu      sync.Mutex
	answers []*answer  // asked last stands last, at most mostAnswers
	turn    sync.Mutex // held while a question is worked out
}

// answer is what a question came to, or is still to come to.
type answer struct {
	question [sha256.Size]byte
	ticket   uuid.UUID
	begun    bool          // guarded by the desk
	ready    chan struct{} // closed once result and err stand
	result   *analysis.Result
	err      error
}

// mostAnswers is how many answers one model keeps: a handful of boards of one
// kind are on the bench at a time.
const mostAnswers = 12

// errOvertaken is why a question was not worked out: the ticket had another
// reading before it was begun.
var errOvertaken = errors.New("bench: another question about the ticket came first")

// ask gives the answer to a question, which may not stand yet. A question about a
// ticket takes the place of those about it that were not begun.
func (m *Model) ask(ticket uuid.UUID, c analysis.Case, siblings ...Sibling) *answer {
	q := question(c, siblings)
	for _, s := range siblings {
		c.Siblings = append(c.Siblings, s.Profile)
	}
	d := &m.desk
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, a := range d.answers {
		if a.question == q {
			return a
		}
	}
	if ticket != uuid.Nil {
		d.answers = slices.DeleteFunc(d.answers, func(a *answer) bool { return a.ticket == ticket && !a.begun })
	}
	a := &answer{question: q, ticket: ticket, ready: make(chan struct{})}
	if d.answers = append(d.answers, a); len(d.answers) > mostAnswers {
		d.answers = slices.Delete(d.answers, 0, 1)
	}
	go m.workOut(a, c)
	return a
}

// workOut answers one question when its turn comes.
func (m *Model) workOut(a *answer, c analysis.Case) {
	defer close(a.ready)
	m.desk.turn.Lock()
	defer m.desk.turn.Unlock()
	if !m.desk.begin(a) {
		a.err = errOvertaken
		return
	}
	defer func() {
		if cause := recover(); cause != nil {
			a.err = fmt.Errorf("bench: working out suspects: %v", cause)
		}
	}()
	a.result, a.err = m.weigh(m.engine, c)
}

// begin marks a question as being worked out; false when nobody wants it any more.
func (d *desk) begin(a *answer) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	a.begun = slices.Contains(d.answers, a)
	return a.begun
}

// isReady tells whether the answer stands.
func (a *answer) isReady() bool {
	select {
	case <-a.ready:
		return a.err != errOvertaken
	default:
		return false
	}
}

// wait gives the answer the time that ctx leaves, and tells whether it stands.
func (a *answer) wait(ctx context.Context) bool {
	select {
	case <-a.ready:
	case <-ctx.Done():
	}
	return a.isReady()
}

// question is a digest of everything that the answer depends on: whatever a case
// holds, so that something new in it is not forgotten here, and the whole text of
// each sibling: an edited one is another question.
func question(c analysis.Case, siblings []Sibling) [sha256.Size]byte {
	h := sha256.New()
	e := json.NewEncoder(h)
	readings := c.Readings
	c.Readings = nil
	e.Encode(c) //nolint:errcheck // a hash does not fail, and these are plain values
	for _, s := range siblings {
		e.Encode(s.text) //nolint:errcheck // as above
	}
	for _, r := range readings {
		residue := math.Inf(1)
		if r.Residue != nil {
			residue = *r.Residue
		}
		e.Encode([]any{r.Check, r.Value, r.NotPossible, r.Moving, math.Float64bits(residue), r.Fitted}) //nolint:errcheck // as above
	}
	return [sha256.Size]byte(h.Sum(nil))
}
