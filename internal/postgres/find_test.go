package postgres

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// numbers gives the tickets' numbers in the order of a list.
func numbers(list []shop.Summary) (out []int64) {
	for _, s := range list {
		out = append(out, s.Number)
	}
	return out
}

func TestFind(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	take := func(name, phone, serial string) shop.Ticket {
		w.clock.pass(time.Hour)
		return w.takeIn(func(in *shop.Intake) { in.Name, in.Phone, in.Serial = name, phone, serial })
	}
	gone := take("Orla Fenwick", "+351 912 345 678", "SG-00417")
	w.end(gone)
	take("Jörg Müller", "0049 30 5550 1234", "HT2-88")
	take("Fen Pumps", "912 000 111", "SG-00418")
	day := time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)
	w.clock.pass(time.Hour)
	w.takeIn(func(in *shop.Intake) {
		in.Name, in.Phone, in.Serial, in.OwnTag, in.Bay = "Orla Fenwick", "912345678", "SG-00417", "LQ88", "B3"
		in.RevisionID, in.PromisedOn = &d.ID, &day
	})
	for _, c := range []struct {
		query string
		want  []int64
	}{
		{"#2", []int64{2}}, {"2", []int64{2}}, {"99", nil},
		{"912", []int64{4, 3}}, {"912345678", []int64{4, 1}}, {"5678", []int64{4, 1}}, {"0912 345 678", []int64{4, 1}},
		{"+49 30 5550", []int64{2}}, {"1234", []int64{2}}, {"030 5550 1234", []int64{2}},
		{"sg00417", []int64{4, 1}}, {"SG-0041", []int64{4, 3, 1}}, {"lq 88", []int64{4, 1}},
		{"fen", []int64{4, 3, 1}}, {"fenwick orla", []int64{4, 1}}, {"muller", []int64{2}}, {"MÜLLER", []int64{2}}, {"orla pumps", nil},
		{"enwick", nil}, {"x", nil}, {"", nil}, {"%", nil}, {"http://shop.lan/tickets/3", []int64{3}},
	} {
		got, err := w.Find(t.Context(), w.desk, c.query)
		if diff := cmp.Diff(c.want, numbers(got)); diff != "" || err != nil {
			t.Errorf("Find(%q): %v\n%s", c.query, err, diff)
		}
	}
	got := must(w.Find(t.Context(), w.desk, "#4"))[0]
	want := shop.Summary{ID: got.ID, SiteID: w.desk.Site, Number: 4, State: shop.TakenIn, Complaint: "pump does not start", StateSince: w.clock.now(), CustomerID: got.CustomerID,
		CustomerName: "Orla Fenwick", PhoneDigits: "912345678", FamilyName: "SEDGE", RevisionName: "D", Serial: "SG-00417",
		Bay: "B3", PromisedOn: &day, TakenInAt: w.clock.now(), Comeback: true, Version: 1}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	stranger := w.desk
	stranger.Site = uuid.New()
	if got := must(w.Find(t.Context(), stranger, "912345678")); len(got) != 0 {
		t.Errorf("another shop finds %v", numbers(got))
	}
	_, err := w.TicketByNumber(t.Context(), stranger, 4)
	wantKind(t, "another shop reads", err, fault.NotFound)
}

func TestFindCustomers(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	c := must(w.SaveCustomer(t.Context(), w.desk, shop.Customer{Name: "Orla Fenwick", Phone: "+351 912 345 678"}))
	for range 25 {
		must(w.SaveCustomer(t.Context(), w.desk, shop.Customer{Name: "Pump Hire", Phone: "930000000"}))
	}
	for query, want := range map[string]int{"orla": 1, "fenw": 1, "5678": 1, "pump": 20, "9300": 20, "nobody": 0, "p": 0, "12": 0} {
		if got := must(w.FindCustomers(t.Context(), query)); len(got) != want {
			t.Errorf("%q finds %d, want %d", query, len(got), want)
		}
	}
	seen := c
	c.Name, c.Phone = "Orla Quill", "911111111"
	c = must(w.SaveCustomer(t.Context(), w.desk, c))
	if len(must(w.FindCustomers(t.Context(), "fenwick"))) != 0 || len(must(w.FindCustomers(t.Context(), "5678"))) != 0 {
		t.Error("a customer is found by what they are no longer called")
	}
	if diff := cmp.Diff([]shop.Customer{c}, must(w.FindCustomers(t.Context(), "quill orla"))); diff != "" {
		t.Error(diff)
	}
	_, err := w.SaveCustomer(t.Context(), w.desk, seen)
	wantKind(t, "saved over somebody's change", err, fault.Conflict)
	_, err = w.SaveCustomer(t.Context(), w.desk, shop.Customer{})
	wantField(t, "nobody", err, "name")
	_, err = w.Customer(t.Context(), uuid.New())
	wantKind(t, "no such customer", err, fault.NotFound)
	if got := must(w.Customer(t.Context(), c.ID)); got.Version != 2 {
		t.Errorf("%+v", got)
	}
}

