package postgres

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
)

// What somebody overrules stands once, with the reason, until it is taken back;
// then it may be overruled anew.
func TestOverrules(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	k := everything(w)
	before := len(w.story(k).Overrules)
	part := evidence.Overrule{ID: must(uuid.NewV7()), TicketID: k.ID, Part: " R17 ", Reason: "lifted: 6.8 k"}
	for range 2 {
		must(w.AddOverrule(ctx, w.bench, part))
	}
	st := w.story(k)
	if n := len(st.Overrules); n != before+1 {
		t.Fatalf("%d overrulings more", n-before)
	}
	got := st.Overrules[len(st.Overrules)-1]
	if got.Part != "R17" || got.Reason != part.Reason || got.PersonID != w.bench.Person || got.WithdrawnAt != nil {
		t.Errorf("%+v", got)
	}
	other := part
	other.Reason = "because"
	_, err := w.AddOverrule(ctx, w.bench, other)
	wantKind(t, "the same form with other words", err, fault.Conflict)
	other.ID = must(uuid.NewV7())
	_, err = w.AddOverrule(ctx, w.bench, other)
	wantKind(t, "R17 is ruled out already", err, fault.Conflict)
	ok(w.WithdrawOverrule(ctx, w.bench, k.ID, part.ID, "it was R18"))
	wantKind(t, "taken back twice", w.WithdrawOverrule(ctx, w.bench, k.ID, part.ID, "again"), fault.Conflict)
	_, err = w.AddOverrule(ctx, w.bench, part)
	wantKind(t, "the old form after it was taken back", err, fault.Conflict)
	w.clock.pass(time.Second)
	must(w.AddOverrule(ctx, w.bench, other))
	if outs := evidence.RuledOut(w.story(k).Overrules); len(outs) != 1 || outs[0] != "R17" {
		t.Errorf("ruled out: %v", outs)
	}
}

func TestOverrulesNeedASubjectAndAReason(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	ctx := t.Context()
	k, elsewhere := everything(w), w.takeIn()
	reading := w.story(k).Readings[0].ID
	for field, o := range map[string]evidence.Overrule{
		"part":    {Reason: "x"},
		"reason":  {Part: "R1", Reason: " "},
		"verdict": {ReadingID: &reading, Verdict: "perhaps", Reason: "x"},
	} {
		o.TicketID = k.ID
		_, err := w.AddOverrule(ctx, w.bench, o)
		wantField(t, field, err, field)
	}
	_, err := w.AddOverrule(ctx, w.bench, evidence.Overrule{TicketID: elsewhere.ID, ReadingID: &reading, Verdict: evidence.RuledBad, Reason: "x"})
	wantKind(t, "a reading of another ticket", err, fault.NotFound)
	wantField(t, "without a reason", w.WithdrawOverrule(ctx, w.bench, k.ID, uuid.New(), ""), "reason")
	wantKind(t, "nothing like it", w.WithdrawOverrule(ctx, w.bench, k.ID, uuid.New(), "x"), fault.NotFound)
}
