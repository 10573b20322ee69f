package analysis

import "ohmstead/internal/profile"

// table makes one row per reading in file order, then the checks of the
// profile that were not read.
func (m *Model) table(readings []Reading) []Row {
	rows := []Row{}
	seen := map[profile.Key]bool{}
	for i := range readings {
		r := &readings[i]
		if r.Bare() {
			continue
		}
		seen[r.Check.Key()] = true
		if r.NotPossible {
			continue
		}
		rows = append(rows, m.row(r.Check, r))
	}
	for _, c := range m.profile.Checks {
		if !seen[c.Key()] {
			rows = append(rows, m.row(c, nil))
		}
	}
	return rows
}

// row judges one reading, or describes a check that was not read (nil).
func (m *Model) row(c profile.Check, r *Reading) Row {
	row := Row{Check: refOf(c), Measured: c, Reading: r}
	if r != nil {
		row.OverRange = r.Value.OverRange
		if !r.Value.OverRange {
			v := r.Value.Number
			row.Actual = &v
		}
	}
	return row
}

// refOf names a check as the formats write it.
func refOf(c profile.Check) CheckRef {
	return CheckRef{
		ID: c.ID, State: c.State, Measure: c.Measure, Across: c.Across,
		Red: c.Red, Black: c.Black, Lifted: c.Lifted, Swapped: c.Swapped,
	}
}
