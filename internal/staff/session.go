package staff

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"time"

	"github.com/google/uuid"
)

// Session is one signed-in browser. The database keeps only the token's hash.
type Session struct {
	ID         uuid.UUID
	Person     Person
	DeviceID   *uuid.UUID
	CreatedAt  time.Time
	LastSeenAt time.Time
	ExpiresAt  time.Time // absolute end, however busy the person is
}

// How long a session lives (ASVS 5.0 V7.3.1, V7.3.2: limits as documented).
const (
	IdleLimit     = 12 * time.Hour     // a working day without a click ends it
	AbsoluteLimit = 7 * 24 * time.Hour // sign in again every week
)

// NewToken makes a session's or device's secret: 256 random bits (ASVS 5.0
// V7.2.3 asks for 128), as text for a cookie.
func NewToken() string {
	var b [32]byte
	rand.Read(b[:]) // never fails since Go 1.24
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// TokenHash is what the database keeps of a token. A plain hash is enough: the
// token has too many bits to guess.
func TokenHash(token string) []byte {
	h := sha256.Sum256([]byte(token))
	return h[:]
}

// Audit is one entry of the append-only record of sign-ins and refusals.
type Audit struct {
	ID       uuid.UUID
	At       time.Time
	SiteID   *uuid.UUID
	PersonID *uuid.UUID // nil when nobody is known by that name
	Name     string     // as typed, cut to MaxName
	Kind     string     // "signed_in", "refused", "signed_out", "password", "role", "deactivated", "forbidden"
	Address  string     // where from
	Note     string
}
