package simulation

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// small is a board that is weighed in a moment: a supply's chain of two, with
// only its ends to touch, over a resistor, a coupling capacitor that no check
// sees, and a diode behind the middle.
const small = `
format: ohmstead/board-profile/1
id: small
title: Small board
revision: A
ground: gnd
parts:
  R1: {kind: resistor, pins: [in, a], value: 10k, tolerance: 1 %}
  R2: {kind: resistor, pins: [a, mid], value: 10k, tolerance: 1 %}
  R3: {kind: resistor, pins: [mid, gnd], value: 10k, tolerance: 1 %}
  R4: {kind: resistor, pins: [out, gnd], value: 4k7, tolerance: 1 %}
  C1: {kind: capacitor, pins: [mid, gnd], value: 100n}
  D1: {kind: diode, pins: {anode: mid, cathode: out}}
states:
  powered:
    hazard: extra_low_voltage
    sources: [{name: supply, plus: in, minus: gnd, volts: 24 V, tolerance: 1 %}]
checks:
  - {id: mid-hot, state: powered, measure: dc_volts, red: mid}
  - {id: out-hot, state: powered, measure: dc_volts, red: out}
  - {id: chain, state: cold, measure: resistance, red: in, black: mid}
  - {id: r3, state: cold, measure: resistance, across: R3}
  - {id: r4, state: cold, measure: resistance, across: R4}
  - {id: d1, state: cold, measure: diode, across: D1}
  - {id: d1-back, state: cold, measure: diode, across: D1, swapped: true}
`

// What the small board reads by hand: 24 V through 20 k over 10 k are 8 V behind
// 6.67 k; a diode of 0.62 V and 4.7 k draw 0.65 mA from that.
const (
	middle = 3.67
	output = 3.05
)

func smallTechnician(t *testing.T) *Technician {
	t.Helper()
	p, err := profile.Load("small.yaml", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	tech, err := NewTechnician(p, meter.Default())
	if err != nil {
		t.Fatal(err)
	}
	return tech
}

// Bounds from first principles: ⌈log₂ n⌉ tests between stages that are equally
// likely (8, 10, 16, 100), and Shannon's entropy of a few sets of chances.
func TestBoundsOfTwoWayChecks(t *testing.T) {
	t.Parallel()
	for n, want := range map[int]int{0: 0, 1: 0, 2: 1, 8: 3, 10: 4, 16: 4, 17: 5, 100: 7} {
		if got := HalfSplit(n); got != want {
			t.Errorf("%d causes: %d tests, want %d", n, got, want)
		}
	}
	for _, c := range []struct {
		p    []float64
		want float64
	}{
		{[]float64{0.5, 0.25, 0.125, 0.125}, 1.75}, {[]float64{4, 2, 1, 1}, 1.75}, {[]float64{0.5, 0.5}, 1},
		{[]float64{0.9, 0.1}, 0.4690}, {[]float64{0.99, 0.01}, 0.0808}, {[]float64{1, 0}, 0}, {nil, 0},
	} {
		if got := Bits(c.p...); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("%v: %.5f bits, want %g", c.p, got, c.want)
		}
	}
}

// Two equal resistors in series of which only the outer ends are touched are one
// group, and a capacitor gone open is nowhere to be seen at direct current: both
// from first principles. C1 leaky reads like R3 low, and a mode alone does not
// make a group: C1 has no fault like R3 open.
func TestBoundOfAProfile(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	got := tech.Bound()
	if got.Groups != 5 || got.HalfSplit != 3 || !(got.Bits > 1.5 && got.Bits < math.Log2(5)) {
		t.Errorf("%+v: R1 or R2, R3, R4, C1, D1 are five", got)
	}
	all := tech.signatures()
	at := func(part string) *signature {
		return &all[slices.IndexFunc(all, func(s signature) bool { return s.part == part })]
	}
	if !at("R1").like(at("R2")) || at("R1").like(at("R3")) || at("R3").like(at("C1")) {
		t.Error("R1 is like R2 and like no other, and C1 fails in other ways than R3")
	}
	if n := len(at("C1").faults); n != 3 {
		t.Errorf("%d of C1's faults show: want the short and two leaks, not open or tired", n)
	}
}

