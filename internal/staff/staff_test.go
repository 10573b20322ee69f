package staff

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
)

func TestWhoMayDoWhat(t *testing.T) {
	t.Parallel()
	all := []Action{TakeIn, WorkOnBoards, WriteQuotes, RecordAnswers, HandOver, VoidTickets, ManageProfiles, ManagePeople, ManageShop}
	may := map[Role][]Action{
		FrontDesk: {TakeIn, WriteQuotes, RecordAnswers, HandOver, VoidTickets},
		Bench:     {TakeIn, WorkOnBoards, WriteQuotes, RecordAnswers, HandOver, ManageProfiles},
		Owner:     all,
		"":        {},
		"guest":   {},
	}
	for role, list := range may {
		want := map[Action]bool{}
		for _, a := range list {
			want[a] = true
		}
		for _, a := range all {
			if Can(role, a) != want[a] {
				t.Errorf("%q may %s: %v", role, a, Can(role, a))
			}
			err := Actor{Role: role}.May(a)
			if (err == nil) != want[a] || err != nil && fault.KindOf(err) != fault.Forbidden {
				t.Errorf("%q, %s: %v", role, a, err)
			}
		}
	}
	if Can(Owner, "open the safe") {
		t.Error("an unknown action is allowed")
	}
	if len(allowed) != len(all) {
		t.Errorf("%d actions in the table, %d in this test", len(allowed), len(all))
	}
}

func TestRoles(t *testing.T) {
	t.Parallel()
	for _, r := range Roles() {
		if !r.Valid() || r.Title() == "" {
			t.Errorf("role %q", r)
		}
	}
	if Role("admin").Valid() {
		t.Error("an unknown role is valid")
	}
}

func TestNames(t *testing.T) {
	t.Parallel()
	if got, err := CheckName("  Mirela \t of the  Quay "); err != nil || got != "Mirela of the Quay" {
		t.Errorf("%q, %v", got, err)
	}
	if got, err := CheckName("می\u200cنا"); err != nil || got != "می\u200cنا" { // Persian needs the non-joiner
		t.Errorf("%q, %v", got, err)
	}
	for _, bad := range []string{"", " \n", "Ans\x00a", "\xff", "Ans\u200ba", "\u202easnA", strings.Repeat("ä", MaxName+1)} {
		if _, err := CheckName(bad); fault.Fields(err)["name"] == "" {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

// Two people whose names look the same would be one person to everybody who reads
// them, and one name in two writings two names to the throttle.
func TestNamesThatAreTheSame(t *testing.T) {
	t.Parallel()
	for _, other := range []string{"ansa byrne", " ANSA  Byrne ", "Ａｎｓａ Byrne", "An\u200bsa Byrne", "Ansa\u00a0Byrne", "\ufeffAnsa Byrne"} {
		if NameKey(other) != NameKey("Ansa Byrne") {
			t.Errorf("%q has the key %q", other, NameKey(other))
		}
	}
	if NameKey("Ansa") == NameKey("Ansá") {
		t.Error("accents are lost")
	}
	if n := len([]rune(NameKey(strings.Repeat("\ufdfa", MaxName)))); n > 4*MaxName { // one sign, eighteen letters
		t.Errorf("a key of %d characters", n)
	}
}

// ASVS 5.0 V7.2.3: at least 128 bits from a secure source.
func TestTokensAreLongAndOfTheirOwn(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for range 1000 {
		token := NewToken()
		if len(token) != 43 || seen[token] { // 256 bits in base64 without padding
			t.Fatalf("token %q", token)
		}
		seen[token] = true
	}
	// FIPS 180-4, the message "abc"
	want := []byte{0xba, 0x78, 0x16, 0xbf}
	if got := TokenHash("abc"); len(got) != 32 || !bytes.HasPrefix(got, want) {
		t.Errorf("hash %x", got)
	}
}

func TestActorOfAPerson(t *testing.T) {
	t.Parallel()
	p := Person{ID: uuid.New(), SiteID: uuid.New(), Name: "Pell", Role: Bench}
	a := p.Actor()
	if a.Person != p.ID || a.Site != p.SiteID || a.Role != Bench || a.Device != nil || !p.Active() {
		t.Errorf("%+v", a)
	}
}
