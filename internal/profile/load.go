package profile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"ohmstead/internal/written"
)

// Format is the first line of every profile file.
const Format = "ohmstead/board-profile/1"

// Limits on what a profile may hold, beside those of the written package.
const (
	maxParts       = 600
	maxPoints      = 600
	maxStates      = 16
	maxSources     = 32
	maxChecks      = 2000
	maxBlocks      = 100
	maxPath        = 100
	maxIndications = 100
	maxLimits      = 32
	maxParents     = 8 // how long a chain of based_on may be
)

// Parent gives the file of another profile by id, for based_on.
type Parent func(id string) ([]byte, error)

// Load reads a profile. name is for messages; when it ends in .yaml the
// profile's id must equal the file's name. parent may be nil when nothing is
// based on anything. The error is written.Errors: everything found wrong, each
// with file, line and column.
func Load(name string, src []byte, parent Parent) (*Profile, error) {
	l := loader{parent: parent}
	return l.load(name, src)
}

// LoadFile reads a profile from a file; based_on is looked up beside it.
func LoadFile(path string) (*Profile, error) {
	src, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	dir := filepath.Dir(path)
	return Load(path, src, func(id string) ([]byte, error) {
		return os.ReadFile(filepath.Join(dir, id+".yaml"))
	})
}

// loader follows a chain of based_on.
type loader struct {
	parent Parent
	chain  []string // ids being loaded, child first
}

func (l *loader) load(name string, src []byte) (*Profile, error) {
	tree, err := written.YAML(name, src)
	if err != nil {
		return nil, err
	}
	b := &builder{file: name, profile: &Profile{File: name}}
	b.Fields = written.Fields{Errs: &b.errs}
	if tree.Kind != written.Map {
		b.errs.Add(tree.Position, tree.Text, "a board profile is a map", "format: "+Format)
		return nil, b.errs.Err()
	}
	b.header(tree)
	if len(b.errs) > 0 {
		return nil, b.errs.Err()
	}
	var base *written.Node
	if id := tree.Get("based_on"); id != nil {
		p, err := l.loadParent(b, id)
		if err != nil {
			return nil, err
		}
		b.base, b.profile.BasedOn = p, p.ID
		base = shared(p.tree)
	}
	merged := merger{&b.errs}.merge(base, tree, "")
	if len(b.errs) > 0 {
		return nil, b.errs.Err()
	}
	b.build(merged)
	if err := b.errs.Err(); err != nil {
		return nil, err
	}
	b.profile.tree = b.prune(merged)
	return b.profile, nil
}

// loadParent loads the profile that b is based on.
func (l *loader) loadParent(b *builder, id *written.Node) (*Profile, error) {
	fail := func(problem, expected string) (*Profile, error) {
		b.errs.Add(id.Position, id.Text, problem, expected)
		return nil, b.errs.Err()
	}
	if l.chain = append(l.chain, b.profile.ID); len(l.chain) > maxParents {
		return fail("too many profiles based on each other", fmt.Sprintf("at most %d", maxParents))
	}
	for _, seen := range l.chain {
		if seen == id.Text {
			return fail("this profile is based on itself", "another profile's id")
		}
	}
	if l.parent == nil {
		return fail("no other profiles can be found from here", "")
	}
	src, err := l.parent(id.Text)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fail("no such profile beside this one", "the id of another profile")
	case err != nil:
		return fail("the profile cannot be read: "+err.Error(), "")
	}
	return l.load(beside(b.file, id.Text), src)
}

// beside names the file of another profile in the same directory.
func beside(file, id string) string {
	if dir := filepath.Dir(file); dir != "." {
		return filepath.Join(dir, id+".yaml")
	}
	return id + ".yaml"
}

// shared is what a child inherits: everything but the head of the file.
func shared(tree *written.Node) *written.Node {
	out := *tree
	out.Entries = nil
	for _, e := range tree.Entries {
		switch e.Key {
		case "format", "id", "based_on", "flattened_from":
		default:
			out.Entries = append(out.Entries, e)
		}
	}
	return &out
}

var validID = regexp.MustCompile(`^[a-z0-9-]+$`)

// header reads what must be right before anything is merged.
func (b *builder) header(tree *written.Node) {
	p := b.profile
	if format := b.Need(tree, "format"); format != Format && format != "" {
		b.errs.Add(tree.Get("format").Position, format, "not the format of a board profile", Format)
	}
	if p.ID = b.Need(tree, "id"); p.ID != "" {
		at := tree.Get("id").Position
		if !validID.MatchString(p.ID) {
			b.errs.Add(at, p.ID, "not an id", "lower-case letters, digits and hyphens")
		} else if stem, ok := strings.CutSuffix(filepath.Base(b.file), ".yaml"); ok && stem != p.ID {
			b.errs.Add(at, p.ID, "the id is not the file's name", stem)
		}
	}
	for _, key := range []string{"based_on", "flattened_from"} {
		if id := tree.Get(key); id != nil && !validID.MatchString(b.Text(tree, key)) {
			b.errs.Add(id.Position, id.Text, "not an id", "lower-case letters, digits and hyphens")
		}
	}
	if n := tree.Get("flattened_from"); n != nil {
		if tree.Get("based_on") != nil {
			b.errs.Add(n.Position, n.Text, "a flattened profile is not based on another", "")
		}
		p.BasedOn = n.Text
	}
}

// Flatten gives the profile as one YAML file that stands alone: what it is
// based on merged in, aliases expanded. It loads to the same Profile; the
// parent's id is kept as flattened_from. Profiles that were not loaded have
// nothing to flatten and give an error.
func (p *Profile) Flatten() ([]byte, error) {
	if p.tree == nil {
		return nil, errors.New("profile: only a loaded profile can be flattened")
	}
	head := []written.Entry{entry("format", Format), entry("id", p.ID)}
	if p.BasedOn != "" {
		head = append(head, entry("flattened_from", p.BasedOn))
	}
	return written.Emit(&written.Node{Kind: written.Map, Entries: append(head, shared(p.tree).Entries...)}), nil
}

func entry(key, value string) written.Entry {
	return written.Entry{Key: key, Value: &written.Node{Kind: written.Text, Text: value}}
}
