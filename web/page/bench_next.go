package page

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/profile"
)

// NextList is the readings worth taking next, the best first.
type NextList struct {
	Best   NextLine
	Others []NextLine
}

// NextLine is one reading worth taking.
type NextLine struct {
	ID      string // of the check
	Title   string // "TP9: DC volts, live"
	Address string // puts it at hand
	AtHand  bool
	Cost    string // "about 1 min, after 5 min to set up “live”: dangerous volts"
	Red     Probe
	Black   Probe
	Good    string      // what a good board reads; "" when that cannot be said
	Would   []WouldLine // what suspects would read, likeliest first
	Gain    string      // "tells most of what is open"
	Why     string
}

// WouldLine is what a suspect would read.
type WouldLine struct{ Words, Reads string }

// nextOf makes the list; nil when the engine proposes nothing.
func nextOf(in BenchInput) *NextList {
	res := in.Judged.Result
	if len(res.Next) == 0 {
		return nil
	}
	open := openBits(res.Sets)
	var lines []NextLine
	for _, n := range res.Next {
		lines = append(lines, nextLine(in, n, open))
	}
	return &NextList{Best: lines[0], Others: lines[1:]}
}

func nextLine(in BenchInput, n analysis.Next, open float64) NextLine {
	c, l := n.Measured, in.Locale
	line := NextLine{ID: c.ID, Title: checkTitle(in.Model.Profile, c), AtHand: c.ID != "" && c.ID == in.Check,
		Cost: costWords(in, c), Gain: gainWords(n.GainBits, open), Why: l.sentence(clearsWords(in, n))}
	if c.ID != "" {
		line.Address = checkAddress(in.Story.Ticket.Number, c.ID)
	}
	line.Red, line.Black = probesOf(in.Model.Profile, c)
	if row := in.row(c); row != nil {
		band := row.ExpectedHere
		if band == nil {
			band = row.Expected
		}
		line.Good = textsOf(band, row.Resolution).good(l)
	}
	line.Would = wouldOf(in, n)
	return line
}

func wouldOf(in BenchInput, n analysis.Next) []WouldLine {
	var out []WouldLine
	for _, w := range n.Would {
		out = append(out, WouldLine{w.Words, in.Locale.sentence(w.Reads)})
	}
	return out
}

// proposed finds a check among those proposed; nil when it is not.
func (in BenchInput) proposed(c profile.Check) *analysis.Next {
	if in.Judged == nil {
		return nil
	}
	for i := range in.Judged.Result.Next {
		if n := &in.Judged.Result.Next[i]; n.Measured.Key() == c.Key() {
			return n
		}
	}
	return nil
}

// costWords says what a check takes: minutes, what has to be set up before, and
// whether that is dangerous.
func costWords(in BenchInput, c profile.Check) string {
	text := "about " + strconv.FormatFloat(math.Max(c.Minutes, 0.5), 'f', -1, 64) + " min"
	if c.Lifted {
		text += ", one leg lifted"
	}
	st, ok := in.Model.Profile.State(c.State)
	if !ok || st.ID == profile.Cold {
		return in.Locale.Decimal(text)
	}
	if bench.Powered(in.Story) != st.ID && st.SetupMinutes > 0 {
		text += ", after " + strconv.FormatFloat(st.SetupMinutes, 'f', -1, 64) + " min to set up “" + st.ID + "”"
	}
	if st.Hazard == profile.Hazardous {
		text += "; dangerous volts"
	}
	return text
}

// openBits is how much is not known about which parts are bad, in bits; what is
// not listed counts as one more set.
func openBits(sets []analysis.Set) float64 {
	rest, bits := 1.0, 0.0
	add := func(p float64) {
		if p > 0 {
			bits -= p * math.Log2(p)
		}
	}
	for _, s := range sets {
		add(s.Probability)
		rest -= s.Probability
	}
	add(rest)
	return bits
}

// gainWords says how much a check is expected to tell of that.
func gainWords(bits, open float64) string {
	switch {
	case open <= 0:
		return ""
	case bits >= 0.7*open:
		return "tells most of what is open"
	case bits >= 0.3*open:
		return "tells a good part of what is open"
	}
	return "tells a little of what is open"
}

// sentence writes a text of the engine for the page: numbers with the shop's
// decimal mark, and never a line's end between a number and its unit.
func (l Locale) sentence(text string) string {
	var b strings.Builder
	runes := []rune(text)
	digit := func(k int) bool { return k >= 0 && k < len(runes) && runes[k] >= '0' && runes[k] <= '9' }
	for i, r := range runes {
		switch {
		case r == '.' && digit(i-1) && digit(i+1):
			b.WriteString(l.Decimal("."))
		case r == ' ' && digit(i-1) && i+1 < len(runes) && strings.ContainsRune("%ΩVAFkMmµnp", runes[i+1]):
			b.WriteRune('\u00a0')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// clearsWords says what a reading without any of the foreseen faults means.
func clearsWords(in BenchInput, n analysis.Next) string {
	text := "About " + n.Leaves
	if len(n.Clears) == 0 {
		return text + " clears what is suspected."
	}
	text += " clears " + listed(n.Clears)
	if sets := in.Judged.Result.Sets; len(sets) > 0 && len(sets[0].Parts) > 0 && sets[0].Probability >= 0.2 &&
		!slices.ContainsFunc(sets[0].Parts, func(ref string) bool { return slices.Contains(n.Clears, ref) }) {
		text += " and leaves " + setWords(sets[0])
	}
	return text + "."
}

// listed joins names in a sentence.
func listed(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// in names a place in a sentence: "TP3 (left of U2)".
func (p Probe) in() string {
	if p.Where == "" {
		return p.On
	}
	return p.On + " (" + p.Where + ")"
}
