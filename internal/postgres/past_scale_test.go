package postgres

import (
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/shop/past"
)

// decade fills a shop with 10 000 tickets of eight families, the first of which has
// three in ten of them, half of these showing the same; each with four readings
// and entries, seven in ten with a finding, every second with a quote that was sent.
func decade(t *testing.T, w *world) {
	t.Helper()
	for _, sql := range []string{
		`INSERT INTO family (id, name, name_key, title, created_at)
			SELECT gen_random_uuid(), 'F' || i, 'f' || i, '', now() FROM generate_series(0, 7) i`,
		`INSERT INTO customer (id, name, phone, phone_digits, email, note, version, created_at) SELECT gen_random_uuid(), 'Quill', '', '', '', '', 1, now()`,
		`INSERT INTO board (id, serial, serial_key, own_tag, tag_key, family_id, created_at)
			SELECT gen_random_uuid(), '', '', '', '', f.id, now() FROM generate_series(1, 9000) i
			JOIN family f ON f.name = 'F' || CASE WHEN i % 10 < 3 THEN 0 ELSE 1 + i % 7 END`,
		`INSERT INTO ticket (id, site_id, number, board_id, customer_id, state, state_since, bay, currency, complaint, when_happens,
				indication, condition, accessories, touched_before, if_not_repaired, version, taken_in_at)
			SELECT gen_random_uuid(), s.id, n.n, b.id, c.id, CASE WHEN n.n > 9900 THEN 'on_the_shelf' ELSE 'handed_over' END,
				now(), '', 'EUR', 'x', '', (ARRAY['two blinks', '3: three blinks', '', 'Two Blinks'])[1 + n.n % 4], '', '', '', '', 1, now() - n.n * interval '1 hour'
			FROM site s, customer c, (SELECT row_number() OVER (ORDER BY id) - 1 AS n, id FROM board) b
			JOIN generate_series(1, 10000) n(n) ON n.n % 9000 = b.n AND (n.n <= 9900 OR n.n > 9900)`,
		`INSERT INTO finding (id, ticket_id, part, mode, words, confirmed_by, taken_at)
			SELECT gen_random_uuid(), t.id, 'R' || t.number % 17, 'open', '', p.id, now() FROM ticket t, (SELECT id FROM person LIMIT 1) p WHERE t.number % 10 < 7`,
		`INSERT INTO finding_withdrawal (finding_id, reason, person_id, at) SELECT f.id, 'x', f.confirmed_by, now() FROM finding f WHERE f.part = 'R5'`,
		`INSERT INTO reading (id, ticket_id, stage, check_key, state, measure, red, black, across, lifted, swapped, subject, typed, value, over_range,
				agrees, moving, condition, not_possible, person_id, device_seq, taken_at, taken_offset, received_at)
			SELECT gen_random_uuid(), t.id, 'before', 'k', 'cold', 'resistance', '', '', 'R1', false, false, '', '1', 1, false, false, '', '', false,
				p.id, 0, t.taken_in_at + i * interval '2 min', 0, now() FROM ticket t, generate_series(1, 4) i, (SELECT id FROM person LIMIT 1) p`,
		`INSERT INTO ticket_event (id, ticket_id, ticket_version, kind, change, person_id, taken_at, received_at)
			SELECT gen_random_uuid(), t.id, i, CASE WHEN i = 1 THEN 'taken_in' ELSE 'dead_proof' END, '{}', p.id, t.taken_in_at + i * interval '3 min', now()
			FROM ticket t, generate_series(1, 4) i, (SELECT id FROM person LIMIT 1) p`,
		`INSERT INTO quote_version (id, ticket_id, number, currency, note, created_at, created_by) SELECT gen_random_uuid(), t.id, 1, 'EUR', '', now(), p.id
			FROM ticket t, (SELECT id FROM person LIMIT 1) p WHERE t.number % 2 = 0`,
		`INSERT INTO quote_line (id, quote_id, position, kind, text, quantity, unit_price, tax_category, tax_rate)
			SELECT gen_random_uuid(), v.id, i, 'part', 'x', 1, 10, 'S', 23 FROM quote_version v, generate_series(1, 4) i`,
		`UPDATE quote_version SET sent_at = now(), sent_by = created_by`,
		`UPDATE ticket SET comeback_of = e.id FROM ticket e WHERE ticket.number % 20 = 0 AND e.number = ticket.number - 1`,
		`ANALYZE`,
	} {
		if _, err := w.pool.Exec(t.Context(), sql); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
	}
}

