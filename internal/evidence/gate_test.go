package evidence

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ohmstead/internal/fault"
)

var (
	noon    = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	shipped = Limits{Handling: MaxHandling, Resistance: MaxResistance}
)

// ago gives a moment before noon.
func ago(d time.Duration) *time.Time {
	at := noon.Add(-d)
	return &at
}

// proved makes a complete proof read some time before noon, its two proofs of the
// meter half a minute before and after.
func proved(part string, volts float64, read time.Duration) DeadProof {
	return DeadProof{Part: part, Volts: volts, VoltsSwapped: -volts, ReadAt: *ago(read),
		BeforeAt: ago(read + 30*time.Second), BeforeOK: true, AfterAt: ago(read - 30*time.Second), AfterOK: true}
}

// Limits: handling 5 V and resistance 0.1 V are common practice; 60 V DC is where
// extra-low voltage ends (IEC 62368-1:2018, ES1).
func TestJudgeByVolts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		volts float64
		l     Limits
		want  GateState
	}{
		{0, shipped, DeadResistance}, {0.1, shipped, DeadResistance}, {-0.1, shipped, DeadResistance},
		{0.11, shipped, DeadHandling}, {5, shipped, DeadHandling}, {-5, shipped, DeadHandling},
		{5.01, shipped, LowVolts}, {60, shipped, LowVolts}, {60.1, shipped, Live}, {-323.6, shipped, Live},
		{3, Limits{Handling: 2, Resistance: 0.05}, LowVolts}, {0.08, Limits{Handling: 2, Resistance: 0.05}, DeadHandling},
		{7, Limits{Handling: 50, Resistance: 10}, LowVolts}, // looser limits than shipped do not count
		{0.2, Limits{Handling: 50, Resistance: 10}, DeadHandling},
		{0, Limits{}, DeadResistance}, {0.01, Limits{}, LowVolts}, // no limits: nothing but zero is dead
		{math.NaN(), shipped, Unproven}, {math.Inf(1), shipped, Live},
	} {
		p := proved("C1", c.volts, time.Minute)
		if got := Judge(p, c.l); got != c.want {
			t.Errorf("%g V under %+v: %s, want %s", c.volts, c.l, got, c.want)
		}
	}
	one := proved("C1", 0, time.Minute)
	one.VoltsSwapped = 30
	if got := Judge(one, shipped); got != LowVolts {
		t.Errorf("30 V one way round: %s", got)
	}
}

// Source: NFPA 70E, 120.5 (live, dead, live): a record is complete only with
// prove, measure, prove again; a proof missing or failing is "not proven", never safe.
func TestNothingIsDeadWithoutBothProofs(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(p *DeadProof){
		"no proof before":      func(p *DeadProof) { p.BeforeAt = nil },
		"no proof after":       func(p *DeadProof) { p.AfterAt = nil },
		"failed before":        func(p *DeadProof) { p.BeforeOK = false },
		"failed after":         func(p *DeadProof) { p.AfterOK = false },
		"proved too late":      func(p *DeadProof) { p.BeforeAt = ago(30 * time.Second) },
		"second proof earlier": func(p *DeadProof) { p.AfterAt = ago(2 * time.Minute) },
		"long before":          func(p *DeadProof) { p.BeforeAt = ago(12 * time.Minute) },
		"long after":           func(p *DeadProof) { p.AfterAt = ago(-11 * time.Minute) },
	} {
		p := proved("C1", 0, time.Minute)
		spoil(&p)
		if got := Judge(p, shipped); got != Unproven {
			t.Errorf("%s: %s", name, got)
		}
		p.Volts = 323.6
		if got := Judge(p, shipped); got != Live {
			t.Errorf("%s, and 323.6 V read: %s; high volts count in any case", name, got)
		}
	}
}

