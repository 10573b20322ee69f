package meter

import (
	"embed"
	"io/fs"
	"strings"

	"ohmstead/internal/fault"
)

//go:embed meters/*.yaml
var files embed.FS

// DefaultID is the id of the built-in default meter.
const DefaultID = "handheld-6000"

// Default gives the built-in meter: a generic handheld with 6000 counts.
func Default() *Meter {
	m, err := Shipped(DefaultID)
	if err != nil {
		panic(err) // a test loads every shipped file
	}
	return m
}

// ShippedIDs gives the ids of the shipped meters, in order.
func ShippedIDs() []string {
	var ids []string
	entries, _ := fs.ReadDir(files, "meters") // it is embedded
	for _, e := range entries {
		ids = append(ids, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	return ids
}

// ShippedSource gives the file of a shipped meter, an error of kind NotFound
// when there is none of this id.
func ShippedSource(id string) ([]byte, error) {
	src, err := files.ReadFile("meters/" + id + ".yaml")
	return src, fault.Wrap(err, fault.NotFound, "There is no shipped meter %q.", id)
}

// Shipped gives a shipped meter by id.
func Shipped(id string) (*Meter, error) {
	src, err := ShippedSource(id)
	if err != nil {
		return nil, err
	}
	return Load(id+".yaml", src)
}