func TestOpenTickets(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	a, b, c, d := w.takeIn(), w.takeIn(), w.takeIn(), w.takeIn()
	w.move(a, shop.OnBench, shop.ToHandOver)
	w.move(b, shop.OnBench)
	w.end(c)
	w.move(d, shop.OnBench)
	for _, x := range []struct {
		states []shop.State
		want   []int64
	}{
		{nil, []int64{2, 4, 1}},
		{[]shop.State{shop.ToHandOver, shop.OnBench}, []int64{1, 2, 4}},
		{[]shop.State{shop.OnSoak}, nil},
		{[]shop.State{shop.ReturnedUnrepaired}, nil},
	} {
		got, more, err := w.OpenTickets(t.Context(), w.bench, x.states...)
		if diff := cmp.Diff(x.want, numbers(got)); diff != "" || more || err != nil {
			t.Errorf("%v: more %v, %v\n%s", x.states, more, err, diff)
		}
	}
}

// crowd fills a shop with customers, boards and tickets, in one go.
func crowd(t *testing.T, s *Store, by staff.Actor, n int) {
	t.Helper()
	for _, sql := range []string{
		`INSERT INTO customer (id, name, phone, phone_digits, email, note, version, created_at)
			SELECT gen_random_uuid(), 'Quill ' || i, '', (910000000 + i * 7919 % 89999999)::text, '', '', 1, now() FROM generate_series(1, $1) i`,
		`INSERT INTO customer_word (word, customer_id) SELECT w, id FROM customer, unnest(string_to_array(lower(name), ' ')) w WHERE $1 > 0`,
		`INSERT INTO board (id, serial, serial_key, own_tag, tag_key, created_at)
			SELECT gen_random_uuid(), '', 'SG' || lpad(i::text, 6, '0'), '', '', now() FROM generate_series(1, $1) i`,
		`INSERT INTO ticket (id, site_id, number, board_id, customer_id, state, state_since, bay, currency, complaint, when_happens,
				indication, condition, accessories, touched_before, if_not_repaired, version, taken_in_at)
			SELECT gen_random_uuid(), s.id, b.n, b.id, c.id, (ARRAY['taken_in', 'on_the_shelf', 'on_the_bench', 'to_be_handed_over'])[1 + b.n % 4],
				now(), '', 'EUR', 'x', '', '', '', '', '', '', 1, now() - b.n * interval '1 hour'
			FROM site s, (SELECT row_number() OVER () n, id FROM board) b JOIN (SELECT row_number() OVER () n, id FROM customer) c ON c.n = b.n
			WHERE b.n <= $1`,
		`UPDATE ticket SET state = 'handed_over' WHERE number > $1 / 20`,
		`INSERT INTO reading (id, ticket_id, stage, check_key, state, measure, red, black, across, lifted, swapped, subject, typed, value, over_range,
				agrees, moving, condition, not_possible, person_id, device_seq, taken_at, taken_offset, received_at)
			SELECT gen_random_uuid(), t.id, 'before', 'k', 'cold', 'resistance', '', '', 'R1', false, false, '', '1', 1, false, false, '', '', false,
				p.id, 0, now(), 0, now() FROM ticket t, (SELECT id FROM person LIMIT 1) p WHERE $1 > 0`,
		`INSERT INTO ticket_event (id, ticket_id, ticket_version, kind, change, person_id, taken_at, received_at)
			SELECT gen_random_uuid(), t.id, 1, 'taken_in', '{}', p.id, now(), now() FROM ticket t, (SELECT id FROM person LIMIT 1) p WHERE $1 > 0`,
	} {
		if _, err := s.pool.Exec(t.Context(), sql, n); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
	}
	if _, err := s.pool.Exec(t.Context(), `ANALYZE`); err != nil {
		t.Fatal(err)
	}
}

// bigTables are those that grow with the years; none may be read from end to end.
// joined is the same where up to 500 rows are joined to customers and boards: as
// long as those are few, the server rightly reads them whole.
var (
	bigTables = regexp.MustCompile(`Seq Scan on (customer|customer_word|board|ticket|ticket_event|reading)\b`)
	joined    = regexp.MustCompile(`Seq Scan on (customer_word|ticket|ticket_event|reading)\b`)
)

