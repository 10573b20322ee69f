package simulation

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"ohmstead/internal/analysis"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/profiles"
)

// technicians are made once for all tests of a profile.
var technicians = map[string]*Technician{}

func technician(t *testing.T, id string) *Technician {
	t.Helper()
	if known, ok := technicians[id]; ok {
		return known
	}
	p, err := profile.NewLibrary(profiles.Files, "profiles").Load(id)
	if err != nil {
		t.Fatal(err)
	}
	made, err := NewTechnician(p, meter.Default())
	if err != nil {
		t.Fatal(err)
	}
	technicians[id] = made
	return made
}

func open(part string) profile.Defect {
	return profile.Defect{Part: part, Mode: profile.ModeOpen, Size: math.Inf(1)}
}

func sized(part string, mode profile.Mode, size float64) profile.Defect {
	return profile.Defect{Part: part, Mode: mode, Size: size}
}

// The faults of the demo's story tickets and others worth planting: what the
// board shows, and where the analysis ends when it asks and the simulated board
// answers. Electrical facts are those of the demo's own netlists.
func TestStories(t *testing.T) {
	for _, c := range []struct {
		name    string
		profile string
		code    string // what the board shows by itself
		defects []profile.Defect
		want    []string // the parts of the first conclusion
	}{
		{"S1: two blinks, one chain chip open", "sedge-d", "2", []profile.Defect{open("R13")}, []string{"R13"}},
		{"S2: three blinks, lower leg open", "sedge-d", "3", []profile.Defect{open("R17")}, []string{"R17"}},
		{"S5: 2.50 V perfect, bus 423 V", "packhorse-a", "none", []profile.Defect{sized("R12", profile.ModeHigh, 1.3)}, []string{"R12"}},
		{"S7: back, another of the six chips", "sedge-d", "2", []profile.Defect{open("R15")}, []string{"R15"}},
		{"S9: three channels at 3.28 V, one part", "sedge-f", "4", []profile.Defect{open("R28")}, []string{"R28"}},
		{"S11: R32 at 22 M", "hearth-2", "", []profile.Defect{sized("R32", profile.ModeOpen, 22e6)}, []string{"R32"}},
		{"pin leaky 3.3 k, the chain is innocent", "sedge-d", "2", []profile.Defect{sized("U1-ADB", profile.ModeLeaky, 3300)}, []string{"U1-ADB"}},
		{"reference lower open", "sedge-d", "4", []profile.Defect{open("R36")}, []string{"R36"}},
		{"draught divider upper open", "hearth-2", "none", []profile.Defect{open("R56")}, []string{"R56"}},
		{"battery divider 47 k to 56 k, no lamp", "packhorse-a", "none", []profile.Defect{sized("R55", profile.ModeHigh, 56.0/47)}, []string{"R55"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			tech := technician(t, c.profile)
			b := NewBoard(tech.Profile, tech.Meter, World{}, rand.New(rand.NewPCG(3, 3)), c.defects...)
			out := &Repair{Defects: c.defects, Code: c.code}
			var readings []analysis.Reading
			state := profile.Cold
			r := tech.conclude(b, out, &readings, &state)
			ok := sameSet(r.Conclusion.Parts, c.want) && r.Conclusion.Status == analysis.Found
			for _, g := range r.Conclusion.Groups {
				ok = ok || sameSet(g, c.want)
			}
			if !ok {
				t.Errorf("%s %v %v after %d readings: %s", r.Conclusion.Status, r.Conclusion.Parts, r.Conclusion.Groups, out.Total, r.Conclusion.Why)
				for _, s := range r.Suspects[:min(4, len(r.Suspects))] {
					t.Logf("%.3f %v %s", s.Probability, s.Faults, s.Why)
				}
			}
			if c.code == "2" && !strings.Contains(r.Suspects[0].Why, "“two blinks, pause” fits") {
				t.Errorf("the lamp is not explained: %s", r.Suspects[0].Why)
			}
		})
	}
}

// S3: R36 cracked masks a thermistor lead that is off: four blinks; once R36 is
// new, the second fault is found.
func TestStoryTwoFaults(t *testing.T) {
	tech := technician(t, "sedge-d")
	r := tech.Repair(World{}, rand.New(rand.NewPCG(5, 5)), open("R36"), open("NTC1"))
	if len(r.Left) > 0 || len(r.Good) > 0 {
		t.Errorf("%s", r)
	}
}

// S4: a HEARTH 2 with the probe of revision 3, a Pt1000 where a thermocouple
// belongs. Read as revision 2, only the probe is wrong.
func TestStoryWrongProbe(t *testing.T) {
	tech := technician(t, "hearth-2")
	r := tech.Repair(World{}, rand.New(rand.NewPCG(5, 5)), sized("TC1", profile.ModeOpen, 1097.3))
	if !slices.Contains(r.Claimed, "TC1") || len(r.Good) > 0 {
		t.Errorf("%s", r)
	}
}

