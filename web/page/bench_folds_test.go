package page

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The table is cut by block and state, in the profile's order; the fold with the
// check at hand stands open, the others say what is in them.
func TestFoldsOfTheTable(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	in.Check = "tp3"
	type fold struct {
		Title, Note string
		Open        bool
	}
	var got []fold
	total := 0
	for _, f := range tableOf(in).Folds() {
		got = append(got, fold{f.Title, f.Note, f.Open})
		total += len(f.Lines)
	}
	want := []fold{{"Bus voltage sensing, cold", "11 checks, 6 read, 2 bad", false}, {"Bus voltage sensing, injected", "1 check", false},
		{"Bus voltage sensing, live", "3 checks", true}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if total != len(in.Model.Profile.Checks) {
		t.Errorf("%d lines in the folds, %d checks", total, len(in.Model.Profile.Checks))
	}
	if n := len(pick(benchDoc(t, in), "details.fold[open]")); n != 1 {
		t.Errorf("%d folds stand open", n)
	}
	short := tableOf(in)
	short.Lines = short.Lines[:3]
	for _, f := range short.Folds() {
		if !f.Open {
			t.Errorf("a table of three lines is folded: %s", f.Title)
		}
	}
}
