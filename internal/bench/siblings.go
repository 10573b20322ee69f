package bench

import (
	"crypto/sha256"
	"slices"
	"sync"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
)

// Sibling is a revision that a board might be instead of the one it is taken for.
type Sibling struct {
	Profile  *profile.Profile // its newest version, the same pointer as long as the text is the same
	Revision uuid.UUID
	Family   string
	Name     string // of the revision

	text [sha256.Size]byte // digest of the version's text
}

// kin keeps the siblings' profiles by their text, so that each is read once.
type kin struct {
	mu    sync.Mutex
	known map[[sha256.Size]byte]*profile.Profile // nil: it cannot be read
}

// Siblings gives those of other revisions' profiles that are siblings of the
// model's own, in the order of their ids: its parent, and those based on it or on
// the same parent. Parts of any other profile may bear the same names for
// different things, so nothing is concluded from it. others stand newest first: of
// two with one id the first counts. A profile that cannot be read is left out: it
// is reported when it is used itself.
func (m *Model) Siblings(others []shop.Profile) []Sibling {
	parentOf := map[string]string{m.Profile.ID: m.Profile.BasedOn}
	byID := map[string]Sibling{}
	for i, p := range m.kin.read(others) {
		if p == nil || p.ID == m.Profile.ID || byID[p.ID].Profile != nil {
			continue
		}
		o := others[i]
		parentOf[p.ID] = p.BasedOn
		byID[p.ID] = Sibling{Profile: p, Revision: o.RevisionID, Family: o.Family, Name: o.Revision, text: sha256.Sum256(o.Flattened)}
	}
	var out []Sibling
	for _, id := range profile.SiblingIDs(m.Profile.ID, parentOf) {
		out = append(out, byID[id])
	}
	return out
}

// Settled tells whether somebody has looked which revision a board is: set another
// than it was taken for, or the same once more, when there were readings. Then it is
// not taken for another any more.
func Settled(story *shop.Story) bool {
	for _, e := range story.Entries {
		if e.Kind != journal.Revision || e.Change.Old == "" || e.Change.New == "" {
			continue
		}
		before := func(r evidence.Reading) bool { return r.TakenAt.Before(e.TakenAt) }
		if slices.ContainsFunc(story.Readings, before) {
			return true
		}
	}
	return false
}

// read loads stored profiles, in their order, and forgets all others.
func (k *kin) read(list []shop.Profile) []*profile.Profile {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := map[[sha256.Size]byte]*profile.Profile{}
	out := make([]*profile.Profile, len(list))
	for i, o := range list {
		text := sha256.Sum256(o.Flattened)
		p, ok := k.known[text]
		if !ok {
			p, _ = profile.Load(o.Key+".yaml", o.Flattened, nil) // nil when it cannot be read
		}
		now[text], out[i] = p, p
	}
	k.known = now
	return out
}

// sibling finds the one of a profile's id, nil when there is none.
func (k Known) sibling(id string) *Sibling {
	for i := range k.Siblings {
		if k.Siblings[i].Profile.ID == id {
			return &k.Siblings[i]
		}
	}
	return nil
}
