package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// TestSettings: what readings say of the sources of a state.
func TestSettings(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	at := func(state, red, black, typed string) Reading {
		return reading(t, m, check(state, "dc_volts", "", red, black), typed)
	}
	vb := mustResolve(t, m, check("live", "dc_volts", "", "vb", ""))
	bus := mustResolve(t, m, check("live", "dc_volts", "", "p", ""))
	moving := at("live", "p", "com", "300.0")
	moving.Moving = MovingUp
	tests := []struct {
		name     string
		check    profile.Check
		readings []Reading
		source   string
		volts    float64 // of the setting; 0: none
		half     float64
	}{
		{"the bus", vb, []Reading{at("live", "p", "com", "311.0")}, "bus", 311, 0.005*311 + 0.3},
		{"turned round", vb, []Reading{at("live", "com", "p", "-311.0")}, "bus", 311, 0.005*311 + 0.3},
		{"the last counts", vb, []Reading{at("live", "p", "com", "290.0"), at("live", "p", "com", "311.0")}, "bus", 311, 0.005*311 + 0.3},
		{"far outside its tolerance", vb, []Reading{at("live", "p", "com", "120.0")}, "bus", 120, 0.005*120 + 0.3},
		{"coarse digits", vb, []Reading{at("live", "p", "com", "311")}, "bus", 311, 0.005*311 + 0.3 + 0.5},
		{"a rail", vb, []Reading{at("live", "v5", "com", "5.050")}, "v5", 5.05, 0.005*5.05 + 0.003},
		{"another state", vb, []Reading{at("injected", "p", "com", "30.0")}, "", 0, 0},
		{"another place", vb, []Reading{at("live", "m1", "com", "150.0")}, "", 0, 0},
		{"creeping", vb, []Reading{moving}, "", 0, 0},
		{"over-range", vb, []Reading{at("live", "p", "com", "OL")}, "", 0, 0},
		{"its own row", bus, []Reading{at("live", "p", "com", "311.0")}, "", 0, 0},
		{"its own row, another source", bus, []Reading{at("live", "v5", "com", "5.050")}, "v5", 5.05, 0.005*5.05 + 0.003},
	}
	for _, tt := range tests {
		got := m.settingsOf(tt.check, tt.readings)
		if tt.volts == 0 {
			if len(got) != 0 {
				t.Errorf("%s: %+v, want none", tt.name, got)
			}
			continue
		}
		if len(got) != 1 || got[0].source != tt.source {
			t.Errorf("%s: %+v", tt.name, got)
			continue
		}
		state, _ := m.profile.State("live")
		src, _ := sourceOf(state, tt.source)
		scale := src.Volts * src.Tolerance
		if v := src.Volts + got[0].centre*scale; math.Abs(v-tt.volts) > 1e-9 {
			t.Errorf("%s: %.4f V, want %g", tt.name, v, tt.volts)
		}
		if h := got[0].half * scale; math.Abs(h-tt.half) > 1e-9 {
			t.Errorf("%s: ±%.4f V, want %g", tt.name, h, tt.half)
		}
	}
}

// TestSettingMovesTheBoard: with a source set, the board stands where that
// source puts it, and everything that hangs on it follows in proportion.
func TestSettingMovesTheBoard(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	c := mustResolve(t, m, check("live", "dc_volts", "", "vb", ""))
	read := func(volts float64) float64 {
		s := []setting{{source: "bus", centre: (volts/323.6 - 1) / 0.1, half: 0.01}}
		b, err := m.newBench(c, s)
		if err != nil {
			t.Fatal(err)
		}
		r, err := b.read()
		if err != nil {
			t.Fatal(err)
		}
		return r.Value
	}
	full := read(323.6)
	for _, volts := range []float64{198, 311, 356} {
		if got, want := read(volts), full*volts/323.6; math.Abs(got-want) > 1e-3*want {
			t.Errorf("at %g V the node reads %.4f V, want %.4f", volts, got, want)
		}
	}
}

// TestSourceInWords: the reason names the volts that were read and where.
func TestSourceInWords(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "sedge-d"), meter.Default())
	c := mustResolve(t, m, check("live", "dc_volts", "", "vb", ""))
	bus := reading(t, m, check("live", "dc_volts", "", "p", ""), "311.0")
	got := m.atSources(m.settingsOf(c, []Reading{bus}), c)
	if got != ", with the 311 V that you read at TP1" {
		t.Errorf("%q", got)
	}
}
