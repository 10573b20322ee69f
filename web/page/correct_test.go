package page

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
	"ohmstead/web/ui"
)

func TestEveryPageOfATicketIsAccessible(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	accessible(t, "ticket", drawn(t, Ticket(ticketPage(st, staff.Owner))))
	in := TicketInput{Story: st, Site: shop.Site{Currency: "EUR"}, By: staff.Actor{Role: staff.Owner}, Now: friday,
		Refusal: RefusalOf(fault.Field("reason", "Say why.")), Typed: TypedStep{To: string(shop.WaitingForPart), Reason: "x"}}
	accessible(t, "ticket, a step refused", drawn(t, Ticket(NewTicket(dublin(), in))))
	for _, field := range append(shop.CorrectableFields(), "revision") {
		refused := RefusalOf(fault.Form(map[string]string{"new": "Wrong.", "reason": "Say why."}), "new", "reason")
		if field == "customer" {
			refused = RefusalOf(fault.Form(map[string]string{"customer": "Choose.", "reason": "Say why."}))
		}
		p := NewCorrect(dublin(), CorrectInput{Story: st, Currency: "EUR", Field: field, By: staff.Actor{Role: staff.Owner}, Refusal: refused,
			Kinds: []ui.Option{{Label: "unknown"}}})
		accessible(t, "correct "+field, drawn(t, Correct(p)))
	}
	accessible(t, "void", drawn(t, Void(NewVoid(dublin(), st, "", "EUR", RefusalOf(fault.Field("reason", "Say why.")), 0))))
}

func TestARefusedStepLiesOpenWithWhatWasTyped(t *testing.T) {
	t.Parallel()
	in := TicketInput{Story: sedgeStory(), Site: shop.Site{Currency: "EUR"}, By: staff.Actor{Role: staff.Bench}, Now: friday, SawOnly: 2,
		Refusal: RefusalOf(fault.New(fault.Conflict, "Somebody was first.")), Typed: TypedStep{To: string(shop.WaitingForPart), Reason: "module"}}
	doc := drawn(t, Ticket(NewTicket(dublin(), in)))
	open := pick(doc, "details.step[open]")
	if len(open) != 1 {
		t.Fatalf("%d steps lie open, want that which was refused", len(open))
	}
	reads(t, open[0], "summary", "Wait for a part")
	if v, _ := attribute(pick(open[0], "input[name=reason]")[0], "value"); v != "module" {
		t.Errorf("the reason holds %q", v)
	}
	if said := words(pick(doc, "[role=alert]")...); !strings.Contains(said, "Tobin moved it from “on the shelf” to “on the bench”.") || !strings.Contains(said, "Somebody was first.") {
		t.Errorf("the page says %q", said)
	}
}

func TestCorrectingSaysWhatSomebodyElseDidToTheField(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	for i, field := range []string{"bay", "limit", "bay"} {
		st.Entries = append(st.Entries, journal.Entry{TicketVersion: int64(4 + i), Kind: journal.Corrected, PersonName: "Ansa", TakenAt: friday,
			Change: journal.Change{Field: field, Old: "B3", New: "C" + numeral(int64(i))}})
	}
	typed := &TypedCorrection{New: "D4", Reason: "on the floor"}
	p := NewCorrect(dublin(), CorrectInput{Story: st, Currency: "EUR", Field: "bay", Typed: typed, SawOnly: 4})
	if p.Changed != "27 Nov 2026, 15:00: Ansa corrected the bay from “B3” to “C2”." {
		t.Errorf("since version 4 it says %q", p.Changed)
	}
	if p.Typed.New != "D4" || p.Typed.Reason != "on the floor" || p.Typed.Seen != "3" {
		t.Errorf("typed %+v", p.Typed)
	}
	if p := NewCorrect(dublin(), CorrectInput{Story: st, Currency: "EUR", Field: "complaint", SawOnly: 3}); p.Changed != "" {
		t.Errorf("another field says %q", p.Changed)
	}
}

// A state is corrected only to what the shop's rule lets the role say.
func TestStatesOfferedForCorrection(t *testing.T) {
	t.Parallel()
	for _, role := range staff.Roles() {
		for _, now := range shop.States() {
			by := staff.Actor{Role: role}
			var offered []string
			for _, o := range stateOptions(now, by) {
				offered = append(offered, o.Value)
			}
			for _, s := range shop.States() {
				allowed := shop.Correction{Field: "state", New: string(s)}.Allowed(by, now) == nil
				if s != now && slices.Contains(offered, string(s)) != allowed {
					t.Errorf("%s, %s to %s: offered %v, allowed %v", role, now, s, !allowed, allowed)
				}
			}
		}
	}
}

func TestTheRevisionsFormOpensWithTheBoardsOwn(t *testing.T) {
	t.Parallel()
	st := sedgeStory()
	id := uuid.New()
	st.Board.RevisionID = &id
	kinds := []ui.Option{{Label: "unknown"}, {Value: "rev:" + id.String(), Label: "SEDGE D"}}
	p := NewCorrect(dublin(), CorrectInput{Story: st, Field: "revision", Kinds: kinds})
	if p.Now != "SEDGE D" || p.Typed.New != "rev:"+id.String() || len(pick(drawn(t, Correct(p)), "option[selected]")) != 1 {
		t.Errorf("it says %q and holds %q", p.Now, p.Typed.New)
	}
	st.Entries = append(st.Entries, journal.Entry{TicketVersion: 4, Kind: journal.Revision})
	if !RevisionSetSince(st, 3) || RevisionSetSince(st, 4) {
		t.Error("whether the revision was set since is not told apart")
	}
}

func TestVoidingSaysWhatIsLost(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Void(NewVoid(dublin(), sedgeStory(), "twice", "EUR", Refusal{}, 2)))
	reads(t, doc, "h1", "Make ticket 2041 void?")
	said := words(doc)
	for _, want := range []string{"SEDGE D of Brook Farm, on the bench.", "This cannot be undone.", "Tobin moved it from", "Keep the ticket"} {
		if !strings.Contains(said, want) {
			t.Errorf("it does not say %q", want)
		}
	}
	if v, _ := attribute(pick(doc, "input[name=reason]")[0], "value"); v != "twice" {
		t.Errorf("the reason holds %q", v)
	}
}

func TestFieldTitlesNameEveryField(t *testing.T) {
	t.Parallel()
	seen := map[string]string{}
	for _, f := range append(shop.CorrectableFields(), "revision") {
		title := FieldTitle(f)
		if title == "" || strings.Contains(title, "_") || seen[title] != "" {
			t.Errorf("%s is called %q, as is %q", f, title, seen[title])
		}
		seen[title] = f
	}
}
