package demo

import (
	"time"

	"ohmstead/internal/profile"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// earlier is a stay of which only the outcome matters today: what other boards of
// the family turned out to be.
type earlier struct {
	customer, profile, serial string
	days                      int // since it was taken in
	complaint, shows          string
	plant                     []profile.Defect
	who                       string   // at the bench
	read                      []string // checks, up to the one that showed it
	part, mode, words         string   // what was found; none when words are empty
	fit, price                string   // what was put in, and its price
	hours                     string   // of labour
	no                        bool     // the customer said no: returned unrepaired
}

func leaky(part string, ohms float64) profile.Defect {
	return profile.Defect{Part: part, Mode: profile.ModeLeaky, Size: ohms}
}

// history is told before the jobs of today, oldest first. Most of it shows two
// blinks, since that is what the chain of revision D is known for.
var history = []earlier{
	{customer: "tarn", profile: "sedge-d", serial: "SD-20118", days: 498, complaint: "Clicks on and stops at once.", shows: "two blinks, pause",
		plant: []profile.Defect{open("R12")}, who: "Tobin", read: []string{"r17", "r11", "r12"},
		part: "R12", mode: "open", words: "Second chip of the row open.", fit: "120k 1 % 1206 200 V, North Stock", price: "0.10", hours: "0.55"},
	{customer: "brack", profile: "sedge-d", serial: "SD-20233", days: 455, complaint: "Pump does not start.", shows: "two blinks, pause",
		plant: []profile.Defect{open("R15")}, who: "Pell", read: []string{"r11", "r12", "r13", "r14", "r15"},
		part: "R15", mode: "open", words: "Open under its end cap.", fit: "120k 1 % 1206 200 V, North Stock", price: "0.10", hours: "0.6"},
	{customer: "brack", profile: "sedge-f", serial: "SF-30019", days: 430, complaint: "Shows a bus fault, mains is fine.", shows: "two blinks, pause",
		plant: []profile.Defect{high("R11", 2.1)}, who: "Tobin", read: []string{"r17", "r11", "r12"},
		part: "R11", mode: "high", words: "Drifted to more than twice its value.", fit: "680k 1 % axial, South Stock", price: "0.60", hours: "0.6"},
	{customer: "holm", profile: "sedge-d", serial: "SD-20460", days: 402, complaint: "Only the lamp.", shows: "three blinks, pause",
		plant: []profile.Defect{open("R17")}, who: "Pell", read: []string{"r16", "r17"},
		part: "R17", mode: "open", words: "Corroded joint.", fit: "6.8k 1 % 0603, North Stock", price: "0.10", hours: "0.5"},
	{customer: "tarn", profile: "sedge-d", serial: "SD-20702", days: 361, complaint: "Stopped after the storm.", shows: "two blinks, pause",
		plant: []profile.Defect{leaky("U1-ADB", 3300)}, who: "Tobin", read: []string{"r17", "r11", "r12", "r13", "r14", "r15", "r16", "r18"},
		part: "U1-ADB", mode: "leaky", words: "The chain is good: the controller’s own pin leaks.", price: "85", hours: "1.5", no: true},
	{customer: "brack", profile: "sedge-d", serial: "SD-21390", days: 322, complaint: "Runs for an hour, then two blinks.", shows: "two blinks, pause",
		plant: []profile.Defect{open("R11")}, who: "Tobin", read: []string{"r17", "r11"},
		part: "R11", mode: "open", words: "Bus end of the row, brown around it.", fit: "120k 1 % 1206 200 V, North Stock", price: "0.10", hours: "0.45"},
	{customer: "quill", profile: "hearth-2", serial: "H2-7402", days: 300, complaint: "Room temperature wrong.", shows: "ROOM",
		plant: []profile.Defect{open("R31")}, who: "Pell", read: []string{"ntc1", "r31"},
		part: "R31", mode: "open", words: "Open.", fit: "10k 1 % 0603, North Stock", price: "0.10", hours: "0.5"},
	{customer: "tarn", profile: "sedge-d", serial: "SD-21511", days: 263, complaint: "Two blinks, sometimes runs.", shows: "2",
		who: "Pell", read: []string{"r17", "r11", "r12", "r13", "r14", "r15", "r16"}, price: "0", hours: "0.9"},
	{customer: "tarn", profile: "sedge-d", serial: "SD-21511", days: 241, complaint: "The same again.", shows: "two blinks, pause",
		plant: []profile.Defect{open("R16")}, who: "Tobin", read: []string{"r17", "r16"},
		part: "R16", mode: "open", words: "Opens when it is warm; found with a hair dryer.", fit: "set of six, 120k 1 % 1206 200 V", price: "0.60", hours: "0.7"},
	{customer: "brack", profile: "sedge-d", serial: "SD-21640", days: 214, complaint: "Does not start.", shows: "two blinks, pause",
		plant: []profile.Defect{open("R13")}, who: "Tobin", read: []string{"r17", "r11", "r12", "r13"},
		part: "R13", mode: "open", words: "Open under its end cap.", fit: "set of six, 120k 1 % 1206 200 V", price: "0.60", hours: "0.7"},
	{customer: "fenwick", profile: "sedge-d", serial: "SD-21702", days: 182, complaint: "Red lamp blinks twice.", shows: "two blinks, pause",
		who: "Pell", read: []string{"r17", "r11", "r12", "r13", "r14", "r15", "r16"},
		words: "Board is good: the supply cable of the pump house drops to 190 V.", price: "0", hours: "0.5"},
	{customer: "tarn", profile: "sedge-d", serial: "SD-21818", days: 133, complaint: "Clicks and stops.", shows: "two blinks, pause",
		plant: []profile.Defect{open("R14")}, who: "Pell", read: []string{"r17", "r11", "r12", "r13", "r14"},
		part: "R14", mode: "open", words: "Fourth of the row open.", fit: "120k 1 % 1206 200 V, North Stock", price: "0.10", hours: "0.55"},
}

// tell lives through an earlier stay.
func (e earlier) tell(s *stay) {
	s.later(3*time.Hour).move(e.who, shop.OnBench, "").prove(e.who, discharged).read(e.who, "f1").read(e.who, e.read...)
	if e.words != "" {
		s.found(e.who, e.part, e.mode, e.words)
	}
	if e.fit != "" {
		s.fit(e.who, e.part, e.fit).prove(e.who, discharged).read(e.who, e.read[len(e.read)-1])
	}
	lines := []price{examination, labour("Finding the fault", e.hours)}
	if e.fit != "" {
		lines = append(lines, credit)
	}
	if e.price != "0" {
		lines = append(lines, price{quote.Part, "Parts", "1", e.price})
	}
	s.quoted(e.who, lines...)
	if e.no {
		s.move(e.who, shop.WaitingForYes, "The total is above the limit.").later(20*time.Hour).answered(quote.No).
			move("Mirela", shop.ToHandOver, "").later(20*time.Hour).handedOver(shop.ReturnedUnrepaired, "Returned as it came, as wished.")
		return
	}
	s.later(time.Hour).move(e.who, shop.ToHandOver, "").later(20*time.Hour).handedOver(shop.HandedOver, "See the readings.")
}

// job makes a stay of it that can be begun.
func (e earlier) job() job {
	return job{customer: e.customer, profile: e.profile, serial: e.serial, ago: time.Duration(e.days) * day, complaint: e.complaint, shows: e.shows,
		condition: "good", bay: "A2", limit: 120, plant: e.plant, then: e.tell}
}
