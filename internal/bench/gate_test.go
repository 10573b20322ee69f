package bench

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
)

var shopLimits = evidence.Limits{Handling: 5, Resistance: 0.1}

// proof is a complete proof of the pump's only store at a moment.
func proof(volts float64, at time.Time) evidence.DeadProof {
	return evidence.DeadProof{Part: "C1", Volts: volts, VoltsSwapped: -volts, BeforeAt: &at, BeforeOK: true, ReadAt: at,
		AfterAt: &at, AfterOK: true, TakenAt: at}
}

func TestStores(t *testing.T) {
	t.Parallel()
	m := pump(t)
	s := m.Stores()
	if len(s) != 1 || s[0].Part != "C1" || s[0].Known == nil {
		t.Fatalf("stores: %+v", s)
	}
	if got, want := s[0].Volts, 323.6*1.1; got < want-0.1 || got > want+0.1 {
		t.Errorf("C1 may see %g V, want %g", got, want)
	}
	if got := (*Model)(nil).Stores(); len(got) != 1 || got[0].Part != Supply {
		t.Errorf("without a profile: %+v", got)
	}
}

func TestBars(t *testing.T) {
	t.Parallel()
	m := pump(t)
	dead := m.Gate(&shop.Story{DeadProofs: []evidence.DeadProof{proof(0.03, noon)}}, shopLimits, noon)
	some := m.Gate(&shop.Story{DeadProofs: []evidence.DeadProof{proof(2, noon)}}, shopLimits, noon)
	none := m.Gate(&shop.Story{}, shopLimits, noon)
	for _, c := range []struct {
		state   string
		measure profile.Measure
		gate    evidence.Gate
		powered string
		want    Bar
	}{
		{"cold", profile.MeasureResistance, none, "", ProveDead},
		{"cold", profile.MeasureDiode, some, "", ProveDead},
		{"cold", profile.MeasureESR, some, "", ProveDead},
		{"cold", profile.MeasureCapacitance, none, "", ProveDead},
		{"cold", profile.MeasureResistance, dead, "", Free},
		{"cold", profile.MeasureDCVolts, none, "", Free}, // volts are how it is proven dead
		{"cold", profile.MeasureResistance, dead, "live", PowerOff},
		{"cold", profile.MeasureDCVolts, dead, "injected", PowerOff},
		{"live", profile.MeasureDCVolts, dead, "", PowerUp},
		{"live", profile.MeasureDCVolts, none, "injected", PowerUp},
		{"live", profile.MeasureDCVolts, none, "live", Free},
		{"injected", profile.MeasureDCVolts, none, "injected", Free},
	} {
		if got := m.Bar(c.state, c.measure, c.gate, c.powered); got != c.want {
			t.Errorf("%s %s, gate %s, powered %q: %q, want %q", c.state, c.measure, c.gate.State, c.powered, got, c.want)
		}
	}
}

// A meter rated below the state's volts, or of unknown rating, is refused where
// it is dangerous and only there.
func TestWeakMeters(t *testing.T) {
	t.Parallel()
	m := pump(t)
	for rated, want := range map[float64]bool{600: false, 360: false, 300: true, 0: true} {
		with := *m.Meter
		with.RatedVolts = rated
		weak := &Model{Profile: m.Profile, Meter: &with}
		if got := weak.Bar("live", profile.MeasureDCVolts, evidence.Gate{}, "live") == WeakMeter; got != want {
			t.Errorf("rated for %g V on a bus of up to 356 V: refused %v, want %v", rated, got, want)
		}
		if got := weak.Bar("injected", profile.MeasureDCVolts, evidence.Gate{}, "injected"); got != Free {
			t.Errorf("rated for %g V, 30 V from a limited supply: %q", rated, got)
		}
		if said := strings.Contains(strings.Join(weak.SafetyNote("live"), " "), "refused"); said != want {
			t.Errorf("rated for %g V: the page says that it is refused: %v", rated, said)
		}
	}
}

