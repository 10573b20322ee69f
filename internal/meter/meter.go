package meter

// Meter is one instrument, as its file describes it. All values are in base
// units (ohms, volts, amperes, hertz); accuracies are fractions of the reading.
type Meter struct {
	Name        string
	Category    string  // as written, such as "CAT III 600 V"; may be empty
	RatedVolts  float64 // the volts of the category; 0 when the file gives none
	Resistance  Resistance
	Diode       Diode
	DCVolts     Volts
	ACVolts     Volts
	Capacitance Impedance
	ESR         Impedance
}

// Resistance is the ohmmeter: a voltage behind the reference resistor of the
// range, red positive.
type Resistance struct {
	OpenCircuit float64 // volts
	Ranges      []Range // upward; the first whose full scale holds the reading is used
}

// Range is one range of the ohmmeter.
type Range struct {
	FullScale  float64 // ohms
	Reference  float64 // ohms, behind the test voltage
	Accuracy   float64 // fraction of the reading
	Counts     float64 // of the resolution, beside Accuracy
	Resolution float64 // ohms
}

// Diode is the diode check: an ideal current, OL at the compliance voltage.
type Diode struct {
	Current    float64 // amperes
	Compliance float64 // volts
	Accuracy   float64 // fraction of the reading
	Counts     float64
	Resolution float64 // volts
}

// Volts is a voltmeter, DC or AC.
type Volts struct {
	InputResistance float64 // ohms
	Accuracy        float64 // fraction of the reading
	Counts          float64
	Steps           []Step // upward
}

// Step is one range of a voltmeter: up to this many volts it shows this
// resolution. Beyond the last step the meter shows OL.
type Step struct {
	UpTo       float64 // volts
	Resolution float64 // volts
}

// Impedance is a capacitance or ESR check at one frequency; its resolution is
// 1/6000 of the decade of the reading.
type Impedance struct {
	Frequency float64 // hertz
	Accuracy  float64 // fraction of the reading
	Counts    float64
}
