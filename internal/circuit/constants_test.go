package circuit

import (
	"math"
	"testing"
)

// The thermal volts kT/q of a junction are those of 300 K to the digits of the file
// formats, with k and q of the SI of 2019 (exact): 25.85199979 mV.
func TestThermalVolts(t *testing.T) {
	t.Parallel()
	const k, q = 1.380649e-23, 1.602176634e-19
	volts := func(kelvin float64) float64 { return k * kelvin / q }
	for kelvin, want := range map[float64]float64{298.15: 25.69257912e-3, 293.15: 25.26171246e-3, 300: 25.85199979e-3} {
		if got := volts(kelvin); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("%g K: %.8f mV, want %.8f", kelvin, got*1e3, want*1e3)
		}
	}
	if math.Abs(ThermalVolts-volts(300)) > 0.005e-3 {
		t.Errorf("%g mV, want %.4f to two decimals", ThermalVolts*1e3, volts(300)*1e3)
	}
	// A junction's current grows tenfold for every n·kT/q·ln 10 of forward volts: at
	// 25 °C and n = 1 that is 59.1593 mV.
	if got := volts(298.15) * math.Ln10; math.Abs(got-59.1593e-3) > 5e-8 {
		t.Errorf("%.4f mV a decade", got*1e3)
	}
	decade := Ideality * ThermalVolts * math.Ln10
	if got := Saturation(0.6) / Saturation(0.6+decade); math.Abs(got-10) > 1e-4 {
		t.Errorf("a junction that drops one decade more leaks %.5f times less, want 10", got)
	}
}
