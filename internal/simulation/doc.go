// Package simulation repairs simulated boards: parts somewhere within tolerance,
// planted faults, a meter with its error, and a technician who makes the check
// that the analysis offers first until it concludes, makes a reading again where
// a conclusion asks for that, fits what was found and measures again until the
// board is called healthy. It counts how often the analysis was right.
//
// It knows the truth about a board, which the analysis never sees. It knows no
// people and no history: those of the demo shop are made elsewhere.
//
// What the figures mean:
//
//   - A check reveals a fault when an instrument without error reads outside the
//     guard band of good boards there, and elsewhere than on this very board
//     without the fault. Boards of which nothing is revealed count for condemned
//     parts and for calibration only.
//   - A first conclusion is exact when it names the bad parts and no good one, or
//     when that set is one of the groups which no check tells apart. A bad part
//     that no check would reveal, were it the only one, may be left out.
//   - A good part is condemned when a conclusion "found" names it. Of parts that
//     nothing tells apart the technician exchanges all: needless, not condemned.
//   - A faulty part is missed when it is still there at the end and some check
//     would reveal it.
//   - The fixed order is the profile's list, unpowered checks first, with the same
//     analysis asked after every reading from the first odd one on.
package simulation
