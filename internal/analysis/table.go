package analysis

import "ohmstead/internal/profile"

// Table is the table of an answer alone, for those who need no suspects: one row
// per reading in file order, then the checks of the profile that were not read.
func (m *Model) Table(readings []Reading) []Row {
	type line struct {
		check   profile.Check
		reading *Reading
	}
	var lines []line
	var checks []profile.Check
	seen := map[profile.Key]bool{}
	add := func(c profile.Check, r *Reading) {
		lines = append(lines, line{c, r})
		checks = append(checks, c)
	}
	for i := range readings {
		r := &readings[i]
		if r.Bare() {
			continue
		}
		seen[r.Check.Key()] = true
		if !r.NotPossible {
			add(r.Check, r)
		}
	}
	for _, c := range m.profile.Checks {
		if !seen[c.Key()] {
			add(c, nil)
		}
	}
	m.assessAll(checks, func(profile.Check) []setting { return nil })
	m.assessAll(checks, func(c profile.Check) []setting { return m.settingsOf(c, readings) })
	rows := []Row{}
	for _, l := range lines {
		rows = append(rows, m.row(l.check, l.reading, readings))
	}
	return rows
}

// row judges one reading, or describes a check that was not read (nil). all are
// the board's readings, by which sources are known.
func (m *Model) row(c profile.Check, r *Reading, all []Reading) Row {
	row := Row{Check: refOf(c), Measured: c, Reading: r}
	plain := m.assess(c, nil)
	here := plain
	settings := m.settingsOf(c, all)
	if len(settings) > 0 && plain.err == nil {
		if narrow := m.assess(c, settings); narrow.err == nil && narrow.differs(plain) {
			here = narrow
			row.ExpectedHere = here.band(c)
		} else {
			settings = nil
		}
	}
	if plain.err == nil {
		row.Expected = plain.band(c)
		row.Guard = Band{Low: here.guardLow.number(), Typical: here.typical.number(), High: here.guardHigh.number(), Unit: c.Measure.Unit()}
		row.Resolution = here.spread.at(here.nominal.Value).Resolution
	}
	row.CanTell, row.Open, row.Short, row.Telling, row.Settling = here.canTell, here.open, here.short, here.telling, here.settling
	if r == nil {
		row.Why = m.whyUnread(c, here)
		return row
	}
	row.OverRange = r.Value.OverRange
	if !r.Value.OverRange {
		v := r.Value.Number
		row.Actual = &v
	}
	verdict, why := here.judge(c, r)
	also := ""
	if verdict == Nonconforming {
		also = m.charge(r, here, all)
	}
	row.Verdict, row.Why = verdict, m.explain(c, r, here, why, settings, also)
	return row
}

// differs tells whether two bands are not the same.
func (a *assessment) differs(b *assessment) bool {
	return a.low != b.low || a.typical != b.typical || a.high != b.high
}

// band gives the band as the result shows it.
func (a *assessment) band(c profile.Check) *Band {
	return &Band{Low: a.low.number(), Typical: a.typical.number(), High: a.high.number(), Unit: c.Measure.Unit()}
}

// number gives a displayed number, nil when it is over-range.
func (s Shown) number() *float64 {
	if s.OverRange {
		return nil
	}
	return &s.Value
}

// refOf names a check as the formats write it.
func refOf(c profile.Check) CheckRef {
	return CheckRef{
		ID: c.ID, State: c.State, Measure: c.Measure, Across: c.Across,
		Red: c.Red, Black: c.Black, Lifted: c.Lifted, Swapped: c.Swapped,
	}
}
