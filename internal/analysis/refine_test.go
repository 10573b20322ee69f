package analysis

import (
	"testing"

	"ohmstead/internal/meter"
)

// A held supply settles the bus at 2.5 V × (3 MΩ + 19.6 kΩ)/19.6 kΩ = 385 V; with
// one of the three 1 MΩ at 1.3 MΩ at 423 V, the held node as ever (the rule of the
// divider). From 1.51 MΩ on the supply is at its limit of 450 V and the node sinks:
// the middle of the cell from ×1.2 to ×2.1 shows neither.
func TestCellWithABend(t *testing.T) {
	t.Parallel()
	m := NewModel(shipped(t, "packhorse-a"), meter.Default())
	r := m.weighed(t, "", "live-fb,2.478", "live-bus,423.1")
	if sum := r.chance("R11") + r.chance("R12") + r.chance("R13"); sum < 0.8 {
		t.Errorf("one of the chain is high: %.3f %+v", sum, r.Suspects)
	}
}
