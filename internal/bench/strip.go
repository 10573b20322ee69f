package bench

import (
	"math"

	"ohmstead/internal/analysis"
	"ohmstead/internal/profile"
)

// Block chooses the block whose strip is drawn: the one asked for, or the first
// of the shown indication, or the profile's first that has a path. It is empty
// when there is none.
func (m *Model) Block(asked, code string) string {
	hasPath := func(id string) bool {
		b, ok := m.Profile.Block(id)
		return ok && len(b.Path) > 0
	}
	if hasPath(asked) {
		return asked
	}
	for _, in := range m.Profile.Indications {
		if in.Code != code {
			continue
		}
		for _, id := range in.Blocks {
			if hasPath(id) {
				return id
			}
		}
	}
	for _, b := range m.Profile.Blocks {
		if len(b.Path) > 0 {
			return b.ID
		}
	}
	return ""
}

// Strip draws a block with what was read of it.
func (m *Model) Strip(j *Judgement, id string) *analysis.StripView {
	b, ok := m.Profile.Block(id)
	if !ok {
		return nil
	}
	v := &analysis.StripView{Block: b, State: &m.Profile.States[0]}
	for _, name := range b.Path {
		st := analysis.Stage{Name: name}
		if part, ok := m.Profile.Part(name); ok {
			st.Part = part
		} else {
			st.Node, _ = m.Profile.Node(name)
			st.Level.Typical = math.NaN()
		}
		for _, row := range j.Result.Table {
			if st.Part != nil && row.Measured.Across == name && !row.Measured.Lifted ||
				st.Part == nil && row.Measured.RedNode == st.Node && row.Measured.Measure == profile.MeasureDCVolts {
				st.Rows = append(st.Rows, row)
			}
		}
		v.Stages = append(v.Stages, st)
	}
	return v
}
