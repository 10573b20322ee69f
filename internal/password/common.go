package password

import "strings"

// Common tells whether a password is one of those that are guessed first. The
// list is short and our own: it holds the patterns that a shop's people type,
// not a corpus; length and the throttle at the door do the rest.
func Common(text string) bool {
	low := strings.ToLower(strings.TrimSpace(text))
	if sameRune(low) || strings.Contains(run, low) || strings.Contains(reversed(run), low) {
		return true
	}
	stem := strings.TrimRight(low, "0123456789!?.-_ ")
	return common[low] || common[stem]
}

const run = "01234567890123456789abcdefghijklmnopqrstuvwxyz"

var common = func() map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Fields(`password passwort passw0rd password1 letmein welcome admin
		administrator qwerty qwertyui qwertyuiop qwertz qwertzui qwertzuiop asdfghjk asdfghjkl yxcvbnm zxcvbnm
		iloveyou sunshine princess football baseball dragon monkey master shadow superman batman
		changeme secret default workshop werkstatt repair repairs ohmstead electronics abc123 a1b2c3d4 1q2w3e4r
		1qaz2wsx q1w2e3r4 trustno1 starwars computer internet service servis owner technician bench`) {
		out[w] = true
	}
	return out
}()

func sameRune(s string) bool {
	for _, r := range s {
		if r != []rune(s)[0] {
			return false
		}
	}
	return true
}

func reversed(s string) string {
	b := []byte(s)
	for i, j := 0, len(b)-1; i < j; i, j = i+1, j-1 {
		b[i], b[j] = b[j], b[i]
	}
	return string(b)
}
