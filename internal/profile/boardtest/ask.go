package boardtest

import (
	"slices"
	"testing"

	"ohmstead/internal/circuit/spicetest"
)

// question is one reading of a board. Its drawing has the meter on it.
type question struct {
	d     *drawing
	put   func() []spicetest.Ask     // draws the meter and says what to ask
	judge func(a []spicetest.Answer) // compares the answers; all are there
}

// rounds is how often a question is put until all conditions hold.
const rounds = 12

// ask puts questions to the simulator until all conditions hold, judges the
// answers, and says how many had one.
func ask(t testing.TB, simulator spicetest.Simulator, left []*question) (answered int) {
	t.Helper()
	for range rounds {
		var again []*question
		tasks := make([]spicetest.Task, len(left))
		for i, q := range left {
			tasks[i] = q.task()
		}
		for i, answers := range simulator.Run(t, tasks) {
			switch q := left[i]; {
			case slices.ContainsFunc(answers, func(a spicetest.Answer) bool { return a == nil }): // it found nothing
				t.Logf("%s: the simulator found no answer", q.d)
			case q.d.next(answers[0]):
				again = append(again, q)
			default:
				q.judge(answers[1:])
				answered++
			}
		}
		if left = again; len(left) == 0 {
			break
		}
	}
	for _, q := range left {
		t.Logf("%s: no conditions that hold were found", q.d)
	}
	return answered
}

// task draws board and meter and asks first what the conditions hinge on.
func (q *question) task() spicetest.Task {
	q.d.draw()
	asks := q.put()
	q.d.deck.Ground()
	see := []string{spicetest.Across(q.d.deck.Some(), "0")} // at least
	for _, w := range q.d.watches {
		see = append(see, w.see...)
	}
	first := spicetest.Ask{Solve: "op", Print: see}
	return spicetest.Task{Deck: q.d.deck, Asks: append([]spicetest.Ask{first}, asks...)}
}