// At 10 000 tickets what a family's boards turned out to be is found by walking the
// newest tickets; nothing that grows is read from end to end. On a machine of two
// cores, by EXPLAIN ANALYZE, the largest family: 3.5 ms for the causes of 200 boards,
// 1.3 ms for ten stays; without the index 8 and 11 ms.
func TestThePastIsFoundByItsIndexes(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	decade(t, w)
	var big uuid.UUID
	ok(w.pool.QueryRow(t.Context(), `SELECT id FROM family WHERE name = 'F0'`).Scan(&big))
	showing := []any{big, w.owner.Site, uuid.New(), false, []string{"two blinks"}, "2:", past.Pause}
	never := regexp.MustCompile(`Seq Scan on (ticket|ticket_event|reading|quote_version|quote_line)\b`)
	for name, c := range map[string]struct {
		plan string
		by   []string
	}{
		"causes": {w.planned(causesSQL, big, w.owner.Site, uuid.New()), []string{"ticket_newest", "finding_by_ticket"}},
		"stays":  {w.planned(staysSQL, showing...), []string{"ticket_newest", "ticket_by_earlier", "reading_by_ticket"}},
		"stays, of any family": {explain(t, w.Store, staysSQL, len(showing)),
			[]string{"ticket_newest", "ticket_by_earlier", "reading_by_ticket", "quote_version_ticket_id_number_key"}},
	} {
		for _, index := range c.by {
			if !strings.Contains(c.plan, index) {
				t.Errorf("%s do not go by %s:\n%s", name, index, c.plan)
			}
		}
		if never.MatchString(c.plan) {
			t.Errorf("%s read a table from end to end:\n%s", name, c.plan)
		}
	}
	if plan := w.planned(strings.ReplaceAll(staysSQL, "t.taken_in_at DESC", "t.state_since DESC"), showing...); strings.Contains(plan, "ticket_newest") {
		t.Errorf("any plan goes by the index: this test cannot fail\n%s", plan)
	}
	causes := must(w.FamilyCauses(t.Context(), w.bench, big, uuid.New()))
	if causes.Boards() != past.MostBoards || causes.Of("R5") != 0 {
		t.Errorf("%d boards, R5 on %d", causes.Boards(), causes.Of("R5"))
	}
	like := past.Like{Family: big, Board: uuid.New(), Texts: []string{"TWO BLINKS"}, Prefix: "2:"}
	stays := must(w.LikeStays(t.Context(), w.bench, like))
	if len(stays) != past.MostStays {
		t.Fatalf("%d stays", len(stays))
	}
	for i, s := range stays {
		if !strings.EqualFold(s.Indication, "two blinks") || i > 0 && !stays[i-1].TakenInAt.After(s.TakenInAt) || s.Minutes == nil || *s.Minutes != 10 {
			t.Errorf("%d: %+v", i, s) // from the first reading, 2 min in, to the last entry, 12 min in
		}
	}
}

// planned is the plan of a statement for these values.
func (w *world) planned(sql string, args ...any) string {
	w.t.Helper()
	rows := must(w.pool.Query(w.t.Context(), `EXPLAIN `+sql, args...))
	return strings.Join(must(pgx.CollectRows(rows, pgx.RowTo[string])), "\n")
}