func TestGate(t *testing.T) {
	t.Parallel()
	on := func(hazardous bool, d time.Duration) PowerEvent {
		return PowerEvent{On: true, Hazardous: hazardous, TakenAt: *ago(d)}
	}
	off := func(d time.Duration) PowerEvent { return PowerEvent{TakenAt: *ago(d)} }
	incomplete := proved("C1", 0, time.Minute)
	incomplete.AfterAt = nil
	for _, c := range []struct {
		name   string
		stores []string
		proofs []DeadProof
		power  []PowerEvent
		want   GateState
	}{
		{"nothing known, nothing read", nil, nil, nil, Unproven},
		{"one store read", []string{"C1"}, []DeadProof{proved("C1", 0.05, time.Minute)}, nil, DeadResistance},
		{"no list of stores, one read", nil, []DeadProof{proved("C1", 0.3, 4*time.Minute)}, nil, DeadHandling},
		{"one of two stores", []string{"C1", "C2"}, []DeadProof{proved("C1", 0.05, time.Minute)}, nil, Unproven},
		{"the worse of two rules", []string{"C1", "C2"}, []DeadProof{proved("C1", 0.05, time.Minute), proved("C2", 3, time.Minute)}, nil, DeadHandling},
		{"a charged store nobody listed", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute), proved("C9", 80, time.Minute)}, nil, Live},
		{"ten minutes old", []string{"C1"}, []DeadProof{proved("C1", 0, 10*time.Minute)}, nil, Unproven},
		{"not quite ten minutes", []string{"C1"}, []DeadProof{proved("C1", 0, 10*time.Minute-time.Second)}, nil, DeadResistance},
		{"one of two too old", []string{"C1", "C2"}, []DeadProof{proved("C1", 0, 11*time.Minute), proved("C2", 0, time.Minute)}, nil, Unproven},
		{"from the future", []string{"C1"}, []DeadProof{proved("C1", 0, -2*time.Minute)}, nil, Unproven},
		{"climbed again", []string{"C1"}, []DeadProof{proved("C1", 0, 5*time.Minute), proved("C1", 1.2, time.Minute)}, nil, DeadHandling},
		{"read lower later", []string{"C1"}, []DeadProof{proved("C1", 1.2, 5*time.Minute), proved("C1", 0, time.Minute)}, nil, DeadResistance},
		{"the order stored does not matter", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute), proved("C1", 1.2, 5*time.Minute)}, nil, DeadResistance},
		{"a later incomplete one takes it back", []string{"C1"}, []DeadProof{proved("C1", 0, 5*time.Minute), incomplete}, nil, Unproven},
		{"powered", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute)}, []PowerEvent{on(true, 30*time.Second)}, Live},
		{"on low volts", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute)}, []PowerEvent{on(false, 30*time.Second)}, LowVolts},
		{"powered and off since", []string{"C1"}, []DeadProof{proved("C1", 0, 5*time.Minute)}, []PowerEvent{on(true, 4*time.Minute), off(2 * time.Minute)}, Unproven},
		{"proved anew after it", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute)}, []PowerEvent{on(true, 4*time.Minute), off(2 * time.Minute)}, DeadResistance},
		{"meter proved while it was on", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute)}, []PowerEvent{off(80 * time.Second)}, Unproven},
		{"on and off at once", nil, nil, []PowerEvent{off(time.Minute), on(true, time.Minute)}, Live},
		{"powered long ago and never off", []string{"C1"}, []DeadProof{proved("C1", 0, time.Minute)}, []PowerEvent{on(true, 5*time.Hour)}, Live},
	} {
		g := GateAt(noon, c.stores, c.proofs, c.power, shipped)
		if g.State != c.want || g.Why == "" {
			t.Errorf("%s: %s (%s), want %s", c.name, g.State, g.Why, c.want)
		}
	}
}

func TestGateSaysWhatItRestsOn(t *testing.T) {
	t.Parallel()
	g := GateAt(noon, []string{"C2", "C1"}, []DeadProof{proved("C1", 0.3, 4*time.Minute), proved("C2", 0.02, 2*time.Minute)}, nil, shipped)
	if g.Volts != 0.3 || !g.ReadAt.Equal(*ago(4 * time.Minute)) || !g.Until.Equal(*ago(-6 * time.Minute)) || len(g.Missing) != 0 {
		t.Errorf("%+v", g)
	}
	g = GateAt(noon, []string{"C2", "C1"}, nil, nil, shipped)
	if !slices.Equal(g.Missing, []string{"C1", "C2"}) || !strings.Contains(g.Why, "C1, C2") || !g.Until.IsZero() {
		t.Errorf("%+v", g)
	}
}

// Whatever is known, more volts, more age and a missing proof never make the
// gate allow more.
func TestTheGateNeverClaimsMore(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		stores := []string{"C1", "C2"}
		var proofs []DeadProof
		for _, part := range stores {
			volts := rapid.Float64Range(0, 400).Draw(t, "volts")
			if rapid.Bool().Draw(t, "low") {
				volts = rapid.Float64Range(0, 0.2).Draw(t, "low volts")
			}
			proofs = append(proofs, proved(part, volts, time.Duration(rapid.IntRange(1, 900).Draw(t, "seconds"))*time.Second))
		}
		before := GateAt(noon, stores, proofs, nil, shipped).State
		worse := slices.Clone(proofs)
		p := &worse[rapid.IntRange(0, 1).Draw(t, "which")]
		switch rapid.IntRange(0, 2).Draw(t, "how") {
		case 0:
			p.Volts += rapid.Float64Range(0, 100).Draw(t, "more")
		case 1:
			p.AfterOK = false
		case 2:
			p.Part = "C3"
		}
		after := GateAt(noon, stores, worse, nil, shipped).State
		dead := func(s GateState) int { return slices.Index([]GateState{Unproven, DeadHandling, DeadResistance}, s) }
		if dead(after) > dead(before) && dead(before) >= 0 {
			t.Errorf("%s became %s by knowing less", before, after)
		}
		if later := GateAt(noon.Add(ProofHolds), stores, proofs, nil, shipped).State; later != Unproven {
			t.Errorf("after ten minutes: %s", later)
		}
	})
}

func TestProofsAreChecked(t *testing.T) {
	t.Parallel()
	if err := proved("C1", 0, 0).Check(); err != nil {
		t.Error(err)
	}
	bad := DeadProof{Part: " ", Volts: math.NaN()}
	for _, field := range []string{"part", "volts", "read_at"} {
		if fault.Fields(bad.Check())[field] == "" {
			t.Errorf("no message on %s", field)
		}
	}
}
