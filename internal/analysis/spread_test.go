package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/meter"
	"pgregory.net/rapid"
)

func sqrt(x float64) float64 { return math.Sqrt(x) }

// fine is a display with digits so fine that they do not matter.
func fine(value float64) meter.Reading {
	return meter.Reading{Value: value, Resolution: 1e-12, Least: math.Inf(-1), Most: math.Inf(1)}
}

func spreadOf(halves ...float64) *spread {
	return &spread{boxes: sumOfUniforms(halves), most: math.Inf(1), at: fine}
}

// TestSumOfUniforms compares quantiles with closed forms: one uniform, two equal
// ones (triangle), two unequal ones (trapezium), three equal ones, and many,
// which tend to the normal quantile 2.5758 (NIST tables).
func TestSumOfUniforms(t *testing.T) {
	t.Parallel()
	many := make([]float64, 300)
	for i := range many {
		many[i] = 0.1
	}
	tests := []struct {
		name   string
		halves []float64
		p      float64
		want   float64
	}{
		{"one", []float64{2}, 0.995, 2 * 0.99},
		{"two equal", []float64{1, 1}, 0.995, 2 - math.Sqrt(8*0.005)},
		{"two unequal", []float64{68, 111.2}, 0.005, -(179.2 - math.Sqrt(0.005*8*68*111.2))},
		{"three equal", []float64{1, 1, 1}, 0.9995, 3 - math.Cbrt(48*0.0005)},
		{"a small one beside", []float64{1, 1e-9}, 0.9995, 0.999},
		{"many", many, 0.995, 2.5758 * 0.1 * math.Sqrt(300.0/3)},
		{"none", nil, 0.3, 0},
	}
	for _, tt := range tests {
		got := spreadOf(tt.halves...).quantile(tt.p).Value
		if math.Abs(got-tt.want) > 0.004*math.Abs(tt.want)+1e-9 {
			t.Errorf("%s: %.5f, want %.5f", tt.name, got, tt.want)
		}
	}
}

// TestSumHasItsVariance: the grid keeps Σ a²/3, whatever the sizes, and stays
// symmetric.
func TestSumHasItsVariance(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		halves := rapid.SliceOfN(rapid.Float64Range(1e-6, 100), 1, 40).Draw(t, "halves")
		want, mean, got, total := 0.0, 0.0, 0.0, 0.0
		for _, a := range halves {
			want += a * a / 3
		}
		for _, b := range sumOfUniforms(halves) {
			total += b.weight
			mean += b.weight * b.centre
			got += b.weight * (b.centre*b.centre + b.half*b.half/3)
		}
		if math.Abs(got-want) > 2e-3*want || math.Abs(mean) > 1e-6*math.Sqrt(want) || math.Abs(total-1) > 1e-9 {
			t.Errorf("variance %g, want %g; mean %g; weight %g", got, want, mean, total)
		}
	})
}

// TestTypeB: a rectangular half-width a has a standard uncertainty of a/√3, two
// together a triangle a/√6, and a meter of 0.5 % + 2 counts of 0.01 V at 12.00 V
// a half-width of 0.080 V: 0.0461880 V (GUM 4.3.7, 4.3.9).
func TestTypeB(t *testing.T) {
	t.Parallel()
	deviation := func(halves ...float64) float64 {
		sum := 0.0
		for _, b := range sumOfUniforms(halves) {
			sum += b.weight * (b.centre*b.centre + b.half*b.half/3)
		}
		return math.Sqrt(sum)
	}
	volts := meter.Volts{InputResistance: 10e6, Accuracy: 0.005, Counts: 2, Steps: []meter.Step{{UpTo: 60, Resolution: 0.01}}}
	half := volts.At(12).Half
	tests := []struct {
		name      string
		got, want float64
	}{
		{"rectangle", deviation(1), 0.577350},
		{"triangle", deviation(0.5, 0.5), 0.408248},
		{"the meter's half-width", half, 0.080},
		{"the meter's uncertainty", deviation(half), 0.0461880},
	}
	for _, tt := range tests {
		if math.Abs(tt.got-tt.want) > 1e-5*tt.want {
			t.Errorf("%s: %.7f, want %.7f", tt.name, tt.got, tt.want)
		}
	}
}

// TestQuantilesInOrder: quantiles rise with p, below is their inverse, and
// over-range stands above every number.
func TestQuantilesInOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := &spread{most: math.Inf(1), at: fine}
		n := rapid.IntRange(1, 20).Draw(t, "boxes")
		total := 0.0
		for range n {
			b := box{rapid.Float64Range(-100, 100).Draw(t, "centre"), rapid.Float64Range(1e-3, 10).Draw(t, "half"), rapid.Float64Range(0.01, 1).Draw(t, "weight")}
			d.boxes = append(d.boxes, b)
			total += b.weight
		}
		d.over = rapid.Float64Range(0, 0.5).Draw(t, "over")
		for i := range d.boxes {
			d.boxes[i].weight *= (1 - d.over) / total
		}
		last := Shown{Value: math.Inf(-1)}
		for _, p := range []float64{0.0005, 0.005, 0.1, 0.5, 0.9, 0.995, 0.9995} {
			q := d.quantile(p)
			if q.less(last) {
				t.Errorf("quantile %g is %v, below %v", p, q, last)
			}
			if q.OverRange != (p > 1-d.over) && math.Abs(p-1+d.over) > 1e-9 {
				t.Errorf("quantile %g is %v with %g over-range", p, q, d.over)
			}
			if !q.OverRange && math.Abs(d.below(q.Value)-p) > 1e-6 {
				t.Errorf("quantile %g is %v, below it lies %g", p, q, d.below(q.Value))
			}
			last = q
		}
	})
}

// TestOutside: what lies outside a band counts by displayed digits: half a digit
// beyond its ends still shows the end. A band from 0 has nothing below, one to
// OL nothing above.
func TestOutside(t *testing.T) {
	t.Parallel()
	ohms := meter.Default().Resistance
	d := &spread{boxes: []box{{centre: 100, half: 10, weight: 0.9}}, over: 0.1, most: 60e6, at: ohms.At}
	tests := []struct {
		low, high Shown
		want      float64
	}{
		{Shown{Value: 90}, Shown{Value: 110}, 0.1},
		{Shown{Value: 95}, Shown{Value: 200}, 0.1 + 0.9*(4.95/20)},
		{Shown{Value: 0}, Shown{Value: 105}, 0.1 + 0.9*(4.95/20)},
		{Shown{Value: 95}, Shown{OverRange: true}, 0.9 * (4.95 / 20)},
		{Shown{OverRange: true}, Shown{OverRange: true}, 0.9},
	}
	for _, tt := range tests {
		if got := d.outside(tt.low, tt.high); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("outside %v to %v lies %.6f, want %.6f", tt.low, tt.high, got, tt.want)
		}
	}
}
