package profiles

import (
	"math"
	"testing"

	"ohmstead/internal/circuit"
	"ohmstead/internal/profile"
)

// shipped loads a shipped profile, laid over with more YAML when there is any.
func shipped(t *testing.T, id, over string) *profile.Profile {
	t.Helper()
	lib := profile.NewLibrary(Files, "profiles")
	p, err := lib.Load(id)
	if over != "" {
		src := "format: ohmstead/board-profile/1\nid: changed\nbased_on: " + id + "\n" + over
		p, err = profile.Load("changed.yaml", []byte(src), lib.Source)
	}
	if err != nil {
		t.Fatalf("%s: %v", id, err)
	}
	return p
}

// level solves a board and gives a node's level against its zero.
func level(t *testing.T, p *profile.Profile, state, node string, defects ...profile.Defect) circuit.Level {
	t.Helper()
	b, err := p.Board(state, defects...)
	if err != nil {
		t.Fatalf("%s %s: %v", p.ID, state, err)
	}
	all, err := b.Solver.Levels()
	if err != nil {
		t.Fatalf("%s %s: %v", p.ID, state, err)
	}
	n, ok := b.Circuit.Find(node)
	if !ok {
		t.Fatalf("%s has no node %s", p.ID, node)
	}
	return all[n]
}

// What the healthy boards stand at. The values were worked out from the same
// netlists with another small solver before this program existed; the ratios of
// the dividers can be checked by hand.
func TestHealthyLevels(t *testing.T) {
	t.Parallel()
	low, high := "states: {live: {sources: [{name: bus, plus: p, minus: com, volts: 278}]}}", "states: {live: {sources: [{name: bus, plus: p, minus: com, volts: 356}]}}"
	for _, c := range []struct {
		id, over, state, node string
		want, within          float64
	}{
		{"sedge-d", "", "live", "adb", 3.028, 1e-3},
		{"sedge-d", "", "live", "vb", 3.028, 1e-3},
		{"sedge-d", low, "live", "adb", 2.604, 4e-3},
		{"sedge-d", high, "live", "adb", 3.332, 2e-3},
		{"sedge-d", "", "live", "adi", 2.500, 1e-3},
		{"sedge-d", "", "rails", "adi", 2.500, 1e-3},
		{"sedge-d", "", "live", "psw", 5.00, 1e-3},
		{"sedge-d", "", "bridged", "psw", 0.05, 0.05},
		{"sedge-d", "", "injected", "vb", 0.2746, 0.3e-3},
		{"sedge-d", "", "live", "adt", 2.5, 1e-3},
		{"sedge-f", "", "live", "adb", 1.939, 1e-3},
		{"sedge-f", low, "live", "adb", 1.666, 2e-3},
		{"sedge-f", high, "live", "adb", 2.134, 2e-3},
		{"sedge-f", "", "live", "adu", 1.650, 1e-3},
		{"sedge-f", "", "live", "adv", 1.650, 1e-3},
		{"sedge-f", "", "live", "adw", 1.650, 1e-3},
		{"sedge-f", "", "rails", "adw", 1.650, 1e-3},
		{"sedge-f", "", "live", "psw", 3.30, 1e-3},
		{"sedge-f", "", "injected", "vb", 0.1787, 0.3e-3},
		{"packhorse-a", "", "live", "p", 385.2, 0.1},
		{"packhorse-a", "", "live", "fb", 2.500, 1e-3},
		{"packhorse-a", "", "live", "adv", 3.275, 1e-3},
		{"packhorse-a", "", "live", "adc", 3.027, 1e-3},
		{"packhorse-a", "", "live", "vo", 43.67, 0.02},
		{"packhorse-a", "", "live", "ref", 2.495, 1e-3},
		{"packhorse-a", "", "injected", "fb", 0.1947, 0.1e-3},
		{"packhorse-c", "", "live", "p", 385.2, 0.1},
		{"packhorse-c", "", "live", "fb", 2.500, 1e-3},
		{"packhorse-c", "", "live", "adv", 2.329, 1e-3},
		{"packhorse-c", "", "live", "adc", 2.024, 1e-3},
		{"packhorse-c", "", "live", "vo", 43.67, 0.02},
		{"packhorse-c", "", "injected", "fb", 0.1947, 0.1e-3},
		{"hearth-2", "", "live", "v12", 12, 1e-6},
		{"hearth-2", "", "live", "adf", 0.621, 1e-3},
		{"hearth-2", "", "live", "adr", 2.500, 1e-3},
		{"hearth-2", "", "live", "adv", 4.295, 1e-3},
		{"hearth-2", "", "draught", "adv", 0, 2e-3},
		{"hearth-3", "", "live", "adf", 1.659, 1e-3},
		{"hearth-3", "parts: {PT1: {value: 1684.8}}", "live", "adf", 2.163, 1e-3}, // IEC 60751 at 180 °C
		{"hearth-3", "parts: {PT1: {value: 2470.9}}", "live", "adf", 2.639, 1e-3}, // and at 400 °C
		{"hearth-3", "", "live", "adr", 2.500, 1e-3},
		{"hearth-3", "", "live", "adv", 3.775, 1e-3},
	} {
		p := shipped(t, c.id, c.over)
		l := level(t, p, c.state, c.node)
		if l.Floating || math.Abs(l.Volts-c.want) > c.within {
			t.Errorf("%s %s %s: %+v, want %v", c.id, c.state, c.node, l, c.want)
		}
	}
}

