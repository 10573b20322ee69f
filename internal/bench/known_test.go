package bench

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
)

// confirmed is a cause found on n boards.
func confirmed(n int, part string, mode profile.Mode) past.Causes {
	var out past.Causes
	for range n {
		out = append(out, past.Cause{Ticket: uuid.Must(uuid.NewV7()), Part: part, Mode: string(mode)})
	}
	return out
}

// rank is the place of a fault among the suspects, 99 when it is not among them,
// and its probability.
func rank(j *Judgement, part string, mode profile.Mode) (int, float64) {
	for i, s := range j.Result.Suspects {
		if len(s.Faults) == 1 && s.Faults[0] == (analysis.Fault{Part: part, Mode: mode}) {
			return i, s.Probability
		}
	}
	return 99, 0
}

// What the shop found on boards of the family raises it on the next one: with the
// same readings it stands higher, and higher still the more often it was found.
func TestConfirmedFindingsTeach(t *testing.T) {
	t.Parallel()
	m := pump(t)
	story := about(t, m, "r17", "5.66k", "r18", "1.000k")
	before, share := 100, -1.0
	for _, n := range []int{0, 3, 9} {
		j, err := m.Judge(t.Context(), story, nil, Known{Causes: confirmed(n, "C18", profile.ModeTired)})
		if err != nil {
			t.Fatal(err)
		}
		at, p := rank(j, "C18", profile.ModeTired)
		if n > 0 && (at > before || p <= share) {
			t.Errorf("found %d times: place %d with %.3f, before that %d with %.3f", n, at, p, before, share)
		}
		if n == 9 && at > 1 {
			t.Errorf("found 9 times and still in place %d", at)
		}
		before, share = at, p
	}
	none, err := m.Judge(t.Context(), story, nil, Known{Causes: confirmed(9, "C99", profile.ModeTired)})
	if err != nil {
		t.Fatal(err)
	}
	plain, err := m.Judge(t.Context(), story, nil, Known{})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(plain.Result.Suspects, none.Result.Suspects); d != "" {
		t.Errorf("a part of another revision teaches this one:\n%s", d)
	}
}

// A board counts once for a fault, whatever the order.
func TestFindingsAreCountedByBoards(t *testing.T) {
	t.Parallel()
	a, b := uuid.UUID{1}, uuid.UUID{2}
	list := past.Causes{{Ticket: b, Part: "R13", Mode: "open"}, {Ticket: a, Part: "C18", Mode: "tired"}, {Ticket: a, Part: "R13", Mode: "open"},
		{Ticket: a, Part: "R13", Mode: "open"}, {Ticket: a, Part: "R13", Mode: "high"}}
	want := []analysis.Finding{
		{Fault: analysis.Fault{Part: "C18", Mode: "tired"}, Times: 1},
		{Fault: analysis.Fault{Part: "R13", Mode: "high"}, Times: 1},
		{Fault: analysis.Fault{Part: "R13", Mode: "open"}, Times: 2},
	}
	if d := cmp.Diff(want, Known{Causes: list}.findings()); d != "" {
		t.Error(d)
	}
	back := past.Causes{list[4], list[3], list[2], list[1], list[0]}
	if d := cmp.Diff(want, Known{Causes: back}.findings()); d != "" {
		t.Errorf("in another order it is another question: %s", d)
	}
}

// Where a lifted leg and a live pin are all that is left to read, the owner's
// prices say which comes first.
func TestPricesMoveChecks(t *testing.T) {
	t.Parallel()
	m := pump(t)
	var story []string
	for _, c := range slices.Backward(m.Profile.Checks) { // the cold ones last: the board stands unpowered
		if c.ID != "r16l" && c.ID != "tp4" {
			story = append(story, c.ID, "-")
		}
	}
	left := about(t, m, story...)
	left.Ticket.Indication = "2"
	for _, c := range []struct {
		name   string
		prices analysis.Prices
		want   []string
	}{
		{"usual", analysis.DefaultPrices(), []string{"tp4", "r16l"}},
		{"danger dear", analysis.Prices{Hazardous: 60}, []string{"r16l", "tp4"}},
		{"both dear", analysis.Prices{Hazardous: 60, Lifted: 60}, []string{"tp4", "r16l"}},
	} {
		j, err := m.Judge(t.Context(), left, nil, Known{Prices: &c.prices})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, n := range j.Result.Next {
			got = append(got, n.Check.ID)
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s%+v", c.name, d, j.Result.Next)
		}
	}
}

// What the eye found is evidence: but not an earlier repair, nor words that may say
// that all is well, nor a place that is no part.
func TestMarksAreEvidence(t *testing.T) {
	t.Parallel()
	m := pump(t)
	story := about(t, m, "r17", "5.66k")
	plain, err := m.Judge(t.Context(), story, nil, Known{})
	if err != nil {
		t.Fatal(err)
	}
	story.Seen = []evidence.Seen{{Part: "C18", What: evidence.RepairedBefore}, {Part: "C18", What: "looks good"}, {Part: "the edge", What: "burnt"}}
	same, err := m.Judge(t.Context(), story, nil, Known{})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(plain.Result.Suspects, same.Result.Suspects); d != "" {
		t.Error(d)
	}
	story.Seen = append(story.Seen, evidence.Seen{Part: "C18", What: "cracked"})
	seen, err := m.Judge(t.Context(), story, nil, Known{})
	if err != nil {
		t.Fatal(err)
	}
	part := func(j *Judgement) (sum float64) {
		for _, s := range j.Result.Suspects {
			for _, f := range s.Faults {
				if f.Part == "C18" {
					sum += s.Probability
				}
			}
		}
		return sum
	}
	if part(seen) < part(plain)+0.1 {
		t.Errorf("C18 %.3f, seen cracked %.3f", part(plain), part(seen))
	}
}

// Earlier boards showed the same when what was written down means the same.
func TestLike(t *testing.T) {
	t.Parallel()
	m := pump(t)
	family, board := uuid.UUID{1}, uuid.UUID{2}
	for written, want := range map[string]past.Like{
		"Two blinks": {Texts: []string{"Two blinks", "2", "two blinks"}, Prefix: "2:"},
		"2: again":   {Texts: []string{"2: again", "2", "two blinks"}, Prefix: "2:"},
		"nothing":    {Texts: []string{"nothing", "none", "nothing"}},
		" red lamp ": {Texts: []string{"red lamp"}},
		" ":          {},
	} {
		want.Family, want.Board = family, board
		story := &shop.Story{Ticket: shop.Ticket{Indication: written}, Board: shop.Board{ID: board, FamilyID: &family}}
		got, ok := m.Like(story)
		if d := cmp.Diff(want, got); d != "" || !ok {
			t.Errorf("%q: %v %s", written, ok, d)
		}
	}
	story := &shop.Story{Ticket: shop.Ticket{Indication: "two blinks"}, Board: shop.Board{ID: board, FamilyID: &family}}
	if got, ok := (*Model)(nil).Like(story); !ok || len(got.Texts) != 1 || got.Prefix != "" {
		t.Errorf("without a profile: %+v", got)
	}
	story.Board.FamilyID = nil
	if _, ok := m.Like(story); ok {
		t.Error("a board of no known family is like others")
	}
}
