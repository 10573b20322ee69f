package profile

import (
	"errors"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
)

func TestLibrary(t *testing.T) {
	t.Parallel()
	file := func(id, rest string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("format: ohmstead/board-profile/1\nid: " + id + "\ntitle: x\n" + rest)}
	}
	lib := NewLibrary(fstest.MapFS{
		"a.yaml": file("a", ""), "b.yaml": file("b", "based_on: a\n"), "c.yaml": file("c", "based_on: a\n"), "d.yaml": file("d", "based_on: c\n"),
		"other.yaml": file("other", ""), "broken.yaml": file("broken", "based_on: a\ncolour: red\n"), "mess.yaml": {Data: []byte("[")}, "notes.txt": {},
	}, "dir")
	ids, err := lib.IDs()
	if d := cmp.Diff([]string{"a", "b", "broken", "c", "d", "mess", "other"}, ids); d != "" || err != nil {
		t.Errorf("%v %s", err, d)
	}
	for id, want := range map[string]string{"a": "b c", "b": "a c", "c": "a b d", "d": "c", "other": ""} {
		p, err := lib.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, s := range lib.Siblings(p) {
			got = append(got, s.ID)
		}
		if strings.Join(got, " ") != want {
			t.Errorf("siblings of %s: %v, want %s", id, got, want)
		}
	}
	for _, id := range []string{"x", "../a", "", "A"} {
		if _, err := lib.Load(id); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%q: %v", id, err)
		}
	}
	if _, err := lib.Load("broken"); err == nil || !strings.HasPrefix(err.Error(), "dir/broken.yaml:5:1") {
		t.Errorf("%v", err)
	}
}

// A directory that cannot be read has no siblings, and says so when asked.
func TestLibraryNowhere(t *testing.T) {
	t.Parallel()
	lib := NewLibrary(unreadable{}, "dir")
	if ids, err := lib.IDs(); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("%v, %v", ids, err)
	}
	if got := lib.Siblings(&Profile{ID: "a"}); got != nil {
		t.Errorf("%v", got)
	}
	if _, err := lib.Load("a"); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("%v", err)
	}
}

// unreadable is a directory that may not be read.
type unreadable struct{}

func (unreadable) Open(string) (fs.File, error)  { return nil, fs.ErrPermission }
func (unreadable) Glob(string) ([]string, error) { return nil, fs.ErrPermission }

func TestSiblingIDs(t *testing.T) {
	t.Parallel()
	parents := map[string]string{"a": "", "b": "a", "c": "a", "d": "b", "e": ""}
	for id, want := range map[string]string{"a": "b c", "b": "a c d", "d": "b", "e": ""} {
		if got := strings.Join(SiblingIDs(id, parents), " "); got != want {
			t.Errorf("siblings of %s: %s, want %s", id, got, want)
		}
	}
}

// Where two parts lie side by side, a check across one of them is that one's.
func TestResolveNamesTheCheckOfThePart(t *testing.T) {
	t.Parallel()
	p, err := Load("side.yaml", []byte(`format: ohmstead/board-profile/1
id: side
title: Side by side
ground: gnd
parts:
  R1: {kind: resistor, pins: [a, gnd], value: 10k}
  R2: {kind: resistor, pins: [a, gnd], value: 10k}
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		check Check
		want  string
	}{
		{Check{State: Cold, Measure: MeasureResistance, Across: "R1"}, "cold:R1"},
		{Check{State: Cold, Measure: MeasureResistance, Across: "R2"}, "cold:R2"},
		{Check{State: Cold, Measure: MeasureResistance, Red: "a"}, "cold:R1"},
	} {
		if got, err := p.Resolve(c.check); err != nil || got.ID != c.want {
			t.Errorf("%+v is %q (%v), want %q", c.check, got.ID, err, c.want)
		}
	}
}
