package web

import (
	"strings"
	"unicode/utf8"

	"ohmstead/internal/fault"
)

// note keeps what an error says about a field.
func note(problems map[string]string, field string, err error) {
	if err == nil {
		return
	}
	if text, ok := fault.Fields(err)[field]; ok {
		problems[field] = text
		return
	}
	problems[field] = fault.Text(err)
}

// addFields keeps every message by field that an error carries; messages that
// are there already stay, since they are about what was typed.
func addFields(problems map[string]string, err error) {
	for field, text := range fault.Fields(err) {
		if problems[field] == "" {
			problems[field] = text
		}
	}
}

// clip shortens text to at most n characters.
func clip(text string, n int) string {
	if utf8.RuneCountInString(text) <= n {
		return text
	}
	return string([]rune(text)[:n])
}

// trim takes white space off both ends of a text, and everywhere the signs that
// turn what follows around: telephones wrap the numbers that they copy in them,
// and they make a line read as what it is not (Unicode TR 36, 3.5). Marks that
// belong to a script's spelling stay.
func trim(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069' {
			return -1
		}
		return r
	}, s))
}

// oneKindOfBreak undoes what forms do to line breaks.
func oneKindOfBreak(s string) string { return strings.ReplaceAll(s, "\r\n", "\n") }
