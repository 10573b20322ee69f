package bench

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// slowly is a way of working out suspects that waits until it is let go on.
type slowly struct {
	goOn  chan struct{}
	begun atomic.Int32
}

// slow makes a model's suspects wait; they go on when the test ends.
func slow(t *testing.T, m *Model) *slowly {
	s := &slowly{goOn: make(chan struct{})}
	own := m.weigh
	m.weigh = func(e *analysis.Model, c analysis.Case) (*analysis.Result, error) {
		s.begun.Add(1)
		<-s.goOn
		return own(e, c)
	}
	t.Cleanup(func() {
		select {
		case <-s.goOn:
		default:
			close(s.goOn)
		}
	})
	return s
}

// about is a ticket's story with these readings.
func about(t *testing.T, m *Model, pairs ...string) *shop.Story {
	t.Helper()
	story := &shop.Story{Ticket: shop.Ticket{ID: uuid.Must(uuid.NewV7())}}
	for i := 0; i+1 < len(pairs); i += 2 {
		story.Readings = append(story.Readings, stored(t, m, pairs[i], pairs[i+1], noon.Add(time.Duration(i)*time.Minute)))
	}
	return story
}

// now is a patience that is over before it begins.
func now() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

// Nobody waits for suspects longer than they want to: the table is there at once,
// and the suspects are worked out all the same.
func TestTheTableDoesNotWaitForSuspects(t *testing.T) {
	t.Parallel()
	m := pump(t)
	s := slow(t, m)
	story := about(t, m, "r17", "5.66k", "r13", "OL")
	j, err := m.Judge(now(), story, nil, Known{})
	if err != nil || !j.Pending || len(j.Rows) != 2 || len(j.Result.Table) != len(m.Profile.Checks) || j.Result.Suspects != nil {
		t.Fatalf("%+v, %v", j, err)
	}
	if j.Rows[story.Readings[1].ID].Verdict != analysis.Nonconforming {
		t.Errorf("R13 reads OL: %+v", j.Rows[story.Readings[1].ID])
	}
	if got := j.Next(m.Profile, "r13"); got != "r14" {
		t.Errorf("without suspects the list is walked, and %q comes after r13", got)
	}
	if !m.Pending(story, nil, Known{}) {
		t.Error("suspects are there though nobody could work them out")
	}
	close(s.goOn)
	j, err = m.Judge(t.Context(), story, nil, Known{})
	if err != nil || j.Pending || len(j.Result.Suspects) == 0 || j.Result.Conclusion.Status == "" || m.Pending(story, nil, Known{}) {
		t.Fatalf("%+v, %v", j, err)
	}
	if s.begun.Load() != 1 {
		t.Errorf("one question was worked out %d times", s.begun.Load())
	}
	want, err := m.engine.Answer(analysis.Case{Readings: []analysis.Reading{*j.Result.Table[0].Reading, *j.Result.Table[1].Reading}})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want.Suspects, j.Result.Suspects, cmpopts.EquateApprox(0, 1e-9)); d != "" || len(want.Table) != len(j.Result.Table) {
		t.Errorf("not what the engine answers:\n%s", d)
	}
}

// What the hand-over and other pages show needs no suspects, and none are worked
// out for it.
func TestCompareWorksOutNoSuspects(t *testing.T) {
	t.Parallel()
	m := pump(t)
	s := slow(t, m)
	story := about(t, m, "r17", "5.66k")
	if j := m.Compare(story, nil); j.Rows[story.Readings[0].ID] == nil || j.Pending {
		t.Errorf("%+v", j)
	}
	if band := m.bandOf(story.Readings[0]); band == nil {
		t.Error("no band")
	}
	if s.begun.Load() != 0 || len(m.desk.answers) != 0 {
		t.Errorf("%d questions were begun, %d asked", s.begun.Load(), len(m.desk.answers))
	}
}

// Of readings that come faster than suspects are worked out only the newest
// question is; others' tickets keep their turn.
func TestANewerReadingOvertakes(t *testing.T) {
	t.Parallel()
	m := pump(t)
	s := slow(t, m)
	first, other := about(t, m, "r17", "5.66k"), about(t, m, "r14", "104k")
	m.Pending(first, nil, Known{})
	for s.begun.Load() == 0 {
		time.Sleep(time.Millisecond)
	}
	m.Pending(other, nil, Known{})
	var waiting sync.WaitGroup
	for i, typed := range []string{"104.1k", "104.2k", "104.3k"} {
		story := *first
		story.Readings = append(story.Readings[:1:1], stored(t, m, "r12", typed, noon.Add(time.Hour)))
		ready := m.ask(first.Ticket.ID, m.about(&story, nil, typed, Known{}))
		waiting.Go(func() {
			if got := ready.wait(t.Context()); got != (i == 2) {
				t.Errorf("question %d was answered: %v, %v", i, got, ready.err)
			}
		})
	}
	close(s.goOn)
	waiting.Wait()
	if j, err := m.Judge(t.Context(), other, nil, Known{}); err != nil || j.Pending {
		t.Errorf("the other ticket: %+v, %v", j, err)
	}
	if n := s.begun.Load(); n != 3 {
		t.Errorf("%d questions were worked out, want the one begun, the newest, and the other ticket's", n)
	}
}

