package evidence

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"
)

// A reading as tablets send it and as slips hold it; it has to be read for ever.
const frozenReading = `{"ID":"01a20fe5-73fe-7512-86e3-5c6bfd49dc93","TicketID":"01a20fe5-73f7-7a0c-aa1d-0b66b5c23ec0","Stage":"after",
"CheckKey":"k4","State":"cold","Measure":"resistance","Red":"","Black":"","Across":"R12","Lifted":true,"Swapped":false,"Subject":"new",
"Typed":"120k","Value":120000,"OverRange":false,"Agrees":false,"BandLow":null,"BandHigh":null,"Moving":"up","Residue":0.02,
"Condition":"not_on_metal","NotPossible":false,"MeterVersionID":null,"ProfileVersionID":null,
"PersonID":"01a20fe5-73fc-7ebf-b4db-2daf8811ca8b","DeviceID":null,"DeviceSeq":17,"TakenAt":"2026-03-04T09:00:00Z","TakenOffset":60,
"ReceivedAt":"2026-03-04T09:07:00Z","Struck":null}`

func TestReadingsAreReadForEver(t *testing.T) {
	t.Parallel()
	var got Reading
	if err := json.Unmarshal([]byte(frozenReading), &got); err != nil {
		t.Fatal(err)
	}
	want := Reading{ID: uuid.MustParse("01a20fe5-73fe-7512-86e3-5c6bfd49dc93"), TicketID: uuid.MustParse("01a20fe5-73f7-7a0c-aa1d-0b66b5c23ec0"),
		Stage: StageAfter, CheckKey: "k4", State: "cold", Measure: "resistance", Across: "R12", Lifted: true, Subject: SubjectNew,
		Typed: "120k", Value: number(120_000), Moving: "up", Residue: number(0.02), Condition: ConditionNotOnMetal,
		PersonID: uuid.MustParse("01a20fe5-73fc-7ebf-b4db-2daf8811ca8b"), DeviceSeq: 17,
		TakenAt: time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC), TakenOffset: 60, ReceivedAt: time.Date(2026, 3, 4, 9, 7, 0, 0, time.UTC)}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if err := got.Check(); err != nil {
		t.Error(err)
	}
}

// anyEvidence draws proofs and powered events of the last quarter of an hour.
func anyEvidence(t *rapid.T) (proofs []DeadProof, power []PowerEvent) {
	for range rapid.IntRange(0, 6).Draw(t, "proofs") {
		volts := rapid.SampledFrom([]float64{0, 0.05, 0.1, 0.2, 3, 5, 6, 59, 61, 320}).Draw(t, "volts")
		p := proved(rapid.SampledFrom([]string{"C1", "C2"}).Draw(t, "part"), volts, time.Duration(rapid.IntRange(31, 900).Draw(t, "age"))*time.Second)
		if rapid.IntRange(0, 4).Draw(t, "spoiled") == 0 {
			p.AfterOK = false
		}
		proofs = append(proofs, p)
	}
	for range rapid.IntRange(0, 2).Draw(t, "events") {
		power = append(power, PowerEvent{On: rapid.Bool().Draw(t, "on"), Hazardous: rapid.Bool().Draw(t, "hazardous"),
			TakenAt: *ago(time.Duration(rapid.IntRange(1, 900).Draw(t, "ago")) * time.Second)})
	}
	return proofs, power
}

// The gate against the rule said backwards: it opens only if for each store there
// is a good proof that nothing speaks against.
func TestTheGateOpensOnlyForAReason(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		proofs, power := anyEvidence(t)
		stores := []string{"C1", "C2"}
		g := GateAt(noon, stores, proofs, power, shipped)
		want := true
		for _, store := range stores {
			want = want && reason(store, proofs, power)
		}
		if open := g.State == DeadHandling || g.State == DeadResistance; open != want {
			t.Errorf("gate %s (%s); reasons: %v", g.State, g.Why, want)
		}
		if g.State == DeadResistance && g.Volts > MaxResistance || g.State == DeadHandling && (g.Volts > MaxHandling || g.Volts <= MaxResistance) {
			t.Errorf("%s at %g V", g.State, g.Volts)
		}
		if g.State == DeadHandling && !g.Until.After(noon) {
			t.Errorf("open and over since %s", g.Until)
		}
	})
}

// reason tells whether some proof of a store is good, less than ten minutes old,
// the store's last, and begun after the board was last powered or unpowered.
func reason(store string, proofs []DeadProof, power []PowerEvent) bool {
	for i, p := range proofs {
		good := p.Part == store && math.Abs(p.Volts) <= 5 && p.AfterOK && noon.Sub(p.ReadAt) < 10*time.Minute
		for j, o := range proofs {
			later := o.ReadAt.After(p.ReadAt) || o.ReadAt.Equal(p.ReadAt) && j > i
			if o.Part == store && later {
				good = false
			}
		}
		var last *PowerEvent
		for j := range power {
			if !p.BeforeAt.After(power[j].TakenAt) {
				good = false
			}
			if last == nil || !power[j].TakenAt.Before(last.TakenAt) {
				last = &power[j]
			}
		}
		for _, e := range power {
			if last != nil && e.TakenAt.Equal(last.TakenAt) && e.On {
				good = false
			}
		}
		if good {
			return true
		}
	}
	return false
}
