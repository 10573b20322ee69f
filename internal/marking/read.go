package marking

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"ohmstead/internal/quantity"
)

// expected says what Read takes.
const expected = "the code of the value alone, such as 103, 4R7, 4K7J, 473K or 01C, or the colours of the bands"

// longest bounds what is typed; six colours written out are shorter.
const longest = 80

// Read gives every reading of a print, preferred values first. Colour bands are
// typed from the end at which they begin, as words, as first letters or as the
// letters of IEC 60757 (bk, bn, …), with spaces between them; anything with a
// digit is a code. The error is a *quantity.Error.
//
// Capitals need not be typed, but for p, n, u, m and M: their size is their
// meaning (4m7 is milli, 4M7 mega).
func Read(text string) ([]Reading, error) {
	s := strings.TrimSpace(text)
	fail := func(problem string) ([]Reading, error) {
		return nil, &quantity.Error{Text: text, Problem: problem, Expected: expected}
	}
	switch {
	case s == "":
		return fail("nothing is typed")
	case utf8.RuneCountInString(s) > longest:
		return fail("too long")
	}
	read := readBands
	if strings.ContainsFunc(s, unicode.IsDigit) {
		read = readCode
	}
	found, problem := read(s)
	if problem != "" {
		return fail(problem)
	}
	slices.SortStableFunc(found, func(a, b Reading) int {
		switch {
		case a.Preferred() == b.Preferred():
			return 0
		case a.Preferred():
			return -1
		}
		return 1
	})
	return found, nil
}

// Agrees tells whether a print can mean a part of that kind and value, and
// whether it can be read as such a part at all.
func Agrees(text string, p Part, value float64) (agrees, readable bool) {
	found, err := Read(text)
	if err != nil {
		return false, false
	}
	for _, r := range found {
		if r.Part != p && (p != Resistor || r.Part != Link) {
			continue
		}
		readable = true
		if r.Value == value || max(r.Value/value, value/r.Value) < 1+1e-6 {
			return true, true
		}
	}
	return false, readable
}

// same tells whether two readings say the same, however they were found.
func same(a, b Reading) bool {
	return a.Part == b.Part && a.Value == b.Value && a.Tolerance == b.Tolerance && a.Drift == b.Drift
}

// add appends readings of parts that are made and were not found yet.
func add(list []Reading, more ...Reading) []Reading {
	for _, r := range more {
		if r.made() && !slices.ContainsFunc(list, func(old Reading) bool { return same(old, r) }) {
			list = append(list, r)
		}
	}
	return list
}