// The plans are those of prepared statements after many calls, when the server
// takes its generic plan: the one in which LIKE would lose its index.
func TestListsUseTheirIndexes(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	const many = 20_000
	crowd(t, w.Store, w.owner, many)
	for _, c := range []struct {
		name, sql string
		params    int
		index     string
		never     *regexp.Regexp
	}{
		{"open tickets", openSQL, 3, "ticket_open", joined},
		{"phone", phoneSQL, 3, "customer_by_phone_end", bigTables},
		{"name", wordSQL, 5, "customer_word_pkey", bigTables},
		{"serial", serialSQL, 3, "board_by_serial", bigTables},
		{"found tickets", hitSQL, 5, "ticket_by_customer", bigTables},
		{"a ticket", ticketSelect + `WHERE t.site_id = $1 AND t.number = $2`, 2, "ticket_site_id_number_key", bigTables},
		{"journal", `SELECT * FROM ticket_event WHERE ticket_id = $1 ORDER BY ticket_version LIMIT $2`, 2, "ticket_event_ticket_id_ticket_version_key", bigTables},
		{"readings", `SELECT * FROM reading WHERE ticket_id = $1 ORDER BY taken_at, id LIMIT $2`, 2, "reading_by_ticket", bigTables},
		{"a board's tickets", summarySelect + ` FROM ticket t ` + summaryJoins + ` WHERE t.board_id = $1 AND t.id <> $2 AND t.voided_at IS NULL
			ORDER BY t.taken_in_at DESC, t.id DESC LIMIT $3`, 3, "ticket_by_board", bigTables},
	} {
		plan := explain(t, w.Store, c.sql, c.params)
		if !strings.Contains(plan, c.index) || c.never.MatchString(plan) {
			t.Errorf("%s does not go by %s:\n%s", c.name, c.index, plan)
		}
	}
	// the check can fail: this is what would have happened
	if plan := explain(t, w.Store, `SELECT id FROM board WHERE serial_key <> '' AND serial_key LIKE $1`, 1); !bigTables.MatchString(plan) {
		t.Errorf("LIKE keeps its index nowadays, the ranges may go:\n%s", plan)
	}
	list, more, err := w.OpenTickets(t.Context(), w.desk)
	if err != nil || !more || len(list) != maxOpen {
		t.Errorf("%d of %d open tickets, more %v, %v", len(list), many/20, more, err)
	}
	if got := must(w.Find(t.Context(), w.desk, "quill")); len(got) != maxHits {
		t.Errorf("%d found", len(got))
	}
}

// explain gives the generic plan of a statement with n parameters, which does not
// depend on their values.
func explain(t *testing.T, s *Store, sql string, n int) string {
	t.Helper()
	var plan []string
	must(0, s.within(t.Context(), "explain", func(tx *tx) (err error) {
		nulls := strings.TrimSuffix(strings.Repeat("NULL, ", n), ", ")
		for _, set := range []string{`SET LOCAL plan_cache_mode = force_generic_plan`, `PREPARE q AS ` + sql} {
			if _, err := tx.Conn().PgConn().Exec(t.Context(), set).ReadAll(); err != nil {
				return err
			}
		}
		results, err := tx.Conn().PgConn().Exec(t.Context(), `EXPLAIN EXECUTE q(`+nulls+`)`).ReadAll()
		for _, row := range results[0].Rows {
			plan = append(plan, string(row[0]))
		}
		_, _ = tx.Conn().PgConn().Exec(t.Context(), `DEALLOCATE q`).ReadAll()
		return err
	}))
	return strings.Join(plan, "\n")
}

// Whoever listens hears of every change, with the version that it made.
func TestChangesAreAnnounced(t *testing.T) {
	t.Parallel()
	pool := pgtest.DB(t)
	s := New(pool)
	owner := must(s.FirstOwner(t.Context(), quay, pay, "Ansa", "hash")).Actor()
	conn := must(pool.Acquire(t.Context()))
	defer conn.Release()
	must(conn.Exec(t.Context(), `LISTEN ticket`))
	k := must(s.TakeIn(t.Context(), owner, shop.Intake{Name: "Orla", Phone: "912345678", Complaint: "dead"}))
	must(s.Move(t.Context(), owner, k.ID, 1, shop.OnShelf, ""))
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	var heard []string
	for range 2 {
		heard = append(heard, must(conn.Conn().WaitForNotification(ctx)).Payload)
	}
	if want := []string{fmt.Sprintf("%s 1", k.ID), fmt.Sprintf("%s 2", k.ID)}; !slices.Equal(heard, want) {
		t.Errorf("heard %v, want %v", heard, want)
	}
}
