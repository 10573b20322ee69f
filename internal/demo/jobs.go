package demo

import (
	"math"
	"time"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// job is one board's stay: what the counter wrote down, what is really wrong
// with the board, and how far the work has come.
type job struct {
	customer, profile, serial string
	ago                       time.Duration // since it was taken in
	complaint, when, shows    string
	condition, with, touched  string
	bay                       string
	limit                     int64 // whole euro; 0: the standing limit, or ask first
	promised                  int   // days from today; 0: not promised
	plant                     []profile.Defect
	try                       string // what is worth trying with the ticket
	then                      func(*stay)
}

const day = 24 * time.Hour

const discharged = 0.03 // volts left on the bus

func open(part string) profile.Defect {
	return profile.Defect{Part: part, Mode: profile.ModeOpen, Size: math.Inf(1)}
}

func short(part string) profile.Defect {
	return profile.Defect{Part: part, Mode: profile.ModeShort, Size: 0.2}
}

func high(part string, factor float64) profile.Defect {
	return profile.Defect{Part: part, Mode: profile.ModeHigh, Size: factor}
}

// jobs are told in the order in which the boards came in, so that ticket numbers
// follow.
var jobs = []job{
	{ // the first stay of the board that comes back below
		customer: "brack", profile: "sedge-d", serial: "SD-21873", ago: 71 * day,
		complaint: "Drive clicks on and stops at once.", shows: "two blinks, pause", condition: "dust, otherwise good",
		bay: "A2", promised: -68, plant: []profile.Defect{open("R13")},
		then: func(s *stay) {
			s.later(3*time.Hour).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				read("Tobin", "f1", "bus", "r17", "r11", "r12", "r13", "r14").
				found("Tobin", "R13", "open", "Chain chip open under its end cap.").
				fit("Tobin", "R13", "120k 1 % 1206 200 V, North Stock").
				prove("Tobin", discharged).read("Tobin", "r13", "chain").
				power("Tobin", "live").read("Tobin", "live-bus", "live-vb", "live-adb").power("Tobin", "").prove("Tobin", discharged).
				quoted("Tobin", examination, credit, price{quote.Part, "R13, chip resistor 120 kΩ", "1", "0.10"}, labour("Finding and replacing R13", "0.55")).
				later(time.Hour).move("Tobin", shop.ToHandOver, "").
				later(20*time.Hour).handedOver(shop.HandedOver, "One chip of the bus sensing chain was open and has been replaced. Bus reading and controller agree again.")
		},
	},
	{
		customer: "holm", profile: "sedge-d", serial: "SD-20461", ago: 9 * day,
		complaint: "Trips the breaker as soon as it is switched on.", when: "at once, since the storm",
		condition: "scorched near the module", with: "cover, four screws", bay: "C1", limit: 90, promised: -2,
		plant: []profile.Defect{short("QM1d"), open("F1")},
		then: func(s *stay) {
			s.later(2*day).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				seen("Tobin", "QM1", "burnt").
				read("Tobin", "f1", "rv1", "bus", "qm1-u-plus", "qm1-v-plus", "qm1-w-plus", "qm1-minus-u", "qm1-minus-v", "qm1-minus-w").
				found("Tobin", "QM1d", "short", "Module: lower switch of phase U shorted, took F1 with it.").
				quoted("Tobin", examination, credit, price{quote.Part, "Output module", "1", "48"},
					price{quote.Part, "F1, fuse", "1", "1.20"}, labour("Module, fuse, test under load", "1.4")).
				move("Tobin", shop.WaitingForYes, "The total is above the limit.")
		},
	},
	{
		customer: "tarn", profile: "sedge-f", serial: "SF-30117", ago: 6 * day,
		complaint: "Runs, but stops when the pump has to work hard.", when: "after some minutes under load", shows: "three blinks now and then",
		condition: "good", bay: "Soak 1", promised: 1, plant: []profile.Defect{high("R17", 1.6)},
		then: func(s *stay) {
			s.later(day).move("Pell", shop.OnBench, "").prove("Pell", discharged).
				read("Pell", "r11", "r12", "r17", "r18").
				found("Pell", "R17", "high", "Lower leg of the bus divider drifted high.").
				fit("Pell", "R17", "8.2k 1 % 0603, North Stock").
				prove("Pell", discharged).read("Pell", "r17").
				power("Pell", "live").read("Pell", "live-bus", "live-vb", "live-adb").power("Pell", "").prove("Pell", discharged).
				quoted("Pell", examination, credit, price{quote.Part, "R17, chip resistor 8.2 kΩ", "1", "0.10"}, labour("Finding and replacing R17", "0.6")).
				later(time.Hour).move("Pell", shop.OnSoak, "")
		},
	},
	{
		customer: "brack", profile: "sedge-d", serial: "SD-22950", ago: 5 * day,
		complaint: "Hums, lamp goes out under load.", when: "under load", condition: "two capacitors bulged",
		bay: "B1", promised: 2,
		then: func(s *stay) {
			s.later(day).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				seen("Tobin", "C2", "bulged").seen("Tobin", "C3", "bulged").
				read("Tobin", "f1", "rt1", "bus").
				found("Tobin", "C2", "tired", "Bus capacitors bulged and dry.").
				move("Tobin", shop.WaitingForPart, "Three 330 µF 400 V ordered from South Stock, four days.")
		},
	},
	{
		customer: "tarn", profile: "sedge-d", serial: "SD-21006", ago: 4 * day,
		complaint: "Dead half the time, then runs for a day.", when: "when it is damp", shows: "three blinks",
		condition: "corrosion at the edge", bay: "Out", promised: -1, plant: []profile.Defect{open("R17")},
		then: func(s *stay) {
			s.later(day).move("Pell", shop.OnBench, "").prove("Pell", discharged).
				seen("Pell", "R17", "corroded").
				read("Pell", "r16", "r17", "r18").
				found("Pell", "R17", "open", "Lower leg of the bus divider open, corroded joint.").
				fit("Pell", "R17", "6.8k 1 % 0603, North Stock").
				prove("Pell", discharged).read("Pell", "r17").
				power("Pell", "live").read("Pell", "live-bus", "live-vb", "live-adb").power("Pell", "").prove("Pell", discharged).
				quoted("Pell", examination, credit, price{quote.Part, "R17, chip resistor 6.8 kΩ", "1", "0.10"},
					price{quote.Part, "Cleaning and recoating", "1", "1.50"}, labour("Finding and replacing R17, recoating", "0.8")).
				later(2*time.Hour).move("Pell", shop.ToHandOver, "")
		},
	},
	{ // three channels at the rail: one part, not three
		customer: "tarn", profile: "sedge-f", serial: "SF-30342", ago: 3 * day,
		complaint: "Will not start since last week.", shows: "four blinks, pause", condition: "good", bay: "B2", promised: 1,
		plant: []profile.Defect{open("R28")},
		try:   "three channels at 3.28 V; think of what they share",
		then: func(s *stay) {
			s.later(2*day).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				read("Tobin", "f1", "bus", "rsu", "rsv", "rsw").
				power("Tobin", "rails").read("Tobin", "rails-v33", "rails-oiu", "rails-oiv", "rails-oiw").power("Tobin", "")
		},
	},
	{ // one volt left on the bus
		customer: "brack", profile: "sedge-f", serial: "SF-30288", ago: 2 * day,
		complaint: "Shows a bus fault although the mains is fine.", shows: "two blinks, pause", condition: "good", bay: "B4", promised: 3,
		try: "one volt was left on the bus: a good 680 k reads OL one way round and far too low the other",
		then: func(s *stay) {
			residue := 1.02
			s.later(day).move("Pell", shop.OnBench, "").prove("Pell", residue).
				readAs("Pell", "r11", func(r *evidence.Reading) { over(r, residue) }).
				readAs("Pell", "r11", func(r *evidence.Reading) { swappedLow(r, residue) })
		},
	},
	{ // the current reference hides a loose thermistor
		customer: "fenwick", profile: "sedge-d", serial: "SD-19922", ago: 2 * day,
		complaint: "Stopped during the night, red lamp blinks.", shows: "four blinks, pause", condition: "dusty",
		with: "thermistor lead on a ring terminal", bay: "B3", limit: 120, promised: 2,
		plant: []profile.Defect{open("R36"), open("NTC1")},
		try:   "curing the four blinks uncovers five: two faults, one behind the other",
		then: func(s *stay) {
			s.later(day).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				read("Tobin", "f1", "bus", "r35").
				power("Tobin", "rails").read("Tobin", "rails-v5", "rails-vr").power("Tobin", "")
		},
	},
	{ // the meter is part of the circuit
		customer: "quill", profile: "hearth-2", serial: "H2-7714", ago: 44 * time.Hour,
		complaint: "Room temperature is shown far too high.", shows: "ROOM", condition: "soot", with: "both probes", bay: "D1", promised: 2,
		plant: []profile.Defect{high("R32", 22000)},
		try:   "2.50 V at one end of R32, far less at the other: the meter is part of the circuit",
		then: func(s *stay) {
			s.later(18*time.Hour).move("Pell", shop.OnBench, "").prove("Pell", discharged).
				read("Pell", "f1", "primary", "r31", "ntc1").
				power("Pell", "rails").read("Pell", "rails-v5", "rails-rm", "rails-adr").power("Pell", "")
		},
	},
	{ // the probe of revision 3 on a board of revision 2
		customer: "quill", profile: "hearth-2", serial: "H2-7650", ago: 40 * time.Hour,
		complaint: "Lights, then gives up with IGN. The probe is new.", shows: "IGN", condition: "good", with: "new flue probe",
		touched: "fitter, probe replaced", bay: "D2", promised: 3, plant: []profile.Defect{high("TC1", 274)},
		try: "the new flue probe belongs to revision 3",
		then: func(s *stay) {
			s.later(16*time.Hour).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				read("Tobin", "f1", "tc1")
		},
	},
	{ // a regulated node always looks right
		customer: "maddow", profile: "packhorse-a", serial: "PA-1188", ago: 30 * time.Hour,
		complaint: "Charger gets hot and smells.", when: "after an hour", condition: "capacitors warm to the touch before", bay: "E1", promised: 3,
		plant: []profile.Defect{high("R12", 1.3)},
		try:   "the feedback stands at a perfect 2.50 V; look at what it holds",
		then: func(s *stay) {
			s.later(8*time.Hour).move("Tobin", shop.OnBench, "").prove("Tobin", discharged).
				read("Tobin", "f1", "r11", "r14").
				power("Tobin", "live").read("Tobin", "live-fb").power("Tobin", "")
		},
	},
	{ // one of two shunts
		customer: "maddow", profile: "packhorse-a", serial: "PA-1203", ago: 28 * time.Hour,
		complaint: "Takes all night to charge.", condition: "good", bay: "E2", promised: 4,
		plant: []profile.Defect{open("RS1")},
		try:   "no lamp at all, half the current: what does the controller believe?",
		then:  func(s *stay) { s.later(time.Hour).move("Mirela", shop.OnShelf, "") },
	},
	{ // nothing wrong with the board
		customer: "maddow", profile: "packhorse-c", serial: "PC-0417", ago: 26 * time.Hour,
		complaint: "Does not charge, BATT blinks slowly.", shows: "BATT slow", condition: "good",
		with: "note: battery read 21 V", bay: "E3", promised: 4,
		try:  "the battery that it was tried on had 21 V: perhaps nothing is wrong here",
		then: func(s *stay) { s.later(time.Hour).move("Mirela", shop.OnShelf, "") },
	},
	{ // another of the six chips, on day 71
		customer: "brack", profile: "sedge-d", serial: "SD-21873", ago: day,
		complaint: "The same as before: clicks on and stops.", shows: "two blinks, pause", condition: "good", bay: "A1", promised: 3,
		plant: []profile.Defect{open("R15")},
		try:   "back on day 71: another of the six chips; the old readings are on its earlier ticket",
		then:  func(s *stay) { s.later(time.Hour).move("Mirela", shop.OnShelf, "") },
	},
	{
		customer: "tarn", profile: "sedge-d", serial: "SD-23310", ago: 5 * time.Hour,
		complaint: "Pump does not start, red lamp blinks.", when: "at once", shows: "two blinks, pause",
		condition: "good", with: "cover", bay: "A3", promised: 2,
		plant: []profile.Defect{open("R14")},
		try:   "take it to the bench: two blinks, one chip of the sensing chain is open",
		then:  func(s *stay) { s.later(30*time.Minute).move("Mirela", shop.OnShelf, "") },
	},
	{
		customer: "holm", profile: "sedge-d", serial: "SD-22417", ago: 2 * time.Hour,
		complaint: "Worked yesterday, today only the lamp.", shows: "three blinks, pause", condition: "good", bay: "A4", limit: 120, promised: 4,
		plant: []profile.Defect{open("R17")},
		try:   "three blinks: the controller believes full scale; find the leg that is missing",
		then:  func(*stay) {},
	},
}

var (
	examination = price{quote.Fee, "Examination", "1", "25"}
	credit      = price{quote.Fee, "Examination credited, since it was repaired", "-1", "25"}
)

func labour(what, hours string) price { return price{quote.Labour, what, hours, "54"} }

// over makes a reading that charge has driven over the meter's range.
func over(r *evidence.Reading, residue float64) {
	r.Typed, r.OverRange, r.Value, r.Residue = "OL", true, nil, &residue
}

// swappedLow makes the same check with the probes the other way round, where
// the charge adds to the meter's own voltage.
func swappedLow(r *evidence.Reading, residue float64) {
	v := 118e3
	r.CheckKey, r.Swapped, r.Typed, r.OverRange, r.Value = "", true, "118k", false, &v
	left := -residue
	r.Residue = &left
}
