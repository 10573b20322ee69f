package postgres

import (
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
	"ohmstead/internal/staff"
)

// outcomes gives what became of each reading.
func outcomes(list []evidence.Receipt) (out []evidence.Outcome) {
	for _, r := range list {
		out = append(out, r.Outcome)
	}
	return out
}

// keptErrors gives the reasons of what waits in the inbound record.
func keptErrors(w *world) (out []string) {
	must(0, w.within(w.t.Context(), "look", func(tx *tx) (err error) {
		out, err = column[string](w.t.Context(), tx, `SELECT error FROM inbound WHERE applied_at IS NULL ORDER BY received_at, id`)
		return err
	}))
	return out
}

func TestAReadingIsStoredAsItWasTaken(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	d := w.revision("SEDGE", "D")
	k := w.move(w.takeIn(func(in *shop.Intake) { in.RevisionID = &d.ID }), shop.OnBench)
	meter := must(w.AddMeter(t.Context(), w.bench, "M-1", []byte("meter")))
	device := must(w.AddDevice(t.Context(), w.bench, "Tablet", []byte("token")))
	at := w.clock.now().Add(-7 * time.Minute).In(time.FixedZone("", 3600))
	low, high, residue := 118_800.0, 121_200.0, 0.02
	full := evidence.Reading{ID: must(uuid.NewV7()), Stage: evidence.StageAfter, CheckKey: "k1", State: "cold", Measure: "resistance",
		Red: "a1", Black: "a2", Lifted: true, Swapped: true, Subject: evidence.SubjectNew, Typed: "agrees", Agrees: true,
		BandLow: &low, BandHigh: &high, Moving: "up", Residue: &residue, Condition: evidence.ConditionNotOnMetal,
		MeterVersionID: &meter, DeviceID: &device, DeviceSeq: 17, TakenAt: at, TakenOffset: 60}
	over := evidence.Reading{ID: must(uuid.NewV7()), State: "cold", Measure: "diode", Across: "D1", Typed: "OL", OverRange: true, TakenAt: w.clock.now()}
	not := evidence.Reading{ID: must(uuid.NewV7()), State: "cold", Measure: "diode", Across: "D2", Typed: "-", NotPossible: true, TakenAt: w.clock.now().Add(time.Second)}
	got := must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{full, over, not}))
	if diff := cmp.Diff([]evidence.Outcome{evidence.Stored, evidence.Stored, evidence.Stored}, outcomes(got)); diff != "" {
		t.Fatal(diff)
	}
	st := w.story(k)
	full.TicketID, full.PersonID, full.ProfileVersionID, full.ReceivedAt = k.ID, w.bench.Person, d.ProfileVersionID, w.clock.now()
	if diff := cmp.Diff(full, st.Readings[0]); diff != "" {
		t.Errorf("(-taken +stored):\n%s", diff)
	}
	if !st.Readings[1].OverRange || !st.Readings[2].NotPossible || st.Readings[1].Stage != evidence.StageBefore {
		t.Errorf("%+v", st.Readings[1:])
	}
	last := st.Entries[len(st.Entries)-1]
	if last.Kind != journal.Readings || last.Change.Note != "3 readings" || !last.TakenAt.Equal(at) || !last.ReceivedAt.Equal(w.clock.now()) {
		t.Errorf("journal: %+v", last)
	}
}

func TestSendingTwiceStoresOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	r := w.ohms(k, "R12", 120_000)
	other := r
	other.Typed = "121k"
	batch := []evidence.Reading{r, r, other}
	want := []evidence.Outcome{evidence.Stored, evidence.Already, evidence.Kept}
	if diff := cmp.Diff(want, outcomes(must(w.StoreReadings(t.Context(), w.bench, k.ID, batch)))); diff != "" {
		t.Error(diff)
	}
	version := w.story(k).Ticket.Version
	want[0] = evidence.Already
	again := must(w.StoreReadings(t.Context(), w.bench, k.ID, batch))
	if diff := cmp.Diff(want, outcomes(again)); diff != "" {
		t.Errorf("sent again: %s", diff)
	}
	if !strings.Contains(again[2].Text, "first one counts") {
		t.Errorf("%q", again[2].Text)
	}
	st := w.story(k)
	if len(st.Readings) != 1 || st.Readings[0].Typed != "x" || st.Ticket.Version != version {
		t.Errorf("%d readings, version %d after %d", len(st.Readings), st.Ticket.Version, version)
	}
	if kept := keptErrors(w); len(kept) != 1 || !strings.Contains(kept[0], "this id") {
		t.Errorf("kept: %q", kept)
	}
}

func TestTwoTabletsSendTheSameAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	var batch []evidence.Reading
	for range 20 {
		batch = append(batch, w.ohms(k, "R12", 120_000))
	}
	const senders = 4
	stored := make([]int, senders)
	var wg sync.WaitGroup
	for i := range senders {
		wg.Go(func() {
			receipts, err := w.StoreReadings(t.Context(), w.bench, k.ID, batch)
			if err != nil {
				t.Error(err)
			}
			for _, o := range outcomes(receipts) {
				switch o {
				case evidence.Stored:
					stored[i]++
				case evidence.Kept:
					t.Error("the same reading was taken for another one")
				}
			}
		})
	}
	wg.Wait()
	sum := 0
	for _, n := range stored {
		sum += n
	}
	if st := w.story(k); sum != len(batch) || len(st.Readings) != len(batch) {
		t.Errorf("%v of %d were stored, the ticket has %d", stored, len(batch), len(st.Readings))
	}
}

func TestNothingThatATabletSendsIsLost(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	good := w.ohms(k, "R12", 120_000)
	vague := w.ohms(k, "R13", 1)
	vague.Measure = ""
	nan := w.ohms(k, "R14", math.NaN())
	stranger := w.ohms(k, "R15", 1)
	unknown := uuid.New()
	stranger.MeterVersionID = &unknown
	nul := w.ohms(k, "R16", 1)
	nul.Typed = "\x00"
	late := w.ohms(k, "R17", 1)
	got := must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{good, vague, nan, stranger, nul, late}))
	want := []evidence.Outcome{evidence.Stored, evidence.Kept, evidence.Kept, evidence.Kept, evidence.Kept, evidence.Stored}
	if diff := cmp.Diff(want, outcomes(got)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for i, r := range got {
		if (r.Text == "") != (want[i] == evidence.Stored) {
			t.Errorf("receipt %d says %q", i, r.Text)
		}
	}
	if kept := keptErrors(w); len(kept) != 4 {
		t.Errorf("kept: %q", kept)
	}
	got = must(w.StoreReadings(t.Context(), w.bench, uuid.New(), []evidence.Reading{w.ohms(k, "R18", 1)}))
	if got[0].Outcome != evidence.Kept || len(keptErrors(w)) != 5 {
		t.Errorf("a reading of no ticket: %+v", got)
	}
	w.end(w.move(k, shop.ToHandOver))
	if got = must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{w.ohms(k, "R19", 1)})); got[0].Outcome != evidence.Stored {
		t.Errorf("a reading that came after the board had left: %+v", got)
	}
}

func TestWhoMaySendReadings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	_, err := w.StoreReadings(t.Context(), w.desk, k.ID, []evidence.Reading{w.ohms(k, "R12", 1)})
	wantKind(t, "the desk", err, fault.Forbidden)
	_, err = w.StoreReadings(t.Context(), w.bench, k.ID, make([]evidence.Reading, MaxBatch+1))
	wantKind(t, "too many", err, fault.Invalid)
	if got, err := w.StoreReadings(t.Context(), w.bench, k.ID, nil); err != nil || got != nil {
		t.Errorf("none: %v, %v", got, err)
	}
	// a tablet whose session has expired sends by itself, for who took the reading
	device := must(w.AddDevice(t.Context(), w.bench, "Tablet", []byte("token")))
	alone := staff.Actor{Site: w.bench.Site, Role: staff.Bench, Device: &device}
	r, nobody := w.ohms(k, "R12", 1), w.ohms(k, "R13", 1)
	r.PersonID = w.bench.Person
	got := must(w.StoreReadings(t.Context(), alone, k.ID, []evidence.Reading{nobody, r}))
	if diff := cmp.Diff([]evidence.Outcome{evidence.Kept, evidence.Stored}, outcomes(got)); diff != "" {
		t.Error(diff)
	}
	st := w.story(k)
	if last := st.Entries[len(st.Entries)-1]; last.PersonName != "Tobin" || *last.DeviceID != device || *st.Readings[0].DeviceID != device {
		t.Errorf("%+v", last)
	}
}

func TestAStruckReadingStays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	k := w.move(w.takeIn(), shop.OnBench)
	r := w.ohms(k, "R12", 120_000)
	must(w.StoreReadings(t.Context(), w.bench, k.ID, []evidence.Reading{r}))
	wantField(t, "no reason", w.Strike(t.Context(), w.bench, k.ID, r.ID, ""), "reason")
	wantKind(t, "by the desk", w.Strike(t.Context(), w.desk, k.ID, r.ID, "x"), fault.Forbidden)
	wantKind(t, "no such reading", w.Strike(t.Context(), w.bench, k.ID, uuid.New(), "x"), fault.NotFound)
	wantKind(t, "another ticket's", w.Strike(t.Context(), w.bench, w.takeIn().ID, r.ID, "x"), fault.NotFound)
	ok(w.Strike(t.Context(), w.bench, k.ID, r.ID, "probe on the solder mask"))
	wantKind(t, "twice", w.Strike(t.Context(), w.bench, k.ID, r.ID, "x"), fault.Conflict)
	st := w.story(k)
	want := &evidence.Strike{ReadingID: r.ID, Reason: "probe on the solder mask", PersonID: w.bench.Person, At: w.clock.now()}
	if diff := cmp.Diff(want, st.Readings[0].Struck); diff != "" || *st.Readings[0].Value != 120_000 {
		t.Errorf("%+v\n%s", st.Readings[0], diff)
	}
}
