package shop

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// drawn is docs/states.md, which shows people the table of this package.
const drawn = "../../docs/states.md"

func TestTheDrawingShowsTheTable(t *testing.T) {
	t.Parallel()
	page, err := os.ReadFile(drawn)
	if err != nil {
		t.Fatal(err)
	}
	var arrows, rows []string
	for _, tr := range transitions() {
		arrows = append(arrows, fmt.Sprintf("%s --> %s", tr.From, tr.To))
		var needs []string
		for _, n := range tr.Needs {
			needs = append(needs, string(n))
		}
		rows = append(rows, fmt.Sprintf("| %s | %s | %s | %s |", tr.From.Title(), tr.To.Title(), who(tr.Who), strings.Join(needs, ", ")))
	}
	var starts, ends []string
	for _, s := range States() {
		if s.Ended() {
			ends = append(ends, fmt.Sprintf("%s --> [*]", s))
		}
	}
	starts = []string{"[*] --> taken_in"}
	want := append(append(starts, arrows...), ends...)
	got := regexp.MustCompile(`(?m)^ +(\S+ --> \S+)$`).FindAllStringSubmatch(string(page), -1)
	var gotArrows []string
	for _, m := range got {
		gotArrows = append(gotArrows, m[1])
	}
	if diff := cmp.Diff(want, gotArrows); diff != "" {
		t.Errorf("arrows (-table +drawing):\n%s", diff)
	}
	gotRows := regexp.MustCompile(`(?m)^\| [a-z].*\|$`).FindAllString(string(page), -1)
	if diff := cmp.Diff(rows, gotRows[1:]); diff != "" { // the first is the heading
		t.Errorf("rows (-table +page):\n%s", diff)
	}
}

// who names the roles that may do something, owners apart.
func who(a staff.Action) string {
	var names []string
	for _, r := range staff.Roles() {
		if r != staff.Owner && staff.Can(r, a) {
			names = append(names, r.Title())
		}
	}
	return strings.Join(names, ", ")
}

func TestTheTableIsWhole(t *testing.T) {
	t.Parallel()
	seen := map[[2]State]bool{}
	for _, tr := range transitions() {
		pair := [2]State{tr.From, tr.To}
		if seen[pair] || tr.From == tr.To || !tr.From.Valid() || !tr.To.Valid() {
			t.Errorf("%s to %s stands twice, leads nowhere or names no state", tr.From, tr.To)
		}
		seen[pair] = true
		if tr.From.Ended() {
			t.Errorf("%s is an end and leads to %s", tr.From, tr.To)
		}
	}
	reached := reach(TakenIn)
	for _, s := range States() {
		if !reached[s] {
			t.Errorf("%s is never reached", s)
		}
		if after := reach(s); !s.Ended() && !(after[HandedOver] && after[ReturnedUnrepaired] && after[Scrapped]) {
			t.Errorf("from %s an end cannot be reached", s)
		}
	}
}

// reach gives the states that can follow one, itself included.
func reach(from State) map[State]bool {
	out := map[State]bool{from: true}
	for grew := true; grew; {
		grew = false
		for _, tr := range transitions() {
			if out[tr.From] && !out[tr.To] {
				out[tr.To], grew = true, true
			}
		}
	}
	return out
}

