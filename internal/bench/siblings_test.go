package bench

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/profiles"
)

// shipped is a shipped profile as the shop stores it, changed in what it says.
func shipped(t *testing.T, id, was, is string) shop.Profile {
	t.Helper()
	source := func(id string) ([]byte, error) { return profiles.Files.ReadFile(id + ".yaml") }
	src, err := source(id)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(src), was) {
		t.Fatalf("%s does not say %q", id, was)
	}
	p, err := profile.Load(id+".yaml", []byte(strings.Replace(string(src), was, is, 1)), source)
	if err != nil {
		t.Fatal(err)
	}
	flat, err := p.Flatten()
	if err != nil {
		t.Fatal(err)
	}
	return shop.Profile{Key: id, Family: p.Family, RevisionID: uuid.Must(uuid.NewV7()), Revision: p.Revision, Flattened: flat}
}

func hearth2(t *testing.T) *Model {
	t.Helper()
	m, err := NewModel(shipped(t, "hearth-2", "", ""), DefaultMeter())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// asRevision3 are readings of a good board of revision 3 whose zero crossing goes
// through 2 × 47 k and 22 k, where revision 2 has 2 × 33 k and 10 k. They are what the
// engine expects of it: this holds the bench; that the engine's expectation is right
// is tested beside the profiles.
func asRevision3(t *testing.T, m *Model) *shop.Story {
	t.Helper()
	return about(t, m, "f1", "0.2", "r1", "37.5k", "r2", "37.6k", "r3", "18.9k")
}

// A whole board of the other revision is a conflict that says which it is, and what
// to set the ticket to.
func TestABoardOfTheOtherRevision(t *testing.T) {
	t.Parallel()
	m, three := hearth2(t), shipped(t, "hearth-3", "", "")
	siblings := m.Siblings([]shop.Profile{three})
	j, err := m.Judge(t.Context(), asRevision3(t, m), nil, Known{Siblings: siblings})
	if err != nil {
		t.Fatal(err)
	}
	c := j.Result.Conclusion
	if c.Status != analysis.Conflict || c.Sibling != "hearth-3" || c.Why != "The readings fit HEARTH 3 better than HEARTH 2: look at the printed revision." {
		t.Errorf("%+v", c)
	}
	if s := j.Sibling; s == nil || s.Revision != three.RevisionID || s.Family != "HEARTH" || s.Name != "3" {
		t.Errorf("the sibling is %+v", s)
	}
	alone, err := m.Judge(t.Context(), asRevision3(t, m), nil, Known{})
	if err != nil || alone.Sibling != nil || alone.Result.Conclusion.Sibling != "" {
		t.Errorf("where no other revision is known: %+v, %v", alone.Result.Conclusion, err)
	}
}

// The probe of revision 3 on a board that is revision 2 everywhere else is a part
// that is wrong, not another board; the conclusion says to which one it belongs.
func TestAPartOfTheOtherRevision(t *testing.T) {
	t.Parallel()
	m := hearth2(t)
	siblings := m.Siblings([]shop.Profile{shipped(t, "hearth-3", "", "")})
	story := about(t, m, "f1", "0.2", "r1", "27.7k", "tc1", "1097")
	j, err := m.Judge(t.Context(), story, nil, Known{Siblings: siblings})
	if err != nil {
		t.Fatal(err)
	}
	c := j.Result.Conclusion
	if j.Sibling != nil || c.Sibling != "" || c.Alike != "HEARTH 3" || !strings.Contains(c.Why, "On HEARTH 3, PT1 reads 1.0") {
		t.Errorf("%+v", c)
	}
}

// When the other revision's profile is edited, the same readings are another
// question: what was answered before does not stand for it.
func TestAnEditedSiblingIsAnotherQuestion(t *testing.T) {
	t.Parallel()
	m := hearth2(t)
	story := asRevision3(t, m)
	ask := func(p shop.Profile) analysis.Conclusion {
		t.Helper()
		j, err := m.Judge(t.Context(), story, nil, Known{Siblings: m.Siblings([]shop.Profile{p})})
		if err != nil {
			t.Fatal(err)
		}
		return j.Result.Conclusion
	}
	is := shipped(t, "hearth-3", "", "")
	// Also id, title and revision of the edited one are the same.
	edited := shipped(t, "hearth-3", "R1: {value: 47k}\n  R2: {value: 47k}\n  R3: {value: 22k}", "R1: {value: 33k}\n  R2: {value: 33k}\n  R3: {value: 10k}")
	first := ask(is)
	if got := ask(edited); got.Sibling != "" {
		t.Errorf("revision 3 is edited to be as revision 2 there, and it is still taken for it: %+v", got)
	}
	if d := cmp.Diff(first, ask(is)); d != "" || first.Sibling != "hearth-3" {
		t.Errorf("edited back:\n%s", d)
	}
}

// Siblings are the parent and those beside it, as for profiles in one directory; of
// anything else in the family nothing is concluded. One text is read once.
func TestSiblingsOfAModel(t *testing.T) {
	t.Parallel()
	const head = "format: ohmstead/board-profile/1\nid: "
	with := func(id, parent string) shop.Profile {
		text := head + id + "\n"
		if parent != "" {
			text += "flattened_from: " + parent + "\n"
		}
		return shop.Profile{Key: id, Revision: "of " + id, Flattened: []byte(text + "title: " + id + "\nrevision: x\n")}
	}
	others := []shop.Profile{with("z", "b"), with("stranger", ""), with("a", ""), with("m", "a"), with("other", "stranger"), with("child", "b"),
		{Key: "broken", Flattened: []byte(head + "broken\ntitle: [\n")}, with("child", "a"), with("b", "a")}
	for own, want := range map[string]string{"b": "a child m z", "a": "b m", "stranger": "other", "alone": ""} {
		parent := map[string]string{"b": "a"}[own]
		m, err := NewModel(with(own, parent), DefaultMeter())
		if err != nil {
			t.Fatal(err)
		}
		list := m.Siblings(others)
		var got []string
		for i, s := range list {
			got = append(got, s.Profile.ID)
			if s.Name != "of "+s.Profile.ID {
				t.Errorf("%s: %+v", own, s)
			}
			if again := m.Siblings(others)[i].Profile; again != s.Profile {
				t.Errorf("%s: %s was read twice", own, s.Profile.ID)
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("siblings of %s: %v, want %s", own, got, want)
		}
	}
}

// Which revision it is counts as looked at when somebody said so in the face of
// readings, not when it was first found out or before any.
func TestSettled(t *testing.T) {
	t.Parallel()
	entry := func(k journal.Kind, was, is string, minutes int) journal.Entry {
		return journal.Entry{Kind: k, Change: journal.Change{Old: was, New: is}, TakenAt: noon.Add(time.Duration(minutes) * time.Minute)}
	}
	for name, c := range map[string]struct {
		entry journal.Entry
		want  bool
	}{
		"another one":        {entry(journal.Revision, "HEARTH 2", "HEARTH 3", 1), true},
		"the same":           {entry(journal.Revision, "HEARTH 2", "HEARTH 2", 1), true},
		"before any reading": {entry(journal.Revision, "HEARTH 2", "HEARTH 3", -1), false},
		"it was not known":   {entry(journal.Revision, "", "HEARTH 2", 1), false},
		"not known any more": {entry(journal.Revision, "HEARTH 2", "", 1), false},
		"something else":     {entry(journal.Moved, "a", "b", 1), false},
	} {
		story := &shop.Story{Readings: []evidence.Reading{{TakenAt: noon}}, Entries: []journal.Entry{c.entry}}
		if got := Settled(story); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
