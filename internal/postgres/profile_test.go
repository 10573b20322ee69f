package postgres

import (
	"crypto/sha256"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// shipped is two revisions of a family and one of another.
func shipped() []shop.Profile {
	return []shop.Profile{
		{Key: "sedge-d", Family: "SEDGE", FamilyTitle: "drive for borehole pumps", Revision: "D", YAML: []byte("id: sedge-d"), Author: "shipped", Reason: "with the program"},
		{Key: "sedge-f", Family: "Sedge", Revision: "F", YAML: []byte("based_on: sedge-d"), Flattened: []byte("id: sedge-f\nfull"), Author: "shipped"},
		{Key: "hearth-2", Family: "HEARTH", Revision: "2", YAML: []byte("id: hearth-2"), Author: "shipped"},
	}
}

func TestShippedProfilesAreStoredOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	var mu sync.Mutex
	added := 0
	var wg sync.WaitGroup
	for range 3 {
		wg.Go(func() {
			n, err := w.SyncProfiles(t.Context(), shipped())
			if err != nil {
				t.Error(err)
			}
			mu.Lock()
			added += n
			mu.Unlock()
		})
	}
	wg.Wait()
	if added != 3 {
		t.Errorf("%d of 3 profiles were added by three starts at once", added)
	}
	families := must(w.Families(t.Context()))
	if len(families) != 2 || families[0].Name != "HEARTH" || families[1].Title != "drive for borehole pumps" {
		t.Errorf("%+v", families)
	}
	list := must(w.Revisions(t.Context(), families[1].ID))
	if len(list) != 2 || list[0].Name != "D" || list[1].ProfileKey != "sedge-f" || len(must(w.Revisions(t.Context(), uuid.Nil))) != 3 {
		t.Errorf("%+v", list)
	}
	p := must(w.Profile(t.Context(), *list[1].ProfileVersionID))
	sum := sha256.Sum256([]byte("id: sedge-f\nfull"))
	want := shop.Profile{ID: p.ID, Key: "sedge-f", Family: families[1].Name, FamilyTitle: "drive for borehole pumps", RevisionID: list[1].ID, Revision: "F",
		YAML: []byte("based_on: sedge-d"), Flattened: []byte("id: sedge-f\nfull"), SHA256: sum[:], Author: "shipped", CreatedAt: w.clock.now()}
	if diff := cmp.Diff(want, p); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	_, err := w.Profile(t.Context(), uuid.New())
	wantKind(t, "no such version", err, fault.NotFound)
}

// A ticket keeps the profile it was measured against when a newer one comes.
func TestANewVersionRewritesNoHistory(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	must(w.SyncProfiles(t.Context(), shipped()))
	d := must(w.Revisions(t.Context(), uuid.Nil))[1]
	k := w.takeIn(func(in *shop.Intake) { in.RevisionID = &d.ID })
	w.clock.pass(time.Hour)
	next := shipped()
	next[0].YAML = []byte("id: sedge-d\nbetter")
	if n := must(w.SyncProfiles(t.Context(), next)); n != 1 {
		t.Errorf("%d profiles were new", n)
	}
	newer := must(w.Revisions(t.Context(), uuid.Nil))[1]
	if *newer.ProfileVersionID == *d.ProfileVersionID {
		t.Fatal("the newer version is not the revision's")
	}
	if got := w.story(k).Ticket.ProfileVersionID; *got != *d.ProfileVersionID {
		t.Error("an open ticket was moved to the newer version")
	}
	if p := must(w.Profile(t.Context(), *d.ProfileVersionID)); string(p.YAML) != "id: sedge-d" {
		t.Errorf("the old version reads %q", p.YAML)
	}
	if k = must(w.AssignRevision(t.Context(), w.bench, k.ID, d.ID, "take the newer profile")); *k.ProfileVersionID != *newer.ProfileVersionID {
		t.Error("assigning the revision again does not pin the newer version")
	}
}

// Beside a version, new or old, stand the newest versions of the family's other
// revisions, and nothing else.
func TestOtherProfiles(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	must(w.SyncProfiles(t.Context(), append(shipped(), shop.Profile{Key: "sedge-g", Family: "SEDGE", Revision: "G", YAML: []byte("id: sedge-g"), Author: "shipped"})))
	list := must(w.Revisions(t.Context(), uuid.Nil))
	hearth, d, f, g := list[0], list[1], list[2], list[3]
	w.clock.pass(time.Hour)
	next := shipped()
	next[0].YAML, next[1].Flattened = []byte("id: sedge-d\nbetter"), []byte("id: sedge-f\nbetter")
	must(w.SyncProfiles(t.Context(), next))
	newer := must(w.Revisions(t.Context(), d.FamilyID))
	ask := func(version *uuid.UUID) string {
		var out []string
		for _, p := range must(w.OtherProfiles(t.Context(), *version)) {
			out = append(out, p.Family+" "+p.Revision+" "+string(p.Flattened))
		}
		return strings.Join(out, "; ")
	}
	const better, plain = "SEDGE F id: sedge-f\nbetter", "SEDGE G id: sedge-g"
	for name, version := range map[string]*uuid.UUID{"the first D": d.ProfileVersionID, "the newer D": newer[0].ProfileVersionID} {
		if got := ask(version); got != better+"; "+plain {
			t.Errorf("beside %s: %q", name, got)
		}
	}
	if got := ask(f.ProfileVersionID); got != "SEDGE D id: sedge-d\nbetter; "+plain {
		t.Errorf("beside F: %q", got)
	}
	if got := ask(hearth.ProfileVersionID); got != "" {
		t.Errorf("beside the only HEARTH: %q", got)
	}
	if p := must(w.OtherProfiles(t.Context(), *d.ProfileVersionID)); p[1].RevisionID != g.ID || p[0].RevisionID != f.ID {
		t.Errorf("they are of %v", p)
	}
	if got := must(w.OtherProfiles(t.Context(), uuid.New())); len(got) != 0 {
		t.Errorf("beside no version: %v", got)
	}
}

func TestFamilies(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	f := must(w.SaveFamily(t.Context(), w.bench, shop.Family{Name: "PACKHORSE", Title: "charger"}))
	_, err := w.SaveFamily(t.Context(), w.bench, shop.Family{Name: "packhorse"})
	wantField(t, "the same name", err, "name")
	f.NewBoard = &quote.Money{Minor: 26000, Currency: "EUR"}
	must(w.SaveFamily(t.Context(), w.bench, f))
	if diff := cmp.Diff([]shop.Family{f}, must(w.Families(t.Context()))); diff != "" {
		t.Error(diff)
	}
	k := w.takeIn(func(in *shop.Intake) { in.FamilyID = &f.ID })
	if st := w.story(k); st.NewBoard == nil || st.NewBoard.Minor != 26000 || st.Board.FamilyName != "PACKHORSE" {
		t.Errorf("%+v", st.Board)
	}
	_, err = w.SaveFamily(t.Context(), w.bench, shop.Family{ID: uuid.New(), Name: "x"})
	wantKind(t, "no such family", err, fault.NotFound)
	_, err = w.SaveFamily(t.Context(), w.desk, f)
	wantKind(t, "by the desk", err, fault.Forbidden)
	_, err = w.SaveFamily(t.Context(), w.bench, shop.Family{})
	wantField(t, "without a name", err, "name")
}
