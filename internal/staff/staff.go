// Package staff knows the people who work in the shop: their roles, what a role
// may do, how long they stay signed in. It knows no storage, no HTTP, no hashing
// of passwords and nothing of boards.
package staff

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"

	"ohmstead/internal/fault"
)

// Role is what a person does in the shop.
type Role string

// The roles. An owner may do whatever the others may.
const (
	FrontDesk Role = "front_desk"
	Bench     Role = "bench"
	Owner     Role = "owner"
)

// Roles lists every role in the order a form offers them.
func Roles() []Role { return []Role{FrontDesk, Bench, Owner} }

// Title gives the role in words.
func (r Role) Title() string {
	switch r {
	case FrontDesk:
		return "front desk"
	case Bench:
		return "technician"
	case Owner:
		return "owner"
	}
	return string(r)
}

// Valid tells whether r is one of the roles.
func (r Role) Valid() bool { return r == FrontDesk || r == Bench || r == Owner }

// Person is somebody who works here. People are never deleted, only
// deactivated: what they did keeps their name.
type Person struct {
	ID                 uuid.UUID
	SiteID             uuid.UUID
	Name               string // unique, whatever the case
	Role               Role
	PasswordHash       string // argon2id, in PHC form
	MustChangePassword bool   // set by the owner's first password
	CreatedAt          time.Time
	DeactivatedAt      *time.Time
}

// Active tells whether the person may sign in.
func (p Person) Active() bool { return p.DeactivatedAt == nil }

// Actor says who does something, in which shop and at which device.
type Actor struct {
	Person uuid.UUID
	Site   uuid.UUID
	Name   string
	Role   Role
	Device *uuid.UUID // nil: a browser without its own token
}

// Actor gives the person as the one who acts.
func (p Person) Actor() Actor {
	return Actor{Person: p.ID, Site: p.SiteID, Name: p.Name, Role: p.Role}
}

// May refuses with fault.Forbidden what the actor's role may not do.
func (a Actor) May(what Action) error {
	if Can(a.Role, what) {
		return nil
	}
	return fault.New(fault.Forbidden, "A %s may not %s. Ask the owner.", a.Role.Title(), what)
}

// MaxName is the longest name of a person, in characters.
const MaxName = 80

// NameKey is what two writings of a name have in common: small letters, single
// spaces, no signs that cannot be seen. Whatever is typed, it stays short.
func NameKey(name string) string {
	key := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cf, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFKC.String(strings.Join(strings.Fields(name), " ")))
	if r := []rune(key); len(r) > 4*MaxName {
		return string(r[:4*MaxName])
	}
	return key
}

// CheckName refuses an empty or overlong name and gives it back trimmed.
func CheckName(name string) (string, error) {
	name = strings.Join(strings.Fields(name), " ")
	switch {
	case name == "":
		return "", fault.Field("name", "Enter a name.")
	case !utf8.ValidString(name) || strings.ContainsFunc(name, unseen):
		return "", fault.Field("name", "Use letters, digits and signs only.")
	case utf8.RuneCountInString(name) > MaxName:
		return "", fault.Field("name", "Use at most %d characters.", MaxName)
	}
	return name, nil
}

// unseen tells what no name holds: control characters, and signs that change how
// the letters around them are shown. Some scripts need the two joiners.
func unseen(r rune) bool {
	const nonJoiner, joiner = '\u200c', '\u200d'
	return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) && r != nonJoiner && r != joiner
}
