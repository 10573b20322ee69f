package postgres

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
)

func TestDeadProofsAreJudgedWhenStored(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	p := w.proof(k, 0.3)
	p.Result, p.HandlingLimit = evidence.DeadResistance, 1000 // a browser does not decide
	got := must(w.StoreDeadProof(t.Context(), w.bench, p))
	if got.Result != evidence.DeadHandling || got.HandlingLimit != 5 || got.ResistanceLimit != 0.1 || got.PersonID != w.bench.Person {
		t.Errorf("%+v", got)
	}
	tight := pay
	tight.HandlingVolts = 0.2
	w.clock.pass(time.Minute)
	ok(w.SaveShop(t.Context(), w.owner, quay, tight))
	if got := must(w.StoreDeadProof(t.Context(), w.bench, w.proof(k, 0.3))); got.Result != evidence.LowVolts || got.HandlingLimit != 0.2 {
		t.Errorf("under tighter limits: %+v", got)
	}
	half := w.proof(k, 0)
	half.AfterAt, half.AfterOK = nil, false
	if got := must(w.StoreDeadProof(t.Context(), w.bench, half)); got.Result != evidence.Unproven {
		t.Errorf("without the second proof: %+v", got)
	}
	st := w.story(k)
	if diff := cmp.Diff(got, st.DeadProofs[0]); diff != "" || len(st.DeadProofs) != 3 {
		t.Errorf("%d proofs\n%s", len(st.DeadProofs), diff)
	}
	if g := evidence.GateAt(w.clock.now(), []string{"C1"}, st.DeadProofs, st.Power, tight.Limits()); g.State == evidence.DeadResistance {
		t.Errorf("%+v", g)
	}
}

func TestDeadProofsAreStoredOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	p := w.proof(k, 0.05)
	p.ID = must(uuid.NewV7())
	first := must(w.StoreDeadProof(t.Context(), w.bench, p))
	again := must(w.StoreDeadProof(t.Context(), w.bench, p))
	if diff := cmp.Diff(first, again); diff != "" {
		t.Error(diff)
	}
	p.Volts = 0
	_, err := w.StoreDeadProof(t.Context(), w.bench, p)
	wantKind(t, "the same id with other volts", err, fault.Conflict)
	_, err = w.StoreDeadProof(t.Context(), w.bench, evidence.DeadProof{TicketID: k.ID})
	wantField(t, "nothing read", err, "part")
	_, err = w.StoreDeadProof(t.Context(), w.desk, w.proof(k, 0))
	wantKind(t, "by the desk", err, fault.Forbidden)
	if st := w.story(k); len(st.DeadProofs) != 1 || st.Ticket.Version != k.Version+1 {
		t.Errorf("%d proofs, version %d", len(st.DeadProofs), st.Ticket.Version)
	}
}

