package profile

import (
	"io/fs"
	"slices"
	"strings"

	"ohmstead/internal/written"
)

// Library is a directory of profiles, one file a profile, <id>.yaml.
type Library struct {
	files fs.FS
	dir   string // for messages, may be empty
}

// NewLibrary gives the profiles of a directory; dir names it in messages.
func NewLibrary(files fs.FS, dir string) Library { return Library{files, dir} }

// IDs gives the ids of all profiles, in order.
func (l Library) IDs() ([]string, error) {
	names, err := fs.Glob(l.files, "*.yaml")
	if err != nil {
		return nil, err
	}
	for i := range names {
		names[i] = strings.TrimSuffix(names[i], ".yaml")
	}
	slices.Sort(names)
	return names, nil
}

// Source gives a profile's file as written; fs.ErrNotExist when there is none.
func (l Library) Source(id string) ([]byte, error) {
	if !validID.MatchString(id) {
		return nil, fs.ErrNotExist
	}
	return fs.ReadFile(l.files, id+".yaml")
}

// Load reads a profile by id; what it is based on is looked up beside it.
func (l Library) Load(id string) (*Profile, error) {
	src, err := l.Source(id)
	if err != nil {
		return nil, err
	}
	return Load(beside(l.dir+"/x", id), src, l.Source)
}

// Siblings loads the siblings of a profile: its parent and the profiles beside
// it that are based on it or on the same parent, in the order of their ids. A
// neighbour that cannot be loaded is left out: it is reported when it is used
// itself.
func (l Library) Siblings(p *Profile) []*Profile {
	ids, err := l.IDs()
	if err != nil {
		return nil
	}
	parentOf := map[string]string{p.ID: p.BasedOn}
	for _, id := range ids {
		src, err := l.Source(id)
		if err != nil || id == p.ID {
			continue
		}
		tree, err := written.YAML(id, src)
		if err != nil {
			continue
		}
		parentOf[id] = ""
		if n := tree.Get("based_on"); n != nil {
			parentOf[id] = n.Text
		}
	}
	var out []*Profile
	for _, id := range SiblingIDs(p.ID, parentOf) {
		if s, err := l.Load(id); err == nil {
			out = append(out, s)
		}
	}
	return out
}

// SiblingIDs gives the ids of a profile's siblings, in order; parentOf gives
// what each known profile is based on, empty for nothing.
func SiblingIDs(id string, parentOf map[string]string) []string {
	var out []string
	for other, parent := range parentOf {
		switch {
		case other == id:
		case other == parentOf[id], parent == id, parent != "" && parent == parentOf[id]:
			out = append(out, other)
		}
	}
	slices.Sort(out)
	return out
}
