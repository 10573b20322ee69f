// Package written reads files as they were written: YAML documents as a tree of
// texts that know their place, and errors that name file, line and column.
//
// Every scalar stays the text that it is in the file (0603 is "0603", on is
// "on", 1e3 is "1e3"). Fields reads values with units from it and keeps every
// error. What the keys mean is the business of whoever reads them: the package
// does not know profiles, meters or readings.
package written

import (
	"fmt"
	"slices"
	"strings"
)

// Position is a place in a file. Lines and columns count from 1, columns in
// characters.
type Position struct {
	File   string
	Line   int
	Column int
}

// String gives file:line:column.
func (p Position) String() string {
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Error is one thing wrong at one place.
type Error struct {
	Position
	Text     string // what stands there, empty when something is missing
	Problem  string
	Expected string // what should stand there; may be empty
}

// Error gives "file:line:column: "text": problem; expected …" in one line.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Position.String())
	b.WriteString(": ")
	if e.Text != "" {
		fmt.Fprintf(&b, "%q: ", clip(e.Text))
	}
	b.WriteString(e.Problem)
	if e.Expected != "" {
		b.WriteString("; expected " + e.Expected)
	}
	return b.String()
}

// clip keeps a long text from filling the screen.
func clip(s string) string {
	const most = 60
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most]) + "…"
}

// MaxErrors is how many errors are kept for one file; more would not be read.
const MaxErrors = 50

// Errors is everything found wrong, one error a line.
type Errors []*Error

// Error gives all of them, one a line.
func (es Errors) Error() string {
	lines := make([]string, len(es))
	for i, e := range es {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.As find each.
func (es Errors) Unwrap() []error {
	all := make([]error, len(es))
	for i, e := range es {
		all[i] = e
	}
	return all
}

// Add keeps an error, up to MaxErrors.
func (es *Errors) Add(at Position, text, problem, expected string) {
	if len(*es) < MaxErrors {
		*es = append(*es, &Error{Position: at, Text: text, Problem: problem, Expected: expected})
	}
}

// Err gives the errors in the order of their places without repetitions, nil
// when there are none.
func (es Errors) Err() error {
	if len(es) == 0 {
		return nil
	}
	slices.SortStableFunc(es, func(a, b *Error) int {
		if c := strings.Compare(a.File, b.File); c != 0 {
			return c
		}
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return slices.CompactFunc(es, func(a, b *Error) bool { return *a == *b })
}