// The schema itself holds the rule, whatever a program writes.
func TestTheSchemaRefusesDeadWithoutProofs(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.takeIn()
	for name, c := range map[string]string{
		"no proof after":      `true, $1, NULL, true`,
		"failed proof after":  `true, $1, $1, false`,
		"failed proof before": `false, $1, $1, true`,
		"proved after":        `true, $1, $1::timestamptz - interval '1 s', true`,
	} {
		_, err := w.pool.Exec(t.Context(), `INSERT INTO dead_proof (before_ok, before_at, after_at, after_ok, read_at, id, ticket_id, part, volts,
				volts_swapped, handling_limit, resistance_limit, result, person_id, taken_at, received_at)
			SELECT `+c+`, $1, gen_random_uuid(), $2, 'C1', 0, 0, 5, 0.1, 'dead_handling', $3, $1, $1`, w.clock.now(), k.ID, w.bench.Person)
		if !violates(err, "23514", "") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestPowerClosesTheGate(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	must(w.StoreDeadProof(t.Context(), w.bench, w.proof(k, 0)))
	w.clock.pass(time.Minute)
	gate := func() evidence.GateState {
		st := w.story(k)
		return evidence.GateAt(w.clock.now(), []string{"C1"}, st.DeadProofs, st.Power, pay.Limits()).State
	}
	if got := gate(); got != evidence.DeadResistance {
		t.Fatalf("proved: %s", got)
	}
	on := evidence.PowerEvent{ID: must(uuid.NewV7()), TicketID: k.ID, On: true, State: "injected"}
	ok(w.StorePowerEvent(t.Context(), w.bench, on))
	ok(w.StorePowerEvent(t.Context(), w.bench, on)) // sent twice
	if got := gate(); got != evidence.LowVolts {
		t.Errorf("on low volts: %s", got)
	}
	w.clock.pass(time.Second)
	ok(w.StorePowerEvent(t.Context(), w.bench, evidence.PowerEvent{TicketID: k.ID, Note: "contact lost"}))
	if got := gate(); got != evidence.Unproven {
		t.Errorf("off again: %s", got)
	}
	st := w.story(k)
	if len(st.Power) != 2 || st.Power[1].Note != "contact lost" || st.Power[0].State != "injected" {
		t.Errorf("%+v", st.Power)
	}
	wantKind(t, "by the desk", w.StorePowerEvent(t.Context(), w.desk, on), fault.Forbidden)
}

func TestFindingsFittedAndSeen(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := everything(w)
	st := w.story(k)
	if len(st.Findings) != 2 || st.Findings[0].Part != "R12" || st.Findings[0].WithdrawnAt != nil || st.Findings[0].ConfirmedBy != w.bench.Person {
		t.Errorf("%+v", st.Findings)
	}
	if f := st.Findings[1]; f.WithdrawnAt == nil || f.WithdrawnReason != "it was the probe" {
		t.Errorf("%+v", f)
	}
	if len(st.Fitted) != 1 || st.Fitted[0].What != "120 k 1206" || len(st.Seen) != 1 || st.Seen[0].What != "cracked" {
		t.Errorf("%+v %+v", st.Fitted, st.Seen)
	}
	kinds := map[journal.Kind]int{}
	for i, e := range st.Entries {
		kinds[e.Kind]++
		if e.TicketVersion != int64(i+1) {
			t.Errorf("entry %d has version %d", i, e.TicketVersion)
		}
	}
	want := map[journal.Kind]int{journal.TakenIn: 1, journal.Moved: 1, journal.Power: 2, journal.DeadProof: 1, journal.Readings: 1,
		journal.Struck: 1, journal.Seen: 1, journal.Found: 2, journal.Withdrawn: 1, journal.Fitted: 1, journal.Overruled: 2, journal.Reconsidered: 1, journal.QuoteEdited: 1,
		journal.QuoteSent: 1, journal.Answered: 1, journal.Limit: 1}
	if diff := cmp.Diff(want, kinds); diff != "" {
		t.Errorf("journal (-want +got):\n%s", diff)
	}
}

func TestWorkIsStoredOnceAndOnlyWhenWhole(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	id := must(uuid.NewV7())
	for range 2 {
		must(w.AddFinding(t.Context(), w.bench, evidence.Finding{ID: id, TicketID: k.ID, Words: "cracked joint"}))
		must(w.AddFitted(t.Context(), w.bench, evidence.Fitted{ID: id, TicketID: k.ID, Part: "R12"}))
		must(w.AddSeen(t.Context(), w.bench, evidence.Seen{ID: id, TicketID: k.ID, Part: "C1", What: "bulged"}))
	}
	st := w.story(k)
	if len(st.Findings) != 1 || len(st.Fitted) != 1 || len(st.Seen) != 1 || st.Ticket.Version != k.Version+3 {
		t.Errorf("%d findings, %d fitted, %d seen, version %d", len(st.Findings), len(st.Fitted), len(st.Seen), st.Ticket.Version)
	}
	_, err := w.AddFinding(t.Context(), w.bench, evidence.Finding{TicketID: k.ID})
	wantField(t, "an empty finding", err, "words")
	_, err = w.AddFitted(t.Context(), w.bench, evidence.Fitted{TicketID: k.ID})
	wantField(t, "an empty part", err, "part")
	_, err = w.AddSeen(t.Context(), w.bench, evidence.Seen{TicketID: k.ID})
	wantField(t, "nothing seen", err, "what")
	_, err = w.AddSeen(t.Context(), w.bench, evidence.Seen{TicketID: uuid.New(), Part: "C1", What: "bulged"})
	wantKind(t, "on no ticket", err, fault.NotFound)
	wantKind(t, "withdraw nothing", w.WithdrawFinding(t.Context(), w.bench, k.ID, uuid.New(), "x"), fault.NotFound)
	wantField(t, "withdraw without a reason", w.WithdrawFinding(t.Context(), w.bench, k.ID, id, ""), "reason")
	ok(w.WithdrawFinding(t.Context(), w.bench, k.ID, id, "x"))
	wantKind(t, "withdraw twice", w.WithdrawFinding(t.Context(), w.bench, k.ID, id, "x"), fault.Conflict)
}

// A browser that goes back sends the old form's key with new words, or old words
// after something else has happened. Neither may pass for stored.
func TestAKeyUsedAgainForSomethingElseIsRefused(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k, other := w.move(w.takeIn(), shop.OnBench), w.takeIn()
	id := must(uuid.NewV7())
	finding := func(ticket uuid.UUID, words string) error {
		_, err := w.AddFinding(t.Context(), w.bench, evidence.Finding{ID: id, TicketID: ticket, Words: words})
		return err
	}
	fitted := func(ticket uuid.UUID, part string) error {
		_, err := w.AddFitted(t.Context(), w.bench, evidence.Fitted{ID: id, TicketID: ticket, Part: part})
		return err
	}
	seen := func(ticket uuid.UUID, part string) error {
		_, err := w.AddSeen(t.Context(), w.bench, evidence.Seen{ID: id, TicketID: ticket, Part: part, What: "bulged"})
		return err
	}
	power := func(ticket uuid.UUID, on bool) error {
		return w.StorePowerEvent(t.Context(), w.bench, evidence.PowerEvent{ID: id, TicketID: ticket, On: on, State: "live"})
	}
	for name, errs := range map[string][3]error{
		"finding": {finding(k.ID, "cracked joint"), finding(k.ID, "R13 open"), finding(other.ID, "cracked joint")},
		"fitted":  {fitted(k.ID, "R12"), fitted(k.ID, "R13"), fitted(other.ID, "R12")},
		"seen":    {seen(k.ID, "C1"), seen(k.ID, "C2"), seen(other.ID, "C1")},
		"power":   {power(k.ID, true), power(k.ID, false), power(other.ID, true)},
	} {
		ok(errs[0])
		wantKind(t, name+" with other words", errs[1], fault.Conflict)
		wantKind(t, name+" on another ticket", errs[2], fault.Conflict)
	}
	ok(w.WithdrawFinding(t.Context(), w.bench, k.ID, id, "the probe"))
	wantKind(t, "a finding that was withdrawn", finding(k.ID, "cracked joint"), fault.Conflict)
	w.clock.pass(time.Minute)
	ok(w.StorePowerEvent(t.Context(), w.bench, evidence.PowerEvent{TicketID: k.ID, State: "live"}))
	wantKind(t, "switched on again with the form of the first time", power(k.ID, true), fault.Conflict)
}