// Slips are as frequent as the world says, of every documented kind, and noted
// as the check that was meant.
func TestSlips(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	kinds := map[string]map[string]int{}
	for _, id := range []string{"r3", "d1", "mid-hot"} {
		c, _ := tech.Profile.Check(id)
		b := NewBoard(tech.Profile, tech.Meter, World{Slips: 1}, rand.New(rand.NewPCG(4, 4)))
		got := map[string]int{}
		for range 200 {
			r := b.Read(*c)
			if d := cmp.Diff(*c, r.Check); d != "" {
				t.Fatal(d)
			}
			got[slipKind(id, r)]++
		}
		kinds[id] = got
	}
	for id, want := range map[string][]string{
		"r3":      {"OL", "÷1000", "×1000", "as it is", "neighbour"}, // exchanged leads change nothing here
		"d1":      {"OL"},                                            // off metal, exchanged, or its neighbour: backward
		"mid-hot": {"nothing", "part", "exchanged", "neighbour"},
	} {
		for _, kind := range want {
			if kinds[id][kind] < 10 {
				t.Errorf("%s: %s %d times of 200: %v", id, kind, kinds[id][kind], kinds[id])
			}
		}
	}
	c, _ := tech.Profile.Check("r4")
	b := NewBoard(tech.Profile, tech.Meter, World{Slips: 0.02}, rand.New(rand.NewPCG(5, 5)))
	for range 2000 {
		b.Read(*c)
	}
	if low, high, _ := Wilson(b.slips, 2000); low > 0.02 || high < 0.02 {
		t.Errorf("%d slips of 2000 readings", b.slips)
	}
}

// slipKind sorts what a slip at a check of the small board shows.
func slipKind(id string, r analysis.Reading) string {
	v := r.Value.Number
	near := func(x float64) bool { return math.Abs(v-x) < 0.05*math.Abs(x) }
	switch {
	case id == "mid-hot" && v == 0:
		return "nothing"
	case id == "mid-hot" && v < 0:
		return "exchanged"
	case id == "mid-hot" && near(output):
		return "neighbour"
	case id == "mid-hot":
		return "part"
	case r.Value.OverRange:
		return "OL"
	case near(10e6):
		return "×1000"
	case near(10):
		return "÷1000"
	case near(10e3):
		return "as it is"
	}
	return "neighbour"
}

// The board that is read in the profile's order is the same board: parts, sources
// and lasting errors, not each reading's own error; what was fitted on one is not
// fitted on the other.
func TestTwin(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	c, _ := tech.Profile.Check("mid-hot")
	for _, w := range []World{{}, {Mismatched: true}} {
		d := sized("R3", profile.ModeLow, 2)
		b := NewBoard(tech.Profile, tech.Meter, w, rand.New(rand.NewPCG(6, 6)), d)
		before, err := b.true(*c)
		if err != nil {
			t.Fatal(err)
		}
		reading := b.Read(*c)
		b.Fit("R3")
		twin := b.twin(rand.New(rand.NewPCG(7, 7)), d)
		if after, err := twin.true(*c); err != nil || after != before {
			t.Errorf("%+v reads %g V, its twin %g V: %v", w, before.Value, after.Value, err)
		}
		if same := twin.Read(*c).Value == reading.Value; same != w.Mismatched {
			t.Errorf("%+v: the errors of two readings are the same: %v", w, same)
		}
		if repaired, err := b.true(*c); err != nil || math.Abs(repaired.Value-middle) > 0.15 {
			t.Errorf("with a new R3 %g V, want about %g V", repaired.Value, middle)
		}
	}
}

// In the profile's order the unpowered checks come first, and the analysis asked
// after every odd reading comes to the same part as when it chooses, later.
func TestFixedOrder(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	var ids []string
	for _, c := range tech.order() {
		ids = append(ids, c.ID)
	}
	if d := cmp.Diff([]string{"chain", "r3", "r4", "d1", "d1-back", "mid-hot", "out-hot"}, ids); d != "" {
		t.Error(d)
	}
	r := tech.RepairBothWays(World{}, rand.New(rand.NewPCG(2, 2)), open("D1"))
	if !r.Exact() || !r.Fixed.Exact || r.Fixed.Readings < 4 || r.Fixed.Readings < r.Readings {
		t.Errorf("%s: in order %+v", r, r.Fixed)
	}
	if r.Fixed.Minutes < float64(r.Fixed.Readings) {
		t.Errorf("%g minutes for %d readings", r.Fixed.Minutes, r.Fixed.Readings)
	}
}

