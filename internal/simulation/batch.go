package simulation

import (
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"ohmstead/internal/profile"
)

// Batch is boards to repair: the same numbers are the same boards and the same
// repairs, on any number of processors. What the analysis remembers of one board
// serves the next, so that a probability may differ in its eighth digit.
type Batch struct {
	World  World
	Boards int
	Faults int // planted on each, or Drawn
	Every  int // in place of drawn faults every single fault of the profile, or every so manieth; 0: not
	Seed   uint64
	Fixed  float64 // the share of boards that are read in the profile's order too
}

// Run repairs the boards, as many at a time as there are processors, and gives
// them in order.
func (t *Technician) Run(b Batch) []*Repair {
	boards := b.boards(t)
	out := make([]*Repair, len(boards))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(boards)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(boards); i = int(next.Add(1)) - 1 {
				repair := t.Repair
				if b.readInOrder(i) {
					repair = t.RepairBothWays
				}
				out[i] = repair(b.World, boards[i].rng, boards[i].defects...)
			}
		})
	}
	wg.Wait()
	return out
}

// planted is one board to be.
type planted struct {
	rng     *rand.Rand
	defects []profile.Defect
}

func (b *Batch) boards(t *Technician) []planted {
	var out []planted
	rng := func(i int) *rand.Rand { return rand.New(rand.NewPCG(b.Seed+uint64(i), 7)) }
	if b.Every > 0 {
		all := t.Every(rand.New(rand.NewPCG(b.Seed, 11)))
		for i := 0; i < len(all); i += b.Every {
			out = append(out, planted{rng(i), all[i : i+1]})
		}
		return out
	}
	for i := range b.Boards {
		r := rng(i)
		out = append(out, planted{r, t.Draw(b.World, r, b.Faults)})
	}
	return out
}

// readInOrder spreads the share over the boards.
func (b *Batch) readInOrder(i int) bool {
	const tiny = 1e-9
	return int(float64(i+1)*b.Fixed+tiny) > int(float64(i)*b.Fixed+tiny)
}
