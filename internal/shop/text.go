package shop

import (
	"fmt"
	"net/mail"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"ohmstead/internal/fault"
)

// Longest texts, in characters.
const (
	maxLine   = 200
	maxReason = 1000
	maxText   = 4000
)

// PhoneDigits gives the digits of a phone number as typed, without the 00 or +
// of an international one: "+44 (20) 7946-0018" is 442079460018.
func PhoneDigits(typed string) string {
	digits := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, typed)
	return strings.TrimPrefix(digits, "00")
}

// checkPhone gives what is wrong with a phone number, "" when nothing is. ITU-T
// E.164 allows 15 digits; fewer than 3 find nobody.
func checkPhone(typed string) string {
	n := len(PhoneDigits(typed))
	if strings.Trim(typed, "0123456789 +-()./\u00a0") != "" || n < 3 || n > 15 {
		return "Enter a phone number of 3 to 15 digits; spaces, + - ( ) . / may stand between them."
	}
	return ""
}

// checkEmail gives what is wrong with an e-mail address, "" when nothing is.
func checkEmail(typed string) string {
	a, err := mail.ParseAddress(typed)
	if err != nil || a.Address != typed || len(typed) > 254 {
		return "Enter an e-mail address such as name@example.org."
	}
	return ""
}

// SerialKey is what two writings of a serial number or tag have in common:
// letters and digits only, in capitals.
func SerialKey(serial string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToUpper(r)
		}
		return -1
	}, norm.NFKC.String(serial))
}

// Words splits a name into the words by which it is found: small letters,
// without accents, so that "muller" finds "Müller". Each word comes once.
func Words(name string) []string {
	folded := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFKD.String(name))
	var words []string
	seen := map[string]bool{}
	for _, w := range strings.FieldsFunc(folded, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if !seen[w] {
			seen[w] = true
			words = append(words, w)
		}
	}
	return words
}

// form collects messages by field while a form is checked.
type form map[string]string

// long refuses a text of more than max characters, or one that is not text.
func (f form) long(field, text string, max int) {
	if n := utf8.RuneCountInString(text); n > max {
		f[field] = fmt.Sprintf("Use at most %d characters; these are %d.", max, n)
	}
	if !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
		f[field] = "Use plain text."
	}
}

// need refuses an empty text.
func (f form) need(field, text, message string) {
	if strings.TrimSpace(text) == "" {
		f[field] = message
	}
}

// say notes a message that another check gave, if it gave one.
func (f form) say(field, message string) {
	if message != "" {
		f[field] = message
	}
}

// CheckReason refuses an empty or overlong reason, on field "reason".
func CheckReason(reason string) error {
	f := form{}
	f.long("reason", reason, maxReason)
	f.need("reason", reason, "Say why, in a few words.")
	return fault.Form(f)
}

// checkWords refuses a reason that is too long or no text; it may be empty.
func checkWords(field, reason string) error {
	f := form{}
	f.long(field, reason, maxReason)
	return fault.Form(f)
}
