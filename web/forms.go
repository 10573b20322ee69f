package web

import (
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
