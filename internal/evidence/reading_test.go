package evidence

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
)

func number(v float64) *float64 { return &v }

// chain is a good reading of a resistor of the chain.
func chain() Reading {
	return Reading{ID: uuid.Must(uuid.NewV7()), Stage: StageBefore, CheckKey: "cold:R12", State: "cold", Measure: "resistance",
		Across: "R12", Typed: "120k", Value: number(120_000), TakenAt: noon, TakenOffset: 60}
}

func TestReadingsAreChecked(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(r *Reading)
		says   string // "" when it is good
	}{
		{"a number", func(r *Reading) {}, ""},
		{"over range", func(r *Reading) { r.Value, r.OverRange = nil, true }, ""},
		{"agrees", func(r *Reading) { r.Value, r.Agrees, r.BandLow = nil, true, number(118_800) }, ""},
		{"not possible", func(r *Reading) { r.Value, r.NotPossible, r.Typed = nil, true, "-" }, ""},
		{"between two places", func(r *Reading) { r.Across, r.Red, r.Black = "", "adb", "com" }, ""},
		{"black left to the ground", func(r *Reading) { r.Across, r.Red = "", "adb" }, ""},
		{"of the removed part", func(r *Reading) { r.Lifted, r.Subject, r.Stage = true, SubjectOld, StageAfter }, ""},
		{"still creeping", func(r *Reading) { r.Moving, r.Residue, r.Condition = "up", number(0.2), ConditionNotOnMetal }, ""},
		{"an id of another kind", func(r *Reading) { r.ID = uuid.New() }, "UUIDv7"},
		{"no id", func(r *Reading) { r.ID = uuid.Nil }, "UUIDv7"},
		{"no state", func(r *Reading) { r.State = "" }, "state"},
		{"no measure", func(r *Reading) { r.Measure = "" }, "what was measured"},
		{"nowhere", func(r *Reading) { r.Across = "" }, "where it was taken"},
		{"in two places", func(r *Reading) { r.Red = "adb" }, "not both"},
		{"no outcome", func(r *Reading) { r.Value = nil }, "one of them"},
		{"two outcomes", func(r *Reading) { r.OverRange = true }, "one of them"},
		{"no time", func(r *Reading) { r.TakenAt = time.Time{} }, "when it was taken"},
		{"a zone of another planet", func(r *Reading) { r.TakenOffset = 1500 }, "time zone"},
		{"unknown stage", func(r *Reading) { r.Stage = "during" }, "during"},
		{"unknown subject", func(r *Reading) { r.Subject = "both" }, "both"},
		{"unknown movement", func(r *Reading) { r.Moving = "sideways" }, "sideways"},
		{"unknown condition", func(r *Reading) { r.Condition = "wet" }, "wet"},
		{"a long name", func(r *Reading) { r.CheckKey = strings.Repeat("k", maxPlace+1) }, "longer than"},
		{"no number", func(r *Reading) { r.Value = number(math.NaN()) }, "finite"},
		{"an endless band", func(r *Reading) { r.BandHigh = number(math.Inf(1)) }, "finite"},
	} {
		r := chain()
		c.change(&r)
		err := r.Check()
		if c.says == "" && err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if c.says != "" && (fault.KindOf(err) != fault.Invalid || !strings.Contains(fault.Text(err), c.says)) {
			t.Errorf("%s: %v, want a message with %q", c.name, err, c.says)
		}
	}
}

func TestWorkIsChecked(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("x", maxWords+1)
	for _, c := range []struct {
		name  string
		err   error
		field string
	}{
		{"part and mode", Finding{Part: "R12", Mode: "open"}.Check(), ""},
		{"words only", Finding{Words: "nothing wrong with the board"}.Check(), ""},
		{"part without mode", Finding{Part: "R12"}.Check(), "words"},
		{"long words", Finding{Words: long}.Check(), "words"},
		{"fitted", Fitted{Part: "R12", What: "120 k 1206"}.Check(), ""},
		{"fitted nowhere", Fitted{What: "120 k"}.Check(), "part"},
		{"fitted with a novel", Fitted{Part: "R12", Note: long}.Check(), "note"},
		{"seen", Seen{Part: "C1", What: "bulged"}.Check(), ""},
		{"seen nowhere", Seen{What: "burnt"}.Check(), "part"},
		{"seen nothing", Seen{Part: "C1"}.Check(), "what"},
	} {
		if c.field == "" && c.err != nil || c.field != "" && fault.Fields(c.err)[c.field] == "" {
			t.Errorf("%s: %v", c.name, c.err)
		}
	}
	for _, w := range SeenWords() {
		if err := (Seen{Part: "C1", What: w}).Check(); err != nil {
			t.Errorf("%s is offered and refused: %v", w, err)
		}
	}
}
