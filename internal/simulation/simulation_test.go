package simulation

import (
	"math"
	"math/rand/v2"
	"testing"

	"ohmstead/internal/profile"
)

// Drawn sizes lie where the formats say that modes have them.
func TestSizesAreThoseOfTheFormats(t *testing.T) {
	tech := technician(t, "hearth-2")
	rng := rand.New(rand.NewPCG(1, 1))
	limits := map[profile.Mode][2]float64{
		profile.ModeHigh: {1.2, 100}, profile.ModeLow: {1.2, 20}, profile.ModeLeaky: {1e3, 100e3}, profile.ModeShort: {0.05, 1},
		profile.ModeTired: {1.3, 20}, profile.ModeWeak: {2, 50}, profile.ModeOutputShort: {0.05, 1},
	}
	for range 20 {
		for _, d := range tech.Every(rng) {
			if l, ok := limits[d.Mode]; ok && (d.Size < l[0] || d.Size > l[1]) {
				t.Errorf("%+v", d)
			}
			if d.Mode == profile.ModeOpen && d.Size < 100 && tech.Profile.Parts[0].Ohms() > 1 {
				t.Errorf("%+v", d)
			}
		}
	}
	for _, d := range drawDefects(tech.Profile, 3, World{}, rng) {
		if p, ok := tech.Profile.Part(d.Part); !ok || p.Ref != d.Part {
			t.Errorf("%+v", d)
		}
	}
}

// A board without defects reads what good boards read, a planted one does not,
// and a part that is fitted takes its defect with it.
func TestBoard(t *testing.T) {
	tech := technician(t, "hearth-2")
	c, _ := tech.Profile.Check("r11")
	for seed := range uint64(20) {
		b := NewBoard(tech.Profile, tech.Meter, World{}, rand.New(rand.NewPCG(seed, 1)))
		if v := b.Read(*c).Value.Number; math.Abs(v-560) > 0.05*560+0.009*560+1 {
			t.Errorf("seed %d: a good 560 Ω reads %g", seed, v)
		}
		if b.revealed(tech.rows) >= 0 {
			t.Errorf("seed %d: a good board is bad", seed)
		}
	}
	b := NewBoard(tech.Profile, tech.Meter, World{}, rand.New(rand.NewPCG(1, 1)), open("R11"))
	if !b.Read(*c).Value.OverRange {
		t.Error("an open R11 is not over-range")
	}
	if k := b.revealed(tech.rows); k < 0 || tech.rows[k].Measured.ID != "r11" {
		t.Errorf("an open R11 is revealed by %d", k)
	}
	b.Fit("R11")
	if b.Read(*c).Value.OverRange || len(b.Bad()) > 0 {
		t.Error("R11 is new and still open")
	}
}

// The same seed is the same board; a mismatched world is another one.
func TestSeeds(t *testing.T) {
	tech := technician(t, "hearth-2")
	read := func(w World) (out []float64) {
		b := NewBoard(tech.Profile, tech.Meter, w, rand.New(rand.NewPCG(9, 9)))
		for _, id := range []string{"u3i", "r57", "ntc1", "rails-adv"} {
			c, _ := tech.Profile.Check(id)
			out = append(out, b.Read(*c).Value.Number)
		}
		return out
	}
	first, again, other := read(World{}), read(World{}), read(World{Mismatched: true})
	for i := range first {
		if first[i] != again[i] {
			t.Errorf("reading %d: %g, then %g", i, first[i], again[i])
		}
	}
	if !(other[0] < first[0]) { // three times the current at lower volts
		t.Errorf("an LED of three times the current drops %g V, otherwise %g V", other[0], first[0])
	}
}

// What the board shows follows its limits in order.
func TestCode(t *testing.T) {
	tech := technician(t, "hearth-2")
	for _, c := range []struct {
		defects []profile.Defect
		want    string
	}{
		{[]profile.Defect{open("TC1")}, "FLUE"},
		{[]profile.Defect{open("NTC1")}, "ROOM"},
		{[]profile.Defect{open("NTC1"), open("TC1")}, "FLUE"},
	} {
		b := NewBoard(tech.Profile, tech.Meter, World{}, rand.New(rand.NewPCG(1, 1)), c.defects...)
		if got := b.Code(); got != c.want {
			t.Errorf("%v: %s, want %s", c.defects, got, c.want)
		}
	}
}

// A few drawn boards of every kind of trouble: no good part may be condemned.
func TestRepairs(t *testing.T) {
	tech := technician(t, "hearth-2")
	exact := 0
	const boards = 4
	for seed := range uint64(boards) {
		rng := rand.New(rand.NewPCG(seed+40, 7))
		var d profile.Defect
		for { // one that some check reveals
			d = drawDefect(tech.Profile, World{}, rng)
			if NewBoard(tech.Profile, tech.Meter, World{}, rng, d).revealed(tech.rows) >= 0 {
				break
			}
		}
		r := tech.Repair(World{Codes: true}, rng, d)
		if len(r.Good) > 0 {
			t.Errorf("%s", r)
		}
		if r.Exact() {
			exact++
		} else {
			t.Logf("%s", r)
		}
	}
	if exact < boards-1 {
		t.Errorf("%d of %d exact", exact, boards)
	}
}
