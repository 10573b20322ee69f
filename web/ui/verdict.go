// Package ui holds the building blocks of pages: fields, verdict marks, the
// band beside a reading, the strip, the tape.
//
// It knows how things look and what makes them accessible; it does not know
// where the data comes from.
package ui

// Verdict is what a person reads beside a reading.
type Verdict string

// The verdicts in their order of importance; None stands where no reading is.
const (
	None       Verdict = ""
	Bad        Verdict = "nonconforming"
	CannotTell Verdict = "inconclusive"
	NotBad     Verdict = "conforming"
)

// Word gives the word that always stands beside the shape.
func (v Verdict) Word() string {
	switch v {
	case Bad:
		return "bad"
	case CannotTell:
		return "cannot tell"
	case NotBad:
		return "not bad"
	}
	return "not read"
}

func (v Verdict) class() string {
	switch v {
	case Bad:
		return "bad"
	case CannotTell:
		return "unsure"
	case NotBad:
		return "good"
	}
	return "none"
}
