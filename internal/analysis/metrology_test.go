package analysis

import (
	"math"
	"testing"

	"ohmstead/internal/meter"
)

// deviation is the standard deviation of a distribution.
func deviation(boxes []box) float64 {
	sum, mean := 0.0, 0.0
	for _, b := range boxes {
		sum += b.weight * (b.centre*b.centre + b.half*b.half/3)
		mean += b.weight * b.centre
	}
	return math.Sqrt(sum - mean*mean)
}

// normalOf is a normal distribution, made of 600 uniforms.
func normalOf(sd float64) []float64 {
	halves := make([]float64, 600)
	for i := range halves {
		halves[i] = sd * math.Sqrt(3.0/600)
	}
	return halves
}

// TestPropagation holds the covariance of two forecasts to the simultaneous
// measurement of resistance and reactance of the GUM (JCGM 100:2008, H.2, tables
// H.2 to H.4; the uncertainties as printed there and recomputed from the data in
// full). Voltage, current and phase are correlated: every set of readings is a
// tolerance that all three have in common, so that R, X and Z have it too. The
// uncertainty of X is printed 0.295 there, which is that of averaging X itself.
func TestPropagation(t *testing.T) {
	t.Parallel()
	data := [][3]float64{ // V, A, rad
		{5.007, 19.663e-3, 1.0456}, {4.994, 19.639e-3, 1.0438}, {5.005, 19.640e-3, 1.0468},
		{4.990, 19.685e-3, 1.0428}, {4.999, 19.678e-3, 1.0433},
	}
	n := float64(len(data))
	var mean [3]float64
	for _, row := range data {
		for i, x := range row {
			mean[i] += x / n
		}
	}
	z, cos, sin := mean[0]/mean[1], math.Cos(mean[2]), math.Sin(mean[2])
	slopes := [3][3]float64{ // of R, X and Z by V, I and φ
		{cos / mean[1], -z * cos / mean[1], -z * sin},
		{sin / mean[1], -z * sin / mean[1], z * cos},
		{1 / mean[1], -z / mean[1], 0},
	}
	common, apart := make([]forecast, 3), make([]forecast, 3) // with and without the correlations
	for q, slope := range slopes {
		for k, row := range data {
			both := 0.0
			for i := range row {
				pull1 := slope[i] * (row[i] - mean[i]) * math.Sqrt(3/(n*(n-1)))
				both += pull1
				apart[q].pulls = append(apart[q].pulls, pull{param: int32(3*k + i), slope: float32(pull1)})
			}
			common[q].pulls = append(common[q].pulls, pull{param: int32(k), slope: float32(both)})
		}
	}
	v := &view{}
	u := func(f []forecast, a int) float64 { return math.Sqrt(v.covariance(&f[a], &f[a])) }
	r := func(a, b int) float64 {
		return v.covariance(&common[a], &common[b]) / (u(common, a) * u(common, b))
	}
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"u(R)", u(common, 0), 0.0710714, 1e-6},
		{"u(X)", u(common, 1), 0.2955817, 1e-6},
		{"u(Z)", u(common, 2), 0.2363361, 1e-6},
		{"r(R, X)", r(0, 1), -0.5884298, 2e-6},
		{"r(R, Z)", r(0, 2), -0.4852592, 2e-6},
		{"r(X, Z)", r(1, 2), 0.9925116, 2e-6},
		{"u(R), correlations ignored", u(apart, 0), 0.19454, 1e-4},
		{"u(X), correlations ignored", u(apart, 1), 0.20091, 1e-4},
		{"u(Z), correlations ignored", u(apart, 2), 0.20408, 1e-4},
	} {
		if math.Abs(c.got/c.want-1) > c.tol {
			t.Errorf("%s: %.7f, want %.7f", c.name, c.got, c.want)
		}
	}
}

