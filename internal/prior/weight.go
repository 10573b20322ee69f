package prior

import (
	"math"

	"ohmstead/internal/profile"
)

// MostFaults is the largest number of faults at once that has a probability.
const MostFaults = 3

// Count gives the probability that a board which was brought in has so many
// faults: 6, 76, 14 and 4 %. An estimate for boards that a customer found wrong.
func Count(faults int) float64 {
	return [MostFaults + 1]float64{0.06, 0.76, 0.14, 0.04}[faults]
}

// Weight gives the weight of a mode of a part before any stress: √rate × share
// of the mode. The root keeps classes that fail a thousand times less often in
// sight. A mode that the kind does not have weighs 0.
func Weight(p *profile.Part, mode profile.Mode, t Table) float64 {
	c := classOf(p)
	s, ok := published[t][c]
	if !ok {
		s = published[Handbook][c]
	}
	return math.Sqrt(rates[c]) * s[mode]
}

// Stress gives the factor by which a part fails more often for the volts that
// stand across it: 1 without any, 3 at its working voltage and beyond. Where the
// file gives no working voltage, that of its package counts (common practice, no
// source).
func Stress(p *profile.Part, volts float64) float64 {
	rated := p.Rating.Volts
	if rated == 0 {
		rated = usual(p)
	}
	share := min(math.Abs(volts)/rated, 1)
	return 1 + 2*share*share
}

// usual gives the working voltage of a package.
func usual(p *profile.Part) float64 {
	switch p.Package {
	case "0603":
		return 75
	case "0805":
		return 150
	case "1206":
		return 200
	}
	return 350
}

// capacitors of at least so many farads count as electrolytic.
const electrolyticFrom = 0.9e-6

func classOf(p *profile.Part) class {
	switch p.Kind {
	case profile.Resistor:
		if p.Rating.Watts >= 1 {
			return powerResistor
		}
		return filmResistor
	case profile.Capacitor:
		switch {
		case p.Package == "X2":
			return plasticFilm
		case p.Param("value") >= electrolyticFrom:
			return electrolytic
		}
		return ceramic
	}
	return classes[p.Kind]
}

var classes = map[profile.Kind]class{
	profile.Thermistor: thermistor, profile.Inductor: coil, profile.Diode: diode, profile.Bridge: rectifier,
	profile.Zener: zener, profile.LED: led, profile.Varistor: varistor, profile.Fuse: fuse, profile.Link: link,
	profile.Opamp: linear, profile.Comparator: linear, profile.Regulator: supply,
	profile.NPN: bipolar, profile.PNP: bipolar, profile.NMOS: mosfet, profile.PMOS: mosfet, profile.IGBT: mosfet,
	profile.Optocoupler: optocoupler, profile.InputPin: controllerPins,
}

// widest is how far the weights of two faults may lie apart.
const widest = 20

// Cap raises weights that are more than 20 times below the greatest, so that no
// class of fault is buried. Weights of 0 stay.
func Cap(weights []float64) {
	most := 0.0
	for _, w := range weights {
		most = max(most, w)
	}
	for i, w := range weights {
		if w > 0 {
			weights[i] = max(w, most/widest)
		}
	}
}
