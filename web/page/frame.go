// Package page turns what a person asked for into HTML: one commented struct
// and one templ file per page, the texts of the page in that file.
//
// It knows what a page shows and how the shop writes numbers, dates and money;
// it does not know requests, sessions or storage.
package page

import "strings"

// Frame is what every page carries around its content.
type Frame struct {
	Title   string  // the page's title as a sentence
	Shop    string  // the shop's name
	Person  string  // who is signed in; empty before sign-in
	Role    string  // the person's role in words
	Places  []Place // where this person may go
	Query   string  // what stands in the find field
	Notice  string  // one calm line about what has just happened
	Scripts []string
	Locale  Locale
	Bench   bool // the bench has larger type
}

// tab is the title of the browser's tab: no sentence, so no full stop.
func (f Frame) tab() string { return strings.TrimSuffix(f.Title, ".") + " – Ohmstead" }

// Place is one stop on the signpost.
type Place struct {
	Name    string
	Address string
	Here    bool
}
