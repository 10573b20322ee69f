package evidence

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// What was taken back counts no more; of several rulings on a reading the newest
// that stands does.
func TestWhatStandsOverruled(t *testing.T) {
	t.Parallel()
	gone, reading := time.Now(), uuid.New()
	list := []Overrule{
		{Part: "R1"}, {Part: "R2", WithdrawnAt: &gone}, {ReadingID: &reading, Verdict: RuledBad},
		{ReadingID: &reading, Verdict: RuledNotBad}, {ReadingID: &reading, Verdict: RuledBad, WithdrawnAt: &gone},
	}
	if d := cmp.Diff([]string{"R1"}, RuledOut(list)); d != "" {
		t.Error(d)
	}
	if o := Ruled(list, reading); o == nil || o.Verdict != RuledNotBad {
		t.Errorf("%+v", o)
	}
	if o := Ruled(list, uuid.New()); o != nil {
		t.Errorf("%+v", o)
	}
}
