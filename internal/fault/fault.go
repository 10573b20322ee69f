// Package fault holds the few kinds of error that Ohmstead tells apart.
//
// It knows what a person should be told and what the log should keep; it does
// not know HTTP: the web layer maps a Kind to a status in one table.
package fault

import (
	"errors"
	"fmt"
)

// Kind says what went wrong, as far as the caller can act on it.
type Kind int

// The kinds. Everything that is not marked otherwise is Internal.
const (
	Internal  Kind = iota // our fault, or the machine's
	Invalid               // the input cannot be accepted as typed
	NotFound              // no such thing
	Forbidden             // this person may not do it
	Conflict              // somebody else changed it first, or the step is out of order
	Gone                  // it was here and has been withdrawn
	Busy                  // try again in a moment
)

// Error carries the person's text apart from the log's cause.
type Error struct {
	Kind   Kind
	Text   string            // for the person: what to do, in a sentence
	Fields map[string]string // message by form field, when Kind is Invalid
	Cause  error             // for the log; may be nil
}

// Error gives the log's view.
func (e *Error) Error() string {
	if e.Cause == nil {
		return e.Text
	}
	return fmt.Sprintf("%s: %v", e.Text, e.Cause)
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// New makes an error of a kind with a text for the person.
func New(k Kind, format string, args ...any) *Error {
	return &Error{Kind: k, Text: fmt.Sprintf(format, args...)}
}

// Wrap marks err with a kind and a text for the person; nil stays nil.
func Wrap(err error, k Kind, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return &Error{Kind: k, Text: fmt.Sprintf(format, args...), Cause: err}
}

// Field makes an Invalid error about a single form field.
func Field(name, format string, args ...any) *Error {
	text := fmt.Sprintf(format, args...)
	return &Error{Kind: Invalid, Text: text, Fields: map[string]string{name: text}}
}

// KindOf tells the kind of the outermost marked error in the chain.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Text gives what the person may read: the text of a marked error, or a
// sentence that gives nothing away.
func Text(err error) string {
	var e *Error
	if errors.As(err, &e) {
		return e.Text
	}
	return "Something went wrong on our side. Nothing that was stored before is lost."
}

// Fields gives the messages by form field, nil when there are none.
func Fields(err error) map[string]string {
	var e *Error
	if errors.As(err, &e) {
		return e.Fields
	}
	return nil
}

// Form makes an Invalid error of the messages by field that checking a form
// gave; no messages make no error.
func Form(fields map[string]string) error {
	switch len(fields) {
	case 0:
		return nil
	case 1:
		for _, text := range fields {
			return &Error{Kind: Invalid, Text: text, Fields: fields}
		}
	}
	return &Error{Kind: Invalid, Text: "Some fields need another look; each says why.", Fields: fields}
}
