package web_test

import (
	"flag"
	"fmt"
	"net/http"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/staff"
	"ohmstead/web"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestAccessTable holds the table of routes against a copy that a person has
// read: opening a route to somebody takes two deliberate changes.
func TestAccessTable(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	for _, l := range web.RouteLines() {
		who := "anyone"
		if !l.Anyone {
			var names []string
			for _, r := range l.Roles {
				names = append(names, r.Title())
			}
			who = strings.Join(names, ", ")
		}
		fmt.Fprintf(&b, "%-4s %-48s %s\n", l.Method, l.Path, who)
	}
	const golden = "testdata/access.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), b.String()); d != "" {
		t.Errorf("who may use what has changed; read it, then run with -update:\n%s", d)
	}
}

var parameter = regexp.MustCompile(`\{[^}]+\}`)

// TestEveryRouteWithEveryRole walks the whole table over HTTP as nobody and as
// each of the three people.
func TestEveryRouteWithEveryRole(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	byRole := map[staff.Role]string{staff.FrontDesk: mirela, staff.Bench: tobin, staff.Owner: ansa}
	for _, l := range web.RouteLines() {
		path := parameter.ReplaceAllString(l.Path, "999999")
		if l.Anyone {
			if a := h.stranger().send(l.Method, path, "", nil); a.status == http.StatusForbidden {
				t.Errorf("%s %s: closed to a stranger, though open to anyone", l.Method, l.Path)
			}
			continue
		}
		if a := h.stranger().send(l.Method, path, "", nil); !atTheDoor(a) {
			t.Errorf("%s %s: a stranger gets status %d to %q, not the door", l.Method, l.Path, a.status, a.header.Get("Location"))
		}
		for role, name := range byRole {
			a := h.as(name).send(l.Method, path, "", nil)
			may := slices.Contains(l.Roles, role)
			if (a.status == http.StatusForbidden) == may {
				t.Errorf("%s %s as %s: status %d, allowed: %v", l.Method, l.Path, role.Title(), a.status, may)
			}
			if l.Path == "/sign-out" {
				continue // leads to the door on purpose
			}
			if may && (atTheDoor(a) || a.status >= 500) {
				t.Errorf("%s %s as %s: status %d to %q", l.Method, l.Path, role.Title(), a.status, a.header.Get("Location"))
			}
		}
	}
}

func atTheDoor(a *answer) bool {
	return a.status == http.StatusSeeOther && strings.HasPrefix(a.header.Get("Location"), "/sign-in")
}
