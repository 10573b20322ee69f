package postgres

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// branch opens a second shop of the company, with the same terms, and gives its
// owner.
func (w *world) branch() staff.Actor {
	w.t.Helper()
	by := w.owner
	by.Site, by.Person = must(uuid.NewV7()), must(uuid.NewV7())
	for _, sql := range []string{
		`INSERT INTO site (id, name, address, tz, locale, currency, created_at)
			SELECT $1, 'Fernmill Board Works', address, tz, locale, 'NOK', created_at FROM site WHERE id = $2`,
		`INSERT INTO setting SELECT $1, valid_from, taxes, labour_rate, examination_fee, credit_fee, guarantee_days,
			ask_percent, handling_volts, resistance_volts, danger_minutes, lifted_minutes FROM setting WHERE site_id = $2`,
	} {
		must(w.pool.Exec(w.t.Context(), sql, by.Site, w.owner.Site))
	}
	must(w.pool.Exec(w.t.Context(), `INSERT INTO person (id, site_id, name, name_key, role, password_hash, must_change_password, created_at)
		VALUES ($1, $2, 'Fern', 'fern', 'owner', 'x', false, now())`, by.Person, by.Site))
	return by
}

func TestEachShopCountsForItself(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	fern := w.branch()
	take := func(by staff.Actor, serial string) shop.Ticket {
		return must(w.TakeIn(t.Context(), by, shop.Intake{Name: "Orla Fenwick", Phone: "912345678", Complaint: "dead", Serial: serial}))
	}
	for i, by := range []staff.Actor{w.desk, fern, w.desk, fern, fern} {
		want := []int64{1, 1, 2, 2, 3}[i]
		if k := take(by, ""); k.Number != want || k.SiteID != by.Site {
			t.Errorf("ticket %d of %s, want %d", k.Number, k.SiteID, want)
		}
	}
	for _, c := range []struct {
		by   staff.Actor
		want []int64
	}{{w.desk, []int64{1, 2}}, {fern, []int64{1, 2, 3}}} {
		open, _, err := w.OpenTickets(t.Context(), c.by)
		if diff := cmp.Diff(c.want, numbers(open)); diff != "" || err != nil {
			t.Errorf("open: %v\n%s", err, diff)
		}
		if got := must(w.Find(t.Context(), c.by, "fenwick")); len(got) != len(c.want) {
			t.Errorf("found %v, want %v", numbers(got), c.want)
		}
	}
	if got := len(must(w.People(t.Context(), fern))); got != 1 {
		t.Errorf("the branch sees %d people", got)
	}
	k := must(w.TicketByNumber(t.Context(), fern, 1)).Ticket
	must(w.addLine(fern, k.ID, line("1", "5")))
	v := must(w.SendQuote(t.Context(), fern, k.ID, 99))
	if doc := must(w.Document(t.Context(), fern, "quote", 1)); v.Currency != "NOK" || doc.SiteID != fern.Site {
		t.Errorf("%s, %+v", v.Currency, doc)
	}
}

// A board moves between the shops of a company and is known in both.
func TestABoardIsKnownInEveryShop(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	fern := w.branch()
	first := w.takeIn(func(in *shop.Intake) { in.Serial = "417" })
	w.end(first)
	again := must(w.TakeIn(t.Context(), fern, shop.Intake{Name: "Orla", Phone: "912345678", Complaint: "again", Serial: "417"}))
	if again.BoardID != first.BoardID || again.ComebackOf == nil || *again.ComebackOf != first.ID || again.Number != 1 {
		t.Errorf("%+v", again)
	}
	st := must(w.TicketByID(t.Context(), fern, again.ID))
	if len(st.Before) != 1 || st.Before[0].ID != first.ID || st.Before[0].SiteID != first.SiteID {
		t.Errorf("%+v", st.Before)
	}
	// A number of the other shop would lead to a ticket of this one.
	if again.ComebackNumber != nil || st.Ticket.ComebackNumber != nil {
		t.Errorf("comeback of ticket %v, %v", again.ComebackNumber, st.Ticket.ComebackNumber)
	}
	_, err := w.TakeIn(t.Context(), w.desk, shop.Intake{Name: "Orla", Phone: "912345678", Complaint: "and again", Serial: "417", AskFirst: true})
	wantKind(t, "a board that is in the other shop", err, fault.Conflict)
	if !strings.Contains(fault.Text(err), "at Fernmill Board Works, as ticket 1 there") {
		t.Error(fault.Text(err))
	}
}
