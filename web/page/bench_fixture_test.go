package page

import (
	"os"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/journal"
)

// pumpTime is when the fixture's page is drawn.
var pumpTime = time.Date(2026, 11, 24, 14, 9, 30, 0, time.UTC)

// thePump is the invented pump board seen through the default meter; the engine
// works it out once for all tests.
var thePump = sync.OnceValues(func() (*bench.Model, error) {
	src, err := os.ReadFile("../../testdata/bench/pump-sense.yaml")
	if err != nil {
		return nil, err
	}
	return bench.NewModel(shop.Profile{Key: "pump-sense", Flattened: src}, bench.DefaultMeter())
})

func pumpModel(t testing.TB) *bench.Model {
	t.Helper()
	m, err := thePump()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// ownResult gives a judgement a result of its own, so that a test may write in it.
func ownResult(j *bench.Judgement) *bench.Judgement {
	shared := j.Result
	own := *shared
	own.Table = slices.Clone(shared.Table)
	for id, row := range j.Rows {
		for i := range shared.Table {
			if row == &shared.Table[i] {
				j.Rows[id] = &own.Table[i]
			}
		}
	}
	j.Result = &own
	return j
}

func num(x float64) *float64 { return &x }

// id makes the nth UUID of the fixture.
func id(n byte) uuid.UUID {
	return uuid.UUID{0x01, 0x93, 0, 0, 0, 0, 0x70, 0, 0x80, 0, 0, 0, 0, 0, 0, n}
}

// tobinID is the technician.
var tobinID = id(200)

// pumpInput is a ticket on the bench: some readings, one of them struck, one
// wrong; what the engine says of them is written by hand, so that these tests
// hold the page and nothing else.
func pumpInput(t testing.TB) BenchInput {
	t.Helper()
	m := pumpModel(t)
	story := &shop.Story{
		Ticket: shop.Ticket{Number: 2041, State: shop.OnBench, Indication: "2", Version: 12},
		Board:  shop.Board{FamilyName: "PUMP", RevisionName: "A"},
		Entries: []journal.Entry{{Kind: journal.Moved, Change: journal.Change{New: string(shop.OnBench)},
			PersonID: tobinID, PersonName: "Tobin"}},
	}
	in := BenchInput{Story: story, Model: m, Meter: m.Meter, Locale: NewLocale("en-IE", "Europe/Dublin"), Now: pumpTime,
		Limits: evidence.Limits{Handling: 5, Resistance: 0.1}, NewID: func() string { return id(255).String() }}
	n := byte(0)
	read := func(check, typed string, minutesAgo int, change func(*evidence.Reading)) {
		n++
		c, ok := m.Profile.Check(check)
		if !ok {
			t.Fatalf("no check %s", check)
		}
		v, err := quantity.Parse(typed, c.Measure.Unit())
		r := evidence.Reading{ID: id(n), CheckKey: check, State: c.State, Measure: string(c.Measure), Across: c.Across, Red: c.Red, Black: c.Black,
			Lifted: c.Lifted, Swapped: c.Swapped, Typed: typed, PersonID: tobinID, TakenAt: pumpTime.Add(-time.Duration(minutesAgo) * time.Minute)}
		if err == nil && !v.OverRange {
			r.Value = &v.Number
		}
		r.OverRange = v.OverRange
		if change != nil {
			change(&r)
		}
		story.Readings = append(story.Readings, r)
	}
	read("r17", "6.77k", 9, nil)
	read("r17x", "6.78k", 8, nil)
	read("r11", "3.1k", 7, func(r *evidence.Reading) {
		r.Struck = &evidence.Strike{Reason: "still creeping, read too early", PersonID: tobinID}
	})
	read("r11", "118.9k", 6, func(r *evidence.Reading) { r.Moving = "up" })
	read("r12", "", 5, func(r *evidence.Reading) { r.Agrees, r.BandLow, r.BandHigh = true, num(117e3), num(122e3) })
	read("r13", "OL", 3, nil)
	read("r14", "180k", 2, nil)
	read("r15", "12", 1, func(r *evidence.Reading) { r.Condition = evidence.ConditionNotOnMetal })
	j, err := m.Judge(t.Context(), story, nil, bench.Known{})
	if err != nil {
		t.Fatal(err)
	}
	in.Judged = writeVerdicts(ownResult(j))
	if in.Strip, err = m.Strip(in.Judged, "bus-sense", ""); err != nil {
		t.Fatal(err)
	}
	in.Strip.Believes.Read = &analysis.Believed{Volts: 2.797, Value: 299}
	in.Gate = evidence.Gate{State: evidence.DeadResistance, Volts: 0.03, ReadAt: pumpTime.Add(-4 * time.Minute),
		Until: pumpTime.Add(6 * time.Minute), Why: "At most 0.03 V was read, between two proofs of the meter."}
	return in
}

// writeVerdicts writes what an engine might say into the rows of the table.
func writeVerdicts(j *bench.Judgement) *bench.Judgement {
	bands := map[string][3]float64{"R17": {6630, 6750, 6960}, "R18": {970, 1000, 1030}, "R16": {117e3, 120e3, 122e3}}
	for i := range j.Result.Table {
		row := &j.Result.Table[i]
		b, ok := bands[row.Measured.Across]
		if !ok {
			b = bands["R16"]
		}
		unit, resolution := row.Measured.Measure.Unit(), 10.0
		if b[1] > 60e3 {
			resolution = 100
		}
		if unit == quantity.Volt {
			b, resolution = [3]float64{2.7, 3.028, 3.33}, 0.001
		}
		row.Expected = &analysis.Band{Low: num(b[0]), Typical: num(b[1]), High: num(b[2]), Unit: unit}
		row.Guard = analysis.Band{Low: num(b[0] * 0.99), High: num(b[2] * 1.01), Unit: unit}
		row.Resolution, row.CanTell = resolution, row.Measured.ID != "adb"
		row.Open = &analysis.Shown{OverRange: row.Measured.Across != "R17", Value: 726e3}
		row.Short = &analysis.Shown{Value: 0.2}
		row.Why = "Read at once; nothing else is in the way."
		verdict(row, b)
	}
	j.Result.Suspects = []analysis.Suspect{
		{Faults: []analysis.Fault{{Part: "R13", Mode: profile.ModeOpen}}, Probability: 0.86},
		{Faults: []analysis.Fault{{Part: "R13", Mode: profile.ModeOpen}, {Part: "R14", Mode: profile.ModeHigh}}, Probability: 0.11},
		{Faults: []analysis.Fault{}, Probability: 0.004},
	}
	j.Result.Suspects[0].Words, j.Result.Suspects[0].Account = "R13 open", analysis.Account{Readings: 4, Shown: "“two blinks” fits."}
	j.Result.Suspects[1].Words, j.Result.Suspects[1].Account = "R13 open and R14 high", analysis.Account{Readings: 4,
		Misfits: []analysis.Misfit{{Row: 1, Place: "across R18", Read: "1.02 kΩ", Would: "1.00 kΩ"}}}
	j.Result.Sets = []analysis.Set{
		{Parts: []string{"R13"}, Probability: 0.86, Modes: j.Result.Suspects[:1]},
		{Parts: []string{"R13", "R14"}, Probability: 0.11, Modes: j.Result.Suspects[1:2]},
		{Probability: 0.004, Modes: j.Result.Suspects[2:]},
	}
	j.Result.Conclusion = analysis.Conclusion{Status: analysis.Found, Parts: []string{"R13"}, Why: "R13 reads open, and two blinks fit: the pin sits at 0 V."}
	j.Result.Next = nil
	return j
}

func verdict(row *analysis.Row, b [3]float64) {
	if row.Reading == nil {
		row.Why = ""
		return
	}
	row.Verdict = analysis.Conforming
	switch {
	case row.OverRange:
		row.Verdict, row.Why = analysis.Nonconforming, "Above what R13 can be: open, its joint, or the probe not on metal. Probe again."
	case row.Actual != nil && *row.Actual > b[2]*1.01:
		row.Verdict, row.Why = analysis.Nonconforming, "Half as much again as it may be: the part is high."
	case row.Reading.Moving != "":
		row.Verdict, row.Why = analysis.Inconclusive, "Still creeping; the settled value lies higher."
	}
}
