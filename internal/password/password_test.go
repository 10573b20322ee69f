package password

import (
	"strings"
	"testing"
)

func TestCheckAgainstTheReferenceImplementation(t *testing.T) {
	t.Parallel()
	// Source: test vectors of the argon2 reference implementation (argon2id,
	// version 19), from memory; the first is "password", "somesalt", t 2, m 64 MiB, p 1.
	cases := []struct{ text, hash string }{
		{"password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"},
		{"differentpassword", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$C4TWUs9rDEvq7w3+J4umqA32aWKB1+DSiRuBfYxFj94"},
	}
	for _, c := range cases {
		ok, err := Check(t.Context(), c.hash, c.text)
		if err != nil || !ok {
			t.Errorf("Check(%q) = %v, %v; the reference accepts it", c.text, ok, err)
		}
		ok, err = Check(t.Context(), c.hash, c.text+" ")
		if err != nil || ok {
			t.Errorf("Check(%q with a space) = %v, %v; a password is verified exactly as typed", c.text, ok, err)
		}
	}
}

func TestHashUsesTheAgreedParametersAndASaltOfItsOwn(t *testing.T) {
	t.Parallel()
	const text = "Ωhm’s law, 64 characters and more are accepted without truncation!!"
	a, err := Hash(t.Context(), text)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Hash(t.Context(), text)
	if err != nil {
		t.Fatal(err)
	}
	if a == b {
		t.Error("two hashes of one password are equal: the salt is not random")
	}
	// OWASP ASVS 5.0.0 appendix C: t 2 needs m ≥ 19456 KiB.
	if !strings.HasPrefix(a, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("parameters: %s", a)
	}
	if ok, err := Check(t.Context(), a, text); err != nil || !ok {
		t.Errorf("Check of our own hash = %v, %v", ok, err)
	}
	if ok, _ := Check(t.Context(), a, text[:len(text)-1]); ok {
		t.Error("a shortened password passes: the text was truncated")
	}
}

func TestCheckOfNobodyNeverMatches(t *testing.T) {
	t.Parallel()
	if ok, err := Check(t.Context(), "", ""); ok || err != nil {
		t.Errorf("Check of an unknown person = %v, %v", ok, err)
	}
}

func TestCheckRefusesOtherHashes(t *testing.T) {
	t.Parallel()
	for _, hash := range []string{"x", "$2a$10$abc", "$argon2id$v=19$m=1,t=0,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc", "$argon2id$v=19$m=65536,t=2,p=1$!$CTFh", "$argon2id$v=18$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"} {
		if ok, err := Check(t.Context(), hash, "password"); ok || err == nil {
			t.Errorf("Check(%q) = %v, %v; want an error", hash, ok, err)
		}
	}
}

func TestCommon(t *testing.T) {
	t.Parallel()
	cases := map[string]bool{
		"password": true, "Password1!": true, "12345678": true, "87654321": true, "aaaaaaaa": true,
		"qwertz2024": true, "workshop1": true, "abcdefgh": true, "ohmstead": true,
		"four copper cats": false, "kettle-wire-73": false, "Rb7#pQx2": false,
	}
	for text, want := range cases {
		if got := Common(text); got != want {
			t.Errorf("Common(%q) = %v, want %v", text, got, want)
		}
	}
}