// A whole board of revision 3 on the bench as revision 2 is a conflict that names
// the sibling.
func TestStorySibling(t *testing.T) {
	tech, other := technician(t, "hearth-2"), technician(t, "hearth-3")
	b := NewBoard(other.Profile, other.Meter, World{}, rand.New(rand.NewPCG(2, 2)))
	var readings []analysis.Reading
	for _, id := range []string{"r1", "r2", "r3", "f1", "r57"} {
		c, _ := tech.Profile.Check(id)
		there, err := other.Profile.Resolve(profile.Check{State: c.State, Measure: c.Measure, Across: c.Across})
		if err != nil {
			t.Fatal(err)
		}
		reading := b.Read(there)
		reading.Check = *c
		readings = append(readings, reading)
	}
	r, err := tech.Model.Weigh(analysis.Case{Readings: readings, Siblings: []*profile.Profile{other.Profile}})
	if err != nil {
		t.Fatal(err)
	}
	if r.Conclusion.Status != analysis.Conflict || r.Conclusion.Sibling != "hearth-3" {
		t.Errorf("%+v", r.Conclusion)
	}
	r, err = tech.Model.Weigh(analysis.Case{Readings: readings[3:4], Siblings: []*profile.Profile{other.Profile}})
	if err != nil {
		t.Fatal(err)
	}
	if r.Conclusion.Sibling != "" {
		t.Errorf("a good fuse says revision 3: %+v", r.Conclusion)
	}
}

// S6: F, 1 V left on the bus makes a good 680 k read OL one way round and far too
// low the other. With the volts noted beside the readings, R11 is not condemned.
func TestStoryChargeLeft(t *testing.T) {
	tech := technician(t, "sedge-f")
	c, _ := tech.Profile.Check("r11")
	turned := *c
	turned.RedNode, turned.BlackNode, turned.Swapped, turned.ID = c.BlackNode, c.RedNode, true, ""
	plus, minus := 0.52, -0.52
	readings := []analysis.Reading{
		{Check: *c, Value: quantity.Value{OverRange: true}, Residue: &plus},
		{Check: turned, Value: quantity.Value{Number: 150e3, Digit: 100}, Residue: &minus},
	}
	r, err := tech.Model.Weigh(analysis.Case{Readings: readings})
	if err != nil {
		t.Fatal(err)
	}
	if r.Conclusion.Status == analysis.Found {
		t.Errorf("%+v", r.Conclusion)
	}
	if r.Suspects[0].Probability > 0.5 && len(r.Suspects[0].Faults) > 0 {
		t.Errorf("%v leads with %.2f: %s", r.Suspects[0].Faults, r.Suspects[0].Probability, r.Suspects[0].Why)
	}
}

// S8: PACKHORSE C, nothing wrong, the battery is at 21 V: BATT slow and good
// readings must never condemn a part.
func TestStoryNothingWrong(t *testing.T) {
	tech := technician(t, "packhorse-c")
	r := tech.Repair(World{}, rand.New(rand.NewPCG(8, 8)))
	if len(r.Good) > 0 || r.Status == analysis.Found {
		t.Errorf("%s", r)
	}
}

// S10: one of two shunts cracked reads double and lights no lamp.
func TestStoryShunt(t *testing.T) {
	tech := technician(t, "packhorse-a")
	r := tech.Repair(World{}, rand.New(rand.NewPCG(10, 10)), open("RS1"))
	both := slices.ContainsFunc(r.Groups, func(g []string) bool { return slices.Equal(g, []string{"RS1"}) })
	if !r.Exact() && !both || len(r.Good) > 0 {
		t.Errorf("%s", r)
	}
}

// S8 as it came in: BATT slow is shown, and the battery on the bench reads 21 V. That
// is the battery's, not a part's; the divider that reads it is cleared by what it
// shows at 21 V, and a divider that shows something else is not.
func TestStoryTheBatteryIsLow(t *testing.T) {
	tech := technician(t, "packhorse-c")
	ask := func(rows string) *analysis.Result {
		readings, err := analysis.ReadReadings("r.csv", strings.NewReader("check,reading\n"+rows), tech.Profile)
		if err != nil {
			t.Fatal(err)
		}
		r, err := tech.Model.Answer(analysis.Case{Readings: readings, Code: "BATT slow"})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	leads := func(r *analysis.Result) string {
		if len(r.Suspects[0].Faults) == 0 {
			return ""
		}
		return r.Suspects[0].Faults[0].Part
	}
	if r := ask(""); leads(r) == "" {
		t.Errorf("the indication alone: %+v", r.Suspects[0])
	}
	for _, rows := range []string{"live-battery,21.0\n", "live-battery,21.0\nlive-adv,1.357\n", "live-battery,21.0\nlive-adv,1.357\nlive-abv,1.357\n"} {
		r := ask(rows)
		if c := r.Conclusion; leads(r) != "" || c.Status != analysis.Undecided || !strings.Contains(c.Why, "“BATT lamp blinks slowly” is not weighed") {
			t.Errorf("%q: %q leads, %+v", rows, leads(r), c)
		}
	}
	if why := ask("live-battery,21.0\n").Table[0].Why; !strings.Contains(why, "This is the supply itself: look at it before the board") {
		t.Errorf("the battery: %q", why)
	}
	if r := ask("live-battery,21.0\nlive-adv,0.40\n"); leads(r) == "" {
		t.Errorf("a divider that lies: %+v", r.Suspects)
	}
	if r := ask("live-battery,36.0\nlive-adv,1.357\n"); leads(r) == "" {
		t.Errorf("the same at 36 V: %+v", r.Suspects)
	}
}
