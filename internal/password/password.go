// Package password turns passwords into argon2id hashes and checks them.
//
// It knows the hash, its parameters and how many may run at once; it does not
// know people or sessions. Parameters follow OWASP ASVS 5.0.0, appendix C:
// 19 MiB, two passes, one lane.
package password

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

const (
	memoryKiB = 19 * 1024
	passes    = 2
	lanes     = 1
	saltBytes = 16
	tagBytes  = 32
)

// MinLength and MaxLength bound a password in characters (ASVS 6.2.1, 6.2.9).
const (
	MinLength = 8
	MaxLength = 128
)

// atOnce caps the hashes that run at the same time: each takes 19 MiB and a
// core, and sign-in is open to everyone on the network.
var atOnce = make(chan struct{}, 2)

var encoding = base64.RawStdEncoding

// Hash makes a PHC string ($argon2id$v=19$m=…,t=…,p=…$salt$tag) of the
// password exactly as typed. It waits for a free place or for ctx.
func Hash(ctx context.Context, text string) (string, error) {
	salt := make([]byte, saltBytes)
	if _, err := rand.Read(salt); err != nil {
		return "", fmt.Errorf("password salt: %w", err)
	}
	release, err := enter(ctx)
	if err != nil {
		return "", err
	}
	defer release()
	tag := argon2.IDKey([]byte(text), salt, passes, memoryKiB, lanes, tagBytes)
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version,
		memoryKiB, passes, lanes, encoding.EncodeToString(salt), encoding.EncodeToString(tag)), nil
}

// Check tells whether text is the password behind a hash made by Hash. An
// empty hash costs the same time and never matches, so that an unknown name
// cannot be told from a wrong password by the clock.
func Check(ctx context.Context, hash, text string) (bool, error) {
	known := hash != ""
	if !known {
		hash = decoy
	}
	p, err := parse(hash)
	if err != nil {
		return false, err
	}
	release, err := enter(ctx)
	if err != nil {
		return false, err
	}
	defer release()
	tag := argon2.IDKey([]byte(text), p.salt, p.passes, p.memory, p.lanes, uint32(len(p.tag)))
	return subtle.ConstantTimeCompare(tag, p.tag) == 1 && known, nil
}

// decoy is the hash of nothing in particular, with today's parameters.
var decoy = fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memoryKiB, passes, lanes,
	encoding.EncodeToString(make([]byte, saltBytes)), encoding.EncodeToString(make([]byte, tagBytes)))

func enter(ctx context.Context) (release func(), err error) {
	select {
	case atOnce <- struct{}{}:
		return func() { <-atOnce }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

type parameters struct {
	memory, passes uint32
	lanes          uint8
	salt, tag      []byte
}

var errHash = errors.New("password hash is not an argon2id PHC string")

func parse(hash string) (parameters, error) {
	var p parameters
	parts := strings.Split(hash, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return p, errHash
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &p.memory, &p.passes, &p.lanes); err != nil {
		return p, errHash
	}
	var err error
	if p.salt, err = encoding.DecodeString(parts[4]); err != nil {
		return p, errHash
	}
	if p.tag, err = encoding.DecodeString(parts[5]); err != nil || len(p.tag) < 16 {
		return p, errHash
	}
	if p.passes == 0 || p.lanes == 0 || p.memory > 1<<20 {
		return p, errHash
	}
	return p, nil
}