// TestTypeBOfTheGUM: rectangular limits of a handbook, a voltmeter's specification
// and its readings' own scatter together (GUM 4.3.7, 5.1.5), rounding to a digit.
func TestTypeBOfTheGUM(t *testing.T) {
	t.Parallel()
	volts := meter.Volts{Accuracy: 14e-6, Counts: 2, Steps: []meter.Step{{UpTo: 1, Resolution: 1e-6}}} // 14·10⁻⁶ of the reading, 2·10⁻⁶ of the range
	half := volts.At(0.928571).Half
	digit := (&spread{boxes: []box{{weight: 1}}}).coarser(0.5)
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"coefficient ±0.40·10⁻⁶/K", deviation(sumOfUniforms([]float64{0.40e-6})), 0.23094e-6, 1e-5},
		{"half-width of the voltmeter", half, 15.0e-6, 1e-3},
		{"u of the voltmeter", deviation(sumOfUniforms([]float64{half})), 8.66e-6, 1e-3},
		{"with a scatter of 12 µV", deviation(sumOfUniforms(append(normalOf(12e-6), half))), 14.80e-6, 2e-3},
		{"a digit", deviation(digit.boxes), 0.288675, 1e-6},
	} {
		if math.Abs(c.got/c.want-1) > c.tol {
			t.Errorf("%s: %.6g, want %.6g", c.name, c.got, c.want)
		}
	}
}

// TestCoverage: how far from the middle so many lie. The sums are those of the GUM's
// Supplement 1 (tables 2 and 3: four normal, four rectangular distributions of unit
// variance), the certificate that of GUM 4.3.4 (±129 µΩ at 99 %: u 50 µΩ), the rest
// the factors of a normal distribution.
func TestCoverage(t *testing.T) {
	t.Parallel()
	four := []float64{math.Sqrt(3), math.Sqrt(3), math.Sqrt(3), math.Sqrt(3)}
	for _, c := range []struct {
		name          string
		halves        []float64
		share         float64
		want, u, rels float64
	}{
		{"four normal", normalOf(2), 0.95, 3.92, 2, 2e-3},
		{"four rectangular", four, 0.95, 3.88, 2, 2e-3},
		{"certificate, µΩ", normalOf(50.08), 0.99, 129, 50.08, 2e-3},
		{"normal, 95 %", normalOf(1), 0.95, 1.960, 1, 2e-3},
		{"normal, 95.45 %", normalOf(1), 0.9545, 2.000, 1, 2e-3},
		{"normal, 99 %", normalOf(1), 0.99, 2.576, 1, 2e-3},
		{"normal, 99.73 %", normalOf(1), 0.9973, 3.000, 1, 3e-3},
	} {
		d := spreadOf(c.halves...)
		low, high := d.quantile((1-c.share)/2).Value, d.quantile((1+c.share)/2).Value
		if got := (high - low) / 2; math.Abs(got/c.want-1) > c.rels || math.Abs(deviation(d.boxes)/c.u-1) > 1e-3 {
			t.Errorf("%s: ±%.4f, want ±%.4f; u %.4f, want %.4f", c.name, got, c.want, deviation(d.boxes), c.u)
		}
	}
}

// TestConformityTwoSided: the probability of lying within two limits T apart, by the
// capability T/4u and where between them the reading stands (JCGM 106:2012, § 8,
// recomputed).
func TestConformityTwoSided(t *testing.T) {
	t.Parallel()
	normal := spreadOf(normalOf(1)...)
	for capability, want := range map[float64]map[float64]float64{
		1: {0.05: 0.5792, 0.10: 0.6553, 0.25: 0.8400, 0.50: 0.9545},
		2: {0.05: 0.6554, 0.10: 0.7881, 0.25: 0.9772, 0.50: 0.9999},
		4: {0.05: 0.7881, 0.10: 0.9452, 0.25: 1.0000, 0.50: 1.0000},
	} {
		for at, p := range want {
			apart := 4 * capability
			if got := normal.below((1-at)*apart) - normal.below(-at*apart); math.Abs(got-p) > 2e-4 {
				t.Errorf("capability %g at %g: %.5f, want %.4f", capability, at, got, p)
			}
		}
	}
}