// An engine that gives up harms nothing but its own answer.
func TestAnEngineThatGivesUp(t *testing.T) {
	t.Parallel()
	m := pump(t)
	own := m.weigh
	m.weigh = func(e *analysis.Model, c analysis.Case) (*analysis.Result, error) {
		if c.Code == "2" {
			panic("a matrix without an inverse")
		}
		if c.Code == "3" {
			return nil, errors.New("no answer")
		}
		return own(e, c)
	}
	for shows, fails := range map[string]bool{"2": true, "3": true, "": false} {
		story := about(t, m, "r17", "5.66k")
		story.Ticket.Indication = shows
		if j, err := m.Judge(t.Context(), story, nil, Known{}); (err != nil) != fails {
			t.Errorf("shows %q: %+v, %v", shows, j, err)
		}
	}
}

// A question that was asked before is answered from memory, any other is not, and
// the memory is bounded: nothing that changes the answer may be forgotten here.
func TestAnswersAreRemembered(t *testing.T) {
	t.Parallel()
	m := pump(t)
	m.weigh = func(*analysis.Model, analysis.Case) (*analysis.Result, error) { return &analysis.Result{}, nil }
	check, _ := m.Profile.Check("r17")
	ask := func(change func(*analysis.Case)) *answer {
		c := analysis.Case{Readings: []analysis.Reading{{Check: *check, Value: quantity.Value{Typed: "5.66k", Number: 5660, Digit: 10}}},
			Prices: &analysis.Prices{Hazardous: 5, Lifted: 2}, Findings: []analysis.Finding{{Fault: analysis.Fault{Part: "C18", Mode: profile.ModeTired}, Times: 3}}}
		change(&c)
		return m.ask(uuid.Nil, c)
	}
	same := func(*analysis.Case) {}
	first := ask(same)
	if ask(same) != first {
		t.Error("the same question was worked out twice")
	}
	for name, change := range map[string]func(*analysis.Case){
		"value":      func(c *analysis.Case) { c.Readings[0].Value.Number = 5670 },
		"digit":      func(c *analysis.Case) { c.Readings[0].Value.Digit = 100 },
		"moving":     func(c *analysis.Case) { c.Readings[0].Moving = analysis.MovingUp },
		"residue":    func(c *analysis.Case) { c.Readings[0].Residue = num(0) },
		"residue2":   func(c *analysis.Case) { c.Readings[0].Residue = num(0.4) },
		"fitted":     func(c *analysis.Case) { c.Readings[0].Fitted = "R17" },
		"indication": func(c *analysis.Case) { c.Code = "2" },
		"mark":       func(c *analysis.Case) { c.Seen = []analysis.Seen{{Part: "R17", What: "burnt"}} },
		"finding":    func(c *analysis.Case) { c.Findings[0].Times = 4 },
		"other find": func(c *analysis.Case) { c.Findings[0].Part = "R17" },
		"danger":     func(c *analysis.Case) { c.Prices.Hazardous = 6 },
		"lifting":    func(c *analysis.Case) { c.Prices.Lifted = 0 },
		"ruled out":  func(c *analysis.Case) { c.RuledOut = []string{"R17"} },
		"no prices":  func(c *analysis.Case) { c.Prices = nil },
	} {
		if ask(change) == first {
			t.Errorf("another %s, and the same answer", name)
		}
	}
	for i := range 3 * mostAnswers {
		m.ask(uuid.Nil, analysis.Case{Code: fmt.Sprint(i)})
	}
	if len(m.desk.answers) != mostAnswers {
		t.Errorf("%d answers are kept, want %d", len(m.desk.answers), mostAnswers)
	}
}

// One model serves many benches at once.
func TestJudgeAtOnce(t *testing.T) {
	t.Parallel()
	m := pump(t)
	var wg sync.WaitGroup
	for i := range 6 {
		wg.Go(func() {
			story := &shop.Story{Ticket: shop.Ticket{ID: uuid.Must(uuid.NewV7())}}
			for n, typed := range []string{"5.66k", "OL", "104k"}[:1+i%3] {
				r, err := m.Reading(Entry{ID: uuid.Must(uuid.NewV7()).String(), Check: []string{"r17", "r13", "r12"}[n], Typed: typed, TakenAt: noon}, Sitting{})
				if err != nil {
					t.Error(err)
				}
				story.Readings = append(story.Readings, r)
			}
			j, err := m.Judge(t.Context(), story, nil, Known{})
			if err != nil || j.Pending || len(j.Rows) != len(story.Readings) {
				t.Errorf("%d readings, %v, %v", len(story.Readings), j, err)
			}
		})
	}
	wg.Wait()
}
