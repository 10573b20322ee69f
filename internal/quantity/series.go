package quantity

import (
	"math"
	"slices"
)

// Series is a series of preferred values of IEC 60063, named by its members in
// a decade.
type Series int

// The series.
const (
	E3   Series = 3
	E6   Series = 6
	E12  Series = 12
	E24  Series = 24
	E48  Series = 48
	E96  Series = 96
	E192 Series = 192
)

// e24 is a table because the standard's E3 to E24 are not what a formula gives:
// eight of them are historical. E3 to E12 are every eighth, fourth and second.
var e24 = []int{
	100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300,
	330, 360, 390, 430, 470, 510, 560, 620, 680, 750, 820, 910,
}

// e192 is a table for the same reason, though only one member, 920, is not the
// rounded power of ten (919). E96 and E48 are every second and fourth.
var e192 = []int{
	100, 101, 102, 104, 105, 106, 107, 109, 110, 111, 113, 114,
	115, 117, 118, 120, 121, 123, 124, 126, 127, 129, 130, 132,
	133, 135, 137, 138, 140, 142, 143, 145, 147, 149, 150, 152,
	154, 156, 158, 160, 162, 164, 165, 167, 169, 172, 174, 176,
	178, 180, 182, 184, 187, 189, 191, 193, 196, 198, 200, 203,
	205, 208, 210, 213, 215, 218, 221, 223, 226, 229, 232, 234,
	237, 240, 243, 246, 249, 252, 255, 258, 261, 264, 267, 271,
	274, 277, 280, 284, 287, 291, 294, 298, 301, 305, 309, 312,
	316, 320, 324, 328, 332, 336, 340, 344, 348, 352, 357, 361,
	365, 370, 374, 379, 383, 388, 392, 397, 402, 407, 412, 417,
	422, 427, 432, 437, 442, 448, 453, 459, 464, 470, 475, 481,
	487, 493, 499, 505, 511, 517, 523, 530, 536, 542, 549, 556,
	562, 569, 576, 583, 590, 597, 604, 612, 619, 626, 634, 642,
	649, 657, 665, 673, 681, 690, 698, 706, 715, 723, 732, 741,
	750, 759, 768, 777, 787, 796, 806, 816, 825, 835, 845, 856,
	866, 876, 887, 898, 909, 920, 931, 942, 953, 965, 976, 988,
}

// Values gives the members of one decade in hundredths: 100 for 1.00 to 988 for
// 9.88. A number that is no series gives nil.
func (s Series) Values() []int {
	table := e24
	if s > E24 {
		table = e192
	}
	if !slices.Contains([]Series{E3, E6, E12, E24, E48, E96, E192}, s) {
		return nil
	}
	every := len(table) / int(s)
	values := make([]int, 0, s)
	for i := 0; i < len(table); i += every {
		values = append(values, table[i])
	}
	return values
}

// Contains tells whether x, above 0, is a member in any decade.
func (s Series) Contains(x float64) bool {
	near := s.Nearest(x)
	return math.Abs(near-x) <= 1e-9*x
}

// Nearest gives the member nearest to x, above 0, by ratio.
func (s Series) Nearest(x float64) float64 {
	decade := math.Floor(math.Log10(x))
	best := math.NaN()
	for _, exp := range []float64{decade - 1, decade, decade + 1} {
		for _, v := range s.Values() {
			member := decimalOf(v, int(exp)-2)
			if math.IsNaN(best) || math.Abs(math.Log(member/x)) < math.Abs(math.Log(best/x)) {
				best = member
			}
		}
	}
	return best
}

// Preferred tells whether x is a preferred value of any series.
func Preferred(x float64) bool { return E24.Contains(x) || E192.Contains(x) }

func decimalOf(v, exp int) float64 {
	if exp < 0 {
		return float64(v) / math.Pow10(-exp)
	}
	return float64(v) * math.Pow10(exp)
}
