package postgres

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/internal/evidence"
	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// saboteur lets the nth statement from now fail as if the request had gone, the
// commit included, before it reaches the server.
type saboteur struct{ left atomic.Int64 }

func (s *saboteur) TraceQueryStart(ctx context.Context, _ *pgx.Conn, q pgx.TraceQueryStartData) context.Context {
	if strings.EqualFold(q.SQL, "rollback") || s.left.Add(-1) != 0 {
		return ctx
	}
	gone, cancel := context.WithCancel(ctx)
	cancel()
	return gone
}

func (s *saboteur) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

// sabotaged is a world whose statements can be made to fail.
func sabotaged(t *testing.T) (*world, *saboteur) {
	t.Helper()
	cfg := must(pgxpool.ParseConfig(pgtest.URL(t)))
	bad := &saboteur{}
	cfg.ConnConfig.Tracer = bad
	cfg.MaxConns = 2
	pool := must(pgxpool.NewWithConfig(t.Context(), cfg))
	t.Cleanup(pool.Close)
	return newWorldOn(t, pool), bad
}

// fingerprint sums up every table but those named.
func fingerprint(w *world, but ...string) string {
	w.t.Helper()
	ctx := w.t.Context()
	rows := must(w.pool.Query(ctx, `SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1`))
	var all strings.Builder
	for _, table := range must(pgx.CollectRows(rows, pgx.RowTo[string])) {
		if slices.Contains(but, table) {
			continue
		}
		var sum string
		ok(w.pool.QueryRow(ctx, `SELECT COALESCE(md5(string_agg(t::text, ',' ORDER BY t::text)), '') FROM `+table+` t`).Scan(&sum))
		fmt.Fprintf(&all, "%s %s\n", table, sum)
	}
	return all.String()
}

// attempts are use cases with what they need prepared; each succeeds when it is
// not disturbed.
func attempts(w *world) map[string]func(ctx context.Context) error {
	k := everything(w)
	spare := must(w.AddPerson(w.t.Context(), w.owner, "Pell", staff.Bench, "hash"))
	c := w.story(k).Customer
	free := w.takeIn(func(in *shop.Intake) { in.Serial = "900" })
	leaving := w.takeIn(func(in *shop.Intake) { in.Serial = "901" })
	reading := w.ohms(k, "R44", 1)
	must(w.StoreReadings(w.t.Context(), w.bench, k.ID, []evidence.Reading{reading}))
	finding := must(w.AddFinding(w.t.Context(), w.bench, evidence.Finding{TicketID: k.ID, Words: "x"}))
	over := must(w.AddOverrule(w.t.Context(), w.bench, evidence.Overrule{TicketID: k.ID, Part: "R44", Reason: "x"}))
	must(w.addLine(w.bench, free.ID, line("1", "5")))
	draft := w.story(free)
	d := w.revision("SEDGE", "F")
	token := staff.TokenHash("sabotage")
	drop := func(_ any, err error) error { return err }
	return map[string]func(ctx context.Context) error{
		"take in": func(ctx context.Context) error {
			return drop(w.TakeIn(ctx, w.desk, shop.Intake{Name: "Pim Quill", Phone: "912000999", Complaint: "dead", Serial: "902", RevisionID: &d.ID}))
		},
		"move":    func(ctx context.Context) error { return drop(w.Move(ctx, w.bench, k.ID, 999, shop.OnSoak, "")) },
		"correct": func(ctx context.Context) error { return drop(w.Correct(ctx, w.owner, free.ID, 999, everyFix(c.ID)...)) },
		"void":    func(ctx context.Context) error { return w.Void(ctx, w.desk, free.ID, 999, "twice") },
		"assign":  func(ctx context.Context) error { return drop(w.AssignRevision(ctx, w.bench, k.ID, d.ID, "axial")) },
		"strike":  func(ctx context.Context) error { return w.Strike(ctx, w.bench, k.ID, reading.ID, "x") },
		"proof":   func(ctx context.Context) error { return drop(w.StoreDeadProof(ctx, w.bench, w.proof(k, 0))) },
		"power": func(ctx context.Context) error {
			return w.StorePowerEvent(ctx, w.bench, evidence.PowerEvent{TicketID: k.ID})
		},
		"finding": func(ctx context.Context) error {
			return drop(w.AddFinding(ctx, w.bench, evidence.Finding{TicketID: k.ID, Words: "x"}))
		},
		"withdraw": func(ctx context.Context) error { return w.WithdrawFinding(ctx, w.bench, k.ID, finding.ID, "x") },
		"overrule": func(ctx context.Context) error {
			return drop(w.AddOverrule(ctx, w.bench, evidence.Overrule{TicketID: k.ID, ReadingID: &reading.ID, Verdict: evidence.RuledBad, Reason: "x"}))
		},
		"reconsider": func(ctx context.Context) error { return w.WithdrawOverrule(ctx, w.bench, k.ID, over.ID, "x") },
		"fitted": func(ctx context.Context) error {
			return drop(w.AddFitted(ctx, w.bench, evidence.Fitted{TicketID: k.ID, Part: "x"}))
		},
		"seen": func(ctx context.Context) error {
			return drop(w.AddSeen(ctx, w.bench, evidence.Seen{TicketID: k.ID, Part: "x", What: "y"}))
		},
		"a line after sending": func(ctx context.Context) error {
			return drop(w.SaveQuote(ctx, w.bench, k.ID, 999, "", []quote.Line{line("1", "1")}))
		},
		"send": func(ctx context.Context) error {
			return drop(w.SendQuote(ctx, w.desk, draft.Ticket.ID, draft.Ticket.Version))
		},
		"consent": func(ctx context.Context) error {
			return drop(w.RecordConsent(ctx, w.desk, quote.Consent{TicketID: k.ID, About: quote.AboutRepair, TextShown: "x", Who: "y",
				Answer: quote.NewLimit, Limit: &quote.Money{Minor: 9900, Currency: "EUR"}, Way: "phone"}))
		},
		"hand over": func(ctx context.Context) error {
			return drop(w.HandOver(ctx, w.desk, leaving.ID, leaving.Version, shop.HandOver{As: shop.ReturnedUnrepaired, To: "x", Text: "y"}))
		},
		"customer": func(ctx context.Context) error { return drop(w.SaveCustomer(ctx, w.desk, c)) },
		"profiles": func(ctx context.Context) error { return drop(w.SyncProfiles(ctx, shipped())) },
		"meter":    func(ctx context.Context) error { return drop(w.AddMeter(ctx, w.bench, "M-9", []byte("nine"))) },
		"person": func(ctx context.Context) error {
			return drop(w.AddPerson(ctx, w.owner, "Quist", staff.Bench, "hash"))
		},
		"password":   func(ctx context.Context) error { return w.SetPassword(ctx, w.owner, spare.ID, "other", nil) },
		"role":       func(ctx context.Context) error { return w.SetRole(ctx, w.owner, spare.ID, staff.FrontDesk) },
		"deactivate": func(ctx context.Context) error { return w.Deactivate(ctx, w.owner, spare.ID) },
		"session":    func(ctx context.Context) error { return drop(w.StartSession(ctx, w.desk.Person, token, nil)) },
	}
}

