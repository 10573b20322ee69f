package shop

import (
	"strconv"
	"strings"
	"unicode"
)

// Query is what somebody typed or scanned to find a ticket, and what it may
// mean. A text may mean several things: 1042 is a ticket's number and the last
// digits of a phone number.
type Query struct {
	Number int64    // a ticket's number, 0 when it cannot be one
	Digits string   // of a phone number, at least three
	Serial string   // as SerialKey gives it, at least three
	Words  []string // of a name, at least two letters in the longest
}

// ParseQuery says what a search may mean. "#1042" means the ticket's number
// only, and so does a scanned address that ends in /tickets/1042.
func ParseQuery(typed string) Query {
	s := strings.TrimSpace(typed)
	if len(s) > maxLine {
		return Query{}
	}
	if i := strings.LastIndex(s, "/tickets/"); i >= 0 {
		s = "#" + strings.Trim(s[i+len("/tickets/"):], "/")
	}
	if rest, ok := strings.CutPrefix(s, "#"); ok {
		return Query{Number: ticketNumber(rest)}
	}
	q := Query{Number: ticketNumber(s)}
	phone := strings.Trim(s, "0123456789 +-()./\u00a0") == ""
	if d := PhoneDigits(s); phone && len(d) >= 3 && len(d) <= 15 {
		q.Digits = d
	}
	if key := SerialKey(s); len(key) >= 3 && strings.ContainsFunc(key, unicode.IsDigit) {
		q.Serial = key
	}
	if strings.ContainsFunc(s, unicode.IsLetter) {
		q.Words = searchable(Words(s))
	}
	return q
}

// searchable drops words when none is long enough to be looked up.
func searchable(words []string) []string {
	for _, w := range words {
		if len([]rune(w)) >= 2 {
			return words
		}
	}
	return nil
}

// ticketNumber reads a ticket's number, 0 when it is none.
func ticketNumber(s string) int64 {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 || s[0] == '+' {
		return 0
	}
	return n
}

// Empty tells whether the query can find nothing.
func (q Query) Empty() bool {
	return q.Number == 0 && q.Digits == "" && q.Serial == "" && len(q.Words) == 0
}