// A reading that a conclusion asks for again is made again: with an open R4 only
// one check is odd at first, and one slip could be all there is.
func TestAgain(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	h := &hands{t: tech, b: NewBoard(tech.Profile, tech.Meter, World{}, rand.New(rand.NewPCG(1, 1)), open("R4")),
		state: profile.Cold, again: map[profile.Key]int{}}
	c, _ := tech.Profile.Check("r4")
	asks := &analysis.Result{Conclusion: analysis.Conclusion{Status: analysis.Conflict, Again: c}}
	for range mostAgain {
		if got, ok := h.asked(asks); !ok || got.ID != "r4" {
			t.Fatalf("asked for %q, %v", got.ID, ok)
		}
	}
	if _, ok := h.asked(asks); ok || h.asks != mostAgain {
		t.Errorf("asked again and again: %d", h.asks)
	}
	h.again = map[profile.Key]int{}
	h.b.world.Twice = true
	h.read(*c)
	good, _ := tech.Profile.Check("r3")
	h.read(*good)
	if h.made != 3 || len(h.readings) != 3 || h.readings[1].Check.ID != "r4" {
		t.Errorf("%d readings: an odd one is made twice, another once", h.made)
	}
}

// The same batch is the same boards and repairs whoever works at them first, and
// its report too.
func TestBatch(t *testing.T) {
	t.Parallel()
	batch := Batch{World: World{Slips: 0.05, Codes: true}, Boards: 6, Faults: Drawn, Seed: 3, Fixed: 0.5}
	first, again := smallTechnician(t).Run(batch), smallTechnician(t)
	alike := cmp.Comparer(func(x, y float64) bool {
		return x == y || math.Abs(x-y) < 1e-6*math.Max(math.Abs(x), math.Abs(y))
	})
	both := 0
	for i, b := range batch.boards(again) {
		var r *Repair
		if batch.readInOrder(i) {
			r = again.RepairBothWays(batch.World, b.rng, b.defects...)
			both++
		} else {
			r = again.Repair(batch.World, b.rng, b.defects...)
		}
		if d := cmp.Diff(first[i], r, alike); d != "" {
			t.Errorf("board %d: %s", i, d)
		}
	}
	if both != 3 {
		t.Errorf("%d of 6 boards are read in order too, want half", both)
	}
	every := Batch{Every: 3, Seed: 1}
	if got, all := len(every.boards(again)), len(again.Every(rand.New(rand.NewPCG(1, 1)))); got != (all+2)/3 {
		t.Errorf("%d of %d faults", got, all)
	}
}

// A drawn number of faults is as frequent as the published guess says: 6, 76, 14
// and 4 %.
func TestDrawnCount(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(8, 1))
	var n [4]int
	const boards = 20000
	for range boards {
		n[drawCount(rng)]++
	}
	for k, want := range []float64{0.06, 0.76, 0.14, 0.04} {
		if low, high, _ := Wilson(n[k], boards); low > want || high < want {
			t.Errorf("%d faults on %d of %d boards, want %g", k, n[k], boards, want)
		}
	}
}

// In the mismatched world every mode of every part is as frequent as any other.
func TestOtherPriors(t *testing.T) {
	t.Parallel()
	tech := smallTechnician(t)
	for _, f := range faultsOf(tech.Profile, World{Mismatched: true}) {
		if f.weight != 1 {
			t.Errorf("%v weighs %g", f.Fault, f.weight)
		}
	}
	weights := map[float64]bool{}
	for _, f := range faultsOf(tech.Profile, World{}) {
		weights[f.weight] = true
	}
	if len(weights) < 3 {
		t.Errorf("by the published rates only %d weights differ", len(weights))
	}
}