// The states and their order as the trade of this shop has them; the ends last.
func TestStatesInWords(t *testing.T) {
	t.Parallel()
	want := []string{"taken in", "on the shelf", "on the bench", "waiting for a yes", "waiting for a part", "on soak",
		"to be handed over", "handed over", "returned unrepaired", "scrapped with consent"}
	var got []string
	for _, s := range States() {
		got = append(got, s.Title())
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if State("lost").Valid() {
		t.Error("a state that does not exist is valid")
	}
}

func actor(r staff.Role) staff.Actor { return staff.Actor{Role: r} }

func TestStepsNeedWhatTheTableSays(t *testing.T) {
	t.Parallel()
	all := Facts{Reason: "because", Yes: true, ScrapYes: true, Slip: true}
	for _, c := range []struct {
		name     string
		role     staff.Role
		from, to State
		facts    Facts
		kind     fault.Kind
		ok       bool
	}{
		{"shelf by the desk", staff.FrontDesk, TakenIn, OnShelf, Facts{}, 0, true},
		{"bench by the desk", staff.FrontDesk, OnShelf, OnBench, all, fault.Forbidden, false},
		{"bench by a technician", staff.Bench, OnShelf, OnBench, Facts{}, 0, true},
		{"bench by the owner", staff.Owner, OnShelf, OnBench, Facts{}, 0, true},
		{"waiting without saying for what", staff.Bench, OnBench, WaitingForPart, Facts{Reason: " "}, fault.Invalid, false},
		{"waiting for R12", staff.Bench, OnBench, WaitingForPart, Facts{Reason: "R12"}, 0, true},
		{"waiting for what cannot be kept", staff.Bench, OnBench, WaitingForPart, Facts{Reason: "R12\x00"}, fault.Invalid, false},
		{"waiting for a novel", staff.Bench, OnBench, WaitingForPart, Facts{Reason: strings.Repeat("x", maxReason+1)}, fault.Invalid, false},
		{"on without a yes", staff.Bench, WaitingForYes, OnBench, Facts{No: true}, fault.Conflict, false},
		{"on with a yes", staff.Bench, WaitingForYes, OnBench, Facts{Yes: true}, 0, true},
		{"back after a no", staff.FrontDesk, WaitingForYes, ToHandOver, Facts{No: true}, 0, true},
		{"back without an answer", staff.FrontDesk, WaitingForYes, ToHandOver, Facts{}, fault.Conflict, false},
		{"scrapped without consent", staff.Owner, WaitingForYes, Scrapped, Facts{Yes: true, Reason: "x", Slip: true}, fault.Conflict, false},
		{"scrapped with consent", staff.FrontDesk, WaitingForYes, Scrapped, Facts{ScrapYes: true}, 0, true},
		{"handed over without a slip", staff.Owner, ToHandOver, HandedOver, Facts{Yes: true, Reason: "x"}, fault.Conflict, false},
		{"handed over", staff.FrontDesk, ToHandOver, HandedOver, Facts{Slip: true}, 0, true},
		{"handed over from the bench", staff.Owner, OnBench, HandedOver, all, fault.Conflict, false},
		{"out of an end", staff.Owner, HandedOver, OnBench, all, fault.Conflict, false},
		{"to itself", staff.Owner, OnBench, OnBench, all, fault.Conflict, false},
		{"by nobody", "", TakenIn, OnShelf, all, fault.Forbidden, false},
	} {
		err := Step(actor(c.role), c.from, c.to, c.facts)
		if c.ok != (err == nil) || !c.ok && fault.KindOf(err) != c.kind {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if err := Step(actor(staff.Bench), OnSoak, OnBench, Facts{}); fault.Fields(err)["reason"] == "" {
		t.Errorf("a missing reason is not beside its field: %v", err)
	}
}

func TestStepsOfARole(t *testing.T) {
	t.Parallel()
	var got []State
	for _, tr := range Steps(actor(staff.FrontDesk), WaitingForYes) {
		got = append(got, tr.To)
	}
	if diff := cmp.Diff([]State{OnShelf, ToHandOver, Scrapped}, got); diff != "" {
		t.Error(diff)
	}
	if steps := Steps(actor(staff.Owner), Scrapped); len(steps) != 0 {
		t.Errorf("an end leads to %v", steps)
	}
	for _, s := range States() {
		owner := Steps(actor(staff.Owner), s)
		for _, tr := range Steps(actor(staff.Bench), s) {
			if !slices.ContainsFunc(owner, func(o Transition) bool { return o.To == tr.To }) {
				t.Errorf("the owner may not go from %s to %s", s, tr.To)
			}
		}
	}
}