// everyFix corrects every field once.
func everyFix(customer uuid.UUID) (fixes []shop.Correction) {
	values := map[string]string{"promised_on": "2026-03-10", "limit": "777", "customer": customer.String(),
		"state": string(shop.OnShelf), "if_not_repaired": shop.WishScrap}
	for _, field := range shop.CorrectableFields() {
		value := values[field]
		if value == "" {
			value = "new"
		}
		fixes = append(fixes, shop.Correction{Field: field, New: value, Reason: "x"})
	}
	return fixes
}

// ASVS 5.0 V2.3.3: whichever statement of a use case fails, nothing of it is left.
func TestEveryUseCaseIsAllOrNothing(t *testing.T) {
	t.Parallel()
	w, bad := sabotaged(t)
	tries := attempts(w)
	for _, name := range slices.Sorted(maps.Keys(tries)) {
		before := fingerprint(w)
		failed := 0
		for n := int64(1); ; n++ {
			bad.left.Store(n)
			err := tries[name](t.Context())
			disturbed := bad.left.Load() <= 0
			bad.left.Store(0)
			if err == nil {
				if disturbed {
					t.Errorf("%s succeeded although statement %d failed", name, n)
				}
				break
			}
			if !disturbed {
				t.Errorf("%s, undisturbed: %v", name, err)
				break
			}
			failed++
			if after := fingerprint(w); after != before {
				t.Errorf("%s left something behind when statement %d failed", name, n)
				before = after
			}
		}
		if failed < 3 { // begin, one statement, commit
			t.Errorf("%s was disturbed only %d times", name, failed)
		}
		if fingerprint(w) == before {
			t.Errorf("%s changed nothing in the end", name)
		}
	}
}

// Readings come in two steps: what was kept stays, the rest is all or nothing,
// and sending again completes it.
func TestReadingsAreKeptThenAppliedWhole(t *testing.T) {
	t.Parallel()
	w, bad := sabotaged(t)
	k := w.move(w.takeIn(), shop.OnBench)
	batch := []evidence.Reading{w.ohms(k, "R12", 1), w.ohms(k, "R13", 2)}
	before := fingerprint(w, "inbound")
	for n := int64(1); ; n++ {
		bad.left.Store(n)
		_, err := w.StoreReadings(t.Context(), w.bench, k.ID, batch)
		bad.left.Store(0)
		if err == nil {
			break
		}
		if fingerprint(w, "inbound") != before {
			t.Fatalf("half a batch was applied when statement %d failed", n)
		}
		if n > 100 {
			t.Fatal(err)
		}
	}
	if st := w.story(k); len(st.Readings) != 2 || len(keptErrors(w)) != 0 {
		t.Errorf("%d readings, kept %q", len(st.Readings), keptErrors(w))
	}
}