func TestHazards(t *testing.T) {
	t.Parallel()
	m := pump(t)
	none := (*Model)(nil)
	for state, want := range map[string][2]profile.Hazard{
		"live":     {profile.Hazardous, profile.Hazardous},
		"injected": {profile.ExtraLowVoltage, profile.ExtraLowVoltage},
		"cold":     {profile.HazardNone, profile.HazardNone},
		"no such":  {profile.Hazardous, profile.Hazardous}, // unknown is the worst
	} {
		if d := cmp.Diff(want, [2]profile.Hazard{m.Hazard(state), none.Hazard(state)}); d != "" {
			t.Errorf("%s: %s", state, d)
		}
	}
	if !strings.Contains(strings.Join(m.SafetyNote("live"), " "), "The common is live") {
		t.Error("nobody is told that the common is live")
	}
}

func TestPowered(t *testing.T) {
	t.Parallel()
	on := evidence.PowerEvent{On: true, State: "live", TakenAt: noon}
	off := evidence.PowerEvent{State: "live", TakenAt: noon.Add(time.Minute)}
	sameTime := evidence.PowerEvent{State: "live", TakenAt: noon}
	for _, c := range []struct {
		events []evidence.PowerEvent
		want   string
	}{
		{nil, ""}, {[]evidence.PowerEvent{on}, "live"}, {[]evidence.PowerEvent{on, off}, ""}, {[]evidence.PowerEvent{off, on}, ""},
		{[]evidence.PowerEvent{on, sameTime}, "live"}, {[]evidence.PowerEvent{sameTime, on}, "live"},
	} {
		if got := Powered(&shop.Story{Power: c.events}); got != c.want {
			t.Errorf("%+v: powered %q, want %q", c.events, got, c.want)
		}
	}
}