// What full scale of the controller's pin means, and the bus at which its trips
// come, by the healthy board's own ratio.
func TestBelieves(t *testing.T) {
	t.Parallel()
	for id, want := range map[string]float64{"sedge-d": 534, "sedge-f": 551} {
		p := shipped(t, id, "")
		b, _ := p.Block("bus-sensing")
		ratio := level(t, p, "live", b.Believes.Node).Volts / level(t, p, "live", "p").Volts
		if got := b.Believes.FullScale / ratio; math.Abs(got-want) > 1 {
			t.Errorf("%s: full scale means %.1f V, want %v", id, got, want)
		}
		for code, volts := range map[string]float64{"2": 215, "3": 415} {
			for _, in := range p.Indications {
				if in.Code != code {
					continue
				}
				limit := in.Limits[0].Below
				if math.IsInf(limit, 0) {
					limit = in.Limits[0].Above
				}
				if got := limit / ratio; math.Abs(got-volts) > 0.2 {
					t.Errorf("%s: code %s comes at %.1f V, want %v", id, code, got, volts)
				}
			}
		}
	}
}

// What planted faults do, from the same earlier work.
func TestPlantedFaults(t *testing.T) {
	t.Parallel()
	inf := math.Inf(1)
	for _, c := range []struct {
		id     string
		defect profile.Defect
		node   string
		want   float64
		within float64
	}{
		{"sedge-d", profile.Defect{Part: "R13", Mode: profile.ModeOpen, Size: inf}, "vb", 0, 1e-3},
		{"sedge-d", profile.Defect{Part: "R13", Mode: profile.ModeHigh, Size: 1.5}, "vb", 2.797, 2e-3},
		{"sedge-d", profile.Defect{Part: "R17", Mode: profile.ModeOpen, Size: inf}, "vb", 6.0, 0.1},
		{"sedge-d", profile.Defect{Part: "R17", Mode: profile.ModeOpen, Size: inf}, "adb", 5.6, 0.1},
		{"sedge-d", profile.Defect{Part: "R18", Mode: profile.ModeOpen, Size: inf}, "vb", 3.028, 1e-3},
		{"sedge-d", profile.Defect{Part: "U1-ADB", Mode: profile.ModeLeaky, Size: 3300}, "vb", 1.18, 5e-3},
		{"sedge-d", profile.Defect{Part: "U1-ADB", Mode: profile.ModeLeaky, Size: 3300}, "adb", 0.905, 5e-3},
		{"sedge-d", profile.Defect{Part: "R35", Mode: profile.ModeOpen, Size: inf}, "vref", 0.02, 5e-3},
		{"sedge-d", profile.Defect{Part: "R36", Mode: profile.ModeOpen, Size: inf}, "vref", 4.98, 5e-3},
		{"sedge-f", profile.Defect{Part: "R17", Mode: profile.ModeOpen, Size: inf}, "vb", 4.35, 0.05},
		{"sedge-f", profile.Defect{Part: "R17", Mode: profile.ModeOpen, Size: inf}, "adb", 3.83, 0.05},
		{"sedge-f", profile.Defect{Part: "R38", Mode: profile.ModeOpen, Size: inf}, "oiv", 3.28, 5e-3},
		{"sedge-f", profile.Defect{Part: "R38", Mode: profile.ModeOpen, Size: inf}, "oiu", 1.65, 2e-3},
		{"sedge-f", profile.Defect{Part: "R28", Mode: profile.ModeOpen, Size: inf}, "oiw", 3.28, 0.012}, // the reference feeds three channels through its 10 Ω
		{"hearth-2", profile.Defect{Part: "R24", Mode: profile.ModeOpen, Size: inf}, "adf", 0.621, 2e-3},
		{"hearth-2", profile.Defect{Part: "R56", Mode: profile.ModeOpen, Size: inf}, "adv", 0, 1e-3},
		{"packhorse-a", profile.Defect{Part: "R55", Mode: profile.ModeOpen, Size: inf}, "adv", 0, 5e-3},
		{"packhorse-a", profile.Defect{Part: "R55", Mode: profile.ModeHigh, Size: 56.0 / 47}, "adv", 2.790, 2e-3},
		{"packhorse-a", profile.Defect{Part: "R12", Mode: profile.ModeHigh, Size: 1.3}, "fb", 2.500, 1e-3},
		{"packhorse-a", profile.Defect{Part: "R12", Mode: profile.ModeHigh, Size: 1.3}, "p", 423, 0.6},
	} {
		l := level(t, shipped(t, c.id, ""), "live", c.node, c.defect)
		if l.Floating || math.Abs(l.Volts-c.want) > c.within {
			t.Errorf("%s %s %s: %s is %+v, want %v", c.id, c.defect.Part, c.defect.Mode, c.node, l, c.want)
		}
	}
	// With the series part open the pin has no value: an interval between its clamps.
	l := level(t, shipped(t, "sedge-d", ""), "live", "adb", profile.Defect{Part: "R18", Mode: profile.ModeOpen, Size: inf})
	if !l.Floating || l.Low > 0 || l.High < 5 || l.High > 6 {
		t.Errorf("a pin behind an open series part: %+v", l)
	}
	// One of two shunts open reads double.
	half := "states: {live: {sources: [{name: charge, plus: bn, minus: s0, amps: 7.5, at_most: 60}]}}"
	l = level(t, shipped(t, "packhorse-a", half), "live", "adc", profile.Defect{Part: "RS2", Mode: profile.ModeOpen, Size: inf})
	if math.Abs(l.Volts-3.027) > 2e-3 {
		t.Errorf("7.5 A through one shunt: %+v", l)
	}
}
