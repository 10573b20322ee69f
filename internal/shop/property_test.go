package shop

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// anyFacts draws what may be known when somebody wants to move a ticket.
func anyFacts(t *rapid.T) Facts {
	return Facts{
		Reason: rapid.SampledFrom([]string{"", " ", "because"}).Draw(t, "reason"),
		Yes:    rapid.Bool().Draw(t, "yes"), No: rapid.Bool().Draw(t, "no"),
		ScrapYes: rapid.Bool().Draw(t, "scrap"), Slip: rapid.Bool().Draw(t, "slip"),
	}
}

// A step is taken exactly when the table has it, the role may, and all it needs
// is there; knowing more never closes a way.
func TestStepsFollowTheTable(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		from, to := rapid.SampledFrom(States()).Draw(t, "from"), rapid.SampledFrom(States()).Draw(t, "to")
		by := actor(rapid.SampledFrom(append(staff.Roles(), "guest")).Draw(t, "role"))
		f := anyFacts(t)
		i := slices.IndexFunc(transitions(), func(tr Transition) bool { return tr.From == from && tr.To == to })
		err := Step(by, from, to, f)
		if i < 0 {
			if fault.KindOf(err) != fault.Conflict {
				t.Fatalf("%s to %s: %v", from, to, err)
			}
			return
		}
		tr := transitions()[i]
		met := staff.Can(by.Role, tr.Who)
		for _, n := range tr.Needs {
			met = met && map[Need]bool{
				needReason: strings.TrimSpace(f.Reason) != "", needYes: f.Yes, needAnswer: f.Yes || f.No,
				needScrapYes: f.ScrapYes, needSlip: f.Slip,
			}[n]
		}
		if met != (err == nil) {
			t.Errorf("%s to %s by %q with %+v: %v", from, to, by.Role, f, err)
		}
		all := Facts{Reason: "because", Yes: true, No: true, ScrapYes: true, Slip: true}
		if err == nil && Step(by, from, to, all) != nil {
			t.Errorf("%s to %s is closed by knowing more", from, to)
		}
		offered := slices.ContainsFunc(Steps(by, from), func(o Transition) bool { return o.To == to })
		if err == nil && !offered {
			t.Errorf("%s to %s may be taken and is not offered", from, to)
		}
	})
}

// A board leaves the shop only with a slip or with the customer's yes to
// scrapping it, whatever else is known.
func TestNoBoardLeavesWithoutPaper(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFacts(t)
		from := rapid.SampledFrom(States()).Draw(t, "from")
		if f.Slip = false; !f.ScrapYes {
			for _, to := range States() {
				if to.Ended() && Step(actor(staff.Owner), from, to, f) == nil {
					t.Errorf("%s to %s with %+v", from, to, f)
				}
			}
		}
	})
}

// However a customer writes a name or number, it is found by what another person
// types of it.
func TestWhatIsWrittenIsFound(t *testing.T) {
	t.Parallel()
	letters := rapid.StringMatching(`[A-Za-zÀ-ÖØ-öø-ÿ]{3,12}`)
	rapid.Check(t, func(t *rapid.T) {
		name := letters.Draw(t, "name")
		q := ParseQuery(rapid.SampledFrom([]string{name, strings.ToUpper(name), strings.ToLower(name), " " + name}).Draw(t, "typed"))
		stored := Words(name)
		if len(q.Words) != 1 || len(stored) != 1 || q.Words[0] != stored[0] && !strings.ContainsAny(name, "ßÿ") {
			t.Errorf("%q is stored as %q and looked for as %q", name, stored, q.Words)
		}
		phone := rapid.StringMatching(`[1-9][0-9]{6,12}`).Draw(t, "phone")
		spaced := phone[:3] + rapid.SampledFrom([]string{" ", "-", "/", " (", "."}).Draw(t, "sign") + phone[3:]
		if got := ParseQuery(spaced).Digits; got != phone {
			t.Errorf("%q is looked for as %q", spaced, got)
		}
	})
}

// The day of a moment is a day, at midnight UTC, at most one off from that of UTC.
func TestDaysAreDays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(0, 4_000_000_000).Draw(t, "second"), 0).UTC()
		site := Site{TZ: rapid.SampledFrom([]string{"Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu", "UTC", "Europe/Lisbon"}).Draw(t, "tz")}
		day := site.Day(at)
		if !day.Equal(day.Truncate(24*time.Hour)) || day.Sub(at) > 14*time.Hour || at.Sub(day) > 48*time.Hour {
			t.Errorf("%s in %s is %s", at, site.TZ, day)
		}
	})
}