// A reading that was taken while the gate was open is stored though it has
// fallen back since, but not for ever, and never when the gate was closed too.
func TestBarOfAReadingTakenBefore(t *testing.T) {
	t.Parallel()
	m := pump(t)
	open := &shop.Story{DeadProofs: []evidence.DeadProof{proof(0.03, noon)}}
	drawnAt := func(at time.Time) evidence.Reading {
		id := uuid.Must(uuid.NewV7())
		ms := at.UnixMilli()
		for i := range 6 {
			id[i] = byte(ms >> (8 * (5 - i)))
		}
		return evidence.Reading{ID: id, State: "cold", Measure: "resistance", Across: "R17"}
	}
	powered := &shop.Story{DeadProofs: open.DeadProofs, Power: []evidence.PowerEvent{{On: true, State: "live", TakenAt: noon.Add(3 * time.Minute)}}}
	for _, c := range []struct {
		name  string
		story *shop.Story
		drawn time.Time
		now   time.Time
		want  Bar
	}{
		{"while it is open", open, noon.Add(time.Minute), noon.Add(2 * time.Minute), Free},
		{"fallen back since", open, noon.Add(9 * time.Minute), noon.Add(11 * time.Minute), Free},
		{"drawn too long ago", open, noon.Add(time.Minute), noon.Add(11 * time.Minute), ProveDead},
		{"drawn after it fell back", open, noon.Add(11 * time.Minute), noon.Add(12 * time.Minute), ProveDead},
		{"drawn before the proof", open, noon.Add(-5 * time.Minute), noon.Add(11 * time.Minute), ProveDead},
		{"drawn in the future", open, noon.Add(time.Hour), noon.Add(11 * time.Minute), ProveDead},
		{"powered since", powered, noon.Add(2 * time.Minute), noon.Add(4 * time.Minute), Free},
		{"drawn while powered", powered, noon.Add(4 * time.Minute), noon.Add(5 * time.Minute), PowerOff},
		{"never proven", &shop.Story{}, noon, noon.Add(time.Minute), ProveDead},
	} {
		if got := m.BarOf(drawnAt(c.drawn), c.story, shopLimits, c.now); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestBlockChosen(t *testing.T) {
	t.Parallel()
	m := pump(t)
	for _, c := range [][3]string{{"bus-sense", "", "bus-sense"}, {"", "2", "bus-sense"}, {"", "", "bus-sense"}, {"gone", "none", "bus-sense"}} {
		if got := m.Block(c[0], c[1]); got != c[2] {
			t.Errorf("asked for %q with code %q: %q", c[0], c[1], got)
		}
	}
	j := m.Compare(&shop.Story{}, nil)
	for powered, want := range map[string]string{"": "live", "injected": "injected", "live": "live", "no such": "live"} {
		v, err := m.Strip(j, "bus-sense", powered)
		if err != nil || v.State.ID != want {
			t.Errorf("powered %q: drawn in %v, %v, want %s", powered, v, err, want)
		}
	}
}

func TestStateVolts(t *testing.T) {
	t.Parallel()
	m := pump(t)
	for state, want := range map[string]float64{"live": 323.6 * 1.1, "injected": 30 * 1.01, "cold": 0, "no such": 0} {
		if got := m.StateVolts(state); got < want-0.01 || got > want+0.01 {
			t.Errorf("%s holds up to %g V, want %g", state, got, want)
		}
	}
}

// The gate of a story as it stood earlier does not know what came later.
func TestAsOf(t *testing.T) {
	t.Parallel()
	story := &shop.Story{DeadProofs: []evidence.DeadProof{proof(0.02, noon), proof(0.02, noon.Add(time.Hour))},
		Power: []evidence.PowerEvent{{On: true, Hazardous: true, State: "live", TakenAt: noon.Add(30 * time.Minute)}}}
	then := asOf(story, noon.Add(time.Minute))
	if len(then.DeadProofs) != 1 || len(then.Power) != 0 || len(story.DeadProofs) != 2 {
		t.Errorf("%+v", then)
	}
	m := pump(t)
	if g := m.Gate(then, shopLimits, noon.Add(time.Minute)); g.State != evidence.DeadResistance {
		t.Errorf("a minute after the proof: %s", g.State)
	}
	if g := m.Gate(asOf(story, noon.Add(31*time.Minute)), shopLimits, noon.Add(31*time.Minute)); g.State != evidence.Live {
		t.Errorf("a minute after power: %s", g.State)
	}
}

// Whatever happens on the bench, a cold check is free only on a board that is
// off and proven, and a hot one only in its own state.
func TestBarsNeverClaimMore(t *testing.T) {
	t.Parallel()
	m := pump(t)
	rapid.Check(t, func(t *rapid.T) {
		story := &shop.Story{}
		for i := range rapid.IntRange(0, 6).Draw(t, "events") {
			at := noon.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, "minute")) * time.Minute)
			switch rapid.IntRange(0, 2).Draw(t, fmt.Sprint("kind", i)) {
			case 0:
				story.DeadProofs = append(story.DeadProofs, proof(rapid.SampledFrom([]float64{0.02, 2, 30, 300}).Draw(t, "volts"), at))
			case 1:
				state := rapid.SampledFrom([]string{"live", "injected"}).Draw(t, "state")
				story.Power = append(story.Power, evidence.PowerEvent{On: true, Hazardous: state == "live", State: state, TakenAt: at})
			case 2:
				story.Power = append(story.Power, evidence.PowerEvent{TakenAt: at})
			}
		}
		now := noon.Add(20 * time.Minute)
		gate, powered := m.Gate(story, shopLimits, now), Powered(story)
		if m.Bar("cold", profile.MeasureResistance, gate, powered) == Free && (powered != "" || gate.State != evidence.DeadResistance) {
			t.Fatalf("a cold check is free, powered %q, gate %s", powered, gate.State)
		}
		for _, state := range []string{"live", "injected"} {
			if m.Bar(state, profile.MeasureDCVolts, gate, powered) == Free && powered != state {
				t.Fatalf("a check in %s is free, powered %q", state, powered)
			}
		}
	})
}
