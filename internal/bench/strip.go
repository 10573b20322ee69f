package bench

import "ohmstead/internal/analysis"

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

// Strip draws a block with what was read of it: in the state in which the board
// stands powered, or in the one that the block is about.
func (m *Model) Strip(j *Judgement, block, powered string) (*analysis.StripView, error) {
	if _, known := m.Profile.State(powered); !known {
		powered = ""
	}
	return m.engine.Strip(block, powered, j.Result.Table)
}
