package page

import (
	"encoding/hex"
	"math"
	"strconv"
	"strings"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/shop"
)

// RevisionPage is what is known of one revision: its current profile.
type RevisionPage struct {
	Frame       Frame
	Empty       bool // there is no profile yet
	Note        string
	Source      string // "Version 1f4a… of 3 Mar 2026 by Tobin: first reading of the board"
	Earlier     []string
	Unreadable  string // why the stored profile cannot be shown; "" it can
	Dangers     []string
	Stores      string // capacitors to discharge
	Indications []IndicationRow
	Blocks      []BlockRow
	Checks      []CheckRow
	Points      []PointRow
	Parts       []PartRow
}

// IndicationRow is what the board shows by itself.
type IndicationRow struct {
	Order   string
	Code    string
	Shows   string
	Meaning string
	Limits  string // when it is shown: "adc below 2.1 V or above 4.2 V, live"
	Blocks  string
	Normal  bool // normal on a bench
	Note    string
}

// BlockRow is what belongs together.
type BlockRow struct {
	Title  string
	Path   string
	Parts  string
	Safety bool
	Note   string
}

// CheckRow is a measurement that can be made.
type CheckRow struct {
	ID      string
	State   string
	Measure string
	Place   string
	How     string // "one leg lifted, probes swapped"
	Minutes string
	Note    string
}

// PointRow is a place to touch.
type PointRow struct{ Name, Node, Where, Note string }

// PartRow is a part.
type PartRow struct {
	Ref     string
	Kind    string
	Number  string // its value, and the unit in a column of its own
	Unit    string
	Within  string // tolerance, "±1 %"
	Package string
	Rating  string
	Where   string
	Note    string
	Print   string // what is printed on it
	Misfit  bool   // and does not fit its value
	Safety  bool
}

// NewRevision builds the page. lineage is the current profile version and those
// before it, newest first; it is empty when there is none. known is the current
// one read; nil with unreadable set when it cannot be.
func NewRevision(f Frame, rev shop.Revision, lineage []shop.Profile, known *profile.Profile, unreadable string) RevisionPage {
	f.Title = BoardName(rev.FamilyName, rev.Name) + ": nothing is known of this revision yet."
	p := RevisionPage{Frame: f, Empty: len(lineage) == 0, Unreadable: unreadable}
	if p.Empty {
		return p
	}
	p.Frame.Title = BoardName(rev.FamilyName, rev.Name)
	if title := lineage[0].FamilyTitle; title != "" {
		p.Frame.Title += ": " + title
	}
	p.Source = versionWords(lineage[0], f.Locale)
	for _, v := range lineage[1:] {
		p.Earlier = append(p.Earlier, versionWords(v, f.Locale))
	}
	if known == nil {
		return p
	}
	l := f.Locale
	p.Note, p.Stores = known.Note, strings.Join(known.StoredEnergy, ", ")
	p.Dangers = dangers(known)
	p.Indications = indicationRows(known, l)
	p.Blocks = blockRows(known)
	p.Checks = checkRows(known, l)
	for _, pt := range known.Points {
		p.Points = append(p.Points, PointRow{pt.Name, pt.Node, pt.Where, pt.Note})
	}
	p.Parts = partRows(known, l)
	return p
}

// versionWords says where a profile version came from and since when it counts.
func versionWords(v shop.Profile, l Locale) string {
	s := "Version " + hex.EncodeToString(v.SHA256[:min(4, len(v.SHA256))]) + " of " + l.Moment(v.CreatedAt)
	if v.Author != "" {
		s += ", by " + v.Author
	}
	if v.Reason != "" {
		s += ": " + v.Reason
	}
	return strings.TrimRight(s, ".") + "."
}

// dangers says which states are live where one would not expect it.
func dangers(k *profile.Profile) []string {
	var out []string
	for _, st := range k.States {
		if st.Hazard == profile.Hazardous && st.LiveCommon {
			out = append(out, "In the state “"+st.ID+"” every node is live, the common and the low-voltage side too.")
		}
	}
	return out
}

func indicationRows(k *profile.Profile, l Locale) []IndicationRow {
	var out []IndicationRow
	for i, in := range k.Indications {
		row := IndicationRow{Order: strconv.Itoa(i + 1), Code: in.Code, Shows: in.Shows, Meaning: in.Meaning,
			Normal: in.NormalOnBench, Note: in.Note, Blocks: blockTitles(k, in.Blocks)}
		var limits []string
		for _, lim := range in.Limits {
			limits = append(limits, limitWords(lim, l))
		}
		row.Limits = strings.Join(limits, "; ")
		out = append(out, row)
	}
	return out
}

// limitWords says when an indication is shown.
func limitWords(lim profile.Limit, l Locale) string {
	var ends []string
	if !math.IsInf(lim.Below, 0) {
		ends = append(ends, "below "+l.Decimal(quantity.Format(lim.Below, 0, quantity.Volt)))
	}
	if !math.IsInf(lim.Above, 0) {
		ends = append(ends, "above "+l.Decimal(quantity.Format(lim.Above, 0, quantity.Volt)))
	}
	return lim.Place + " " + strings.Join(ends, " or ") + ", " + lim.State
}

func blockTitles(k *profile.Profile, ids []string) string {
	var titles []string
	for _, id := range ids {
		title := id
		if b, ok := k.Block(id); ok && b.Title != "" {
			title = b.Title
		}
		titles = append(titles, title)
	}
	return strings.Join(titles, ", ")
}

func blockRows(k *profile.Profile) []BlockRow {
	var out []BlockRow
	for _, b := range k.Blocks {
		title := b.Title
		if title == "" {
			title = b.ID
		}
		out = append(out, BlockRow{Title: title, Path: strings.Join(b.Path, " → "), Parts: strings.Join(b.Parts, ", "), Safety: b.Safety, Note: b.Note})
	}
	return out
}

func checkRows(k *profile.Profile, l Locale) []CheckRow {
	var out []CheckRow
	for _, c := range k.Checks {
		row := CheckRow{ID: c.ID, State: c.State, Measure: MeasureWords(string(c.Measure)), Note: c.Note,
			Place:   placeName(profile.Check{Across: c.Across, Red: c.Red, Black: c.Black}),
			Minutes: l.Decimal(strconv.FormatFloat(c.Minutes, 'f', -1, 64))}
		var how []string
		if c.Lifted {
			how = append(how, "one leg lifted")
		}
		if c.Swapped {
			how = append(how, "probes swapped")
		}
		row.How = strings.Join(how, ", ")
		out = append(out, row)
	}
	return out
}

func partRows(k *profile.Profile, l Locale) []PartRow {
	var out []PartRow
	for _, part := range k.Parts {
		row := PartRow{Ref: part.Ref, Kind: strings.ReplaceAll(string(part.Kind), "_", " "),
			Package: part.Package, Where: part.Where, Note: part.Note, Safety: part.Safety}
		row.Number, row.Unit, row.Within = partValue(part, l)
		row.Print, row.Misfit = printWords(part, l)
		var rating []string
		if part.Rating.Volts > 0 {
			rating = append(rating, l.Decimal(quantity.Format(part.Rating.Volts, 0, quantity.Volt)))
		}
		if part.Rating.Watts > 0 {
			rating = append(rating, l.Decimal(quantity.Format(part.Rating.Watts, 0, quantity.Watt)))
		}
		row.Rating = strings.Join(rating, ", ")
		out = append(out, row)
	}
	return out
}

// partMain is the parameter by which people know a part of a kind, and its unit.
var partMain = map[profile.Kind]struct {
	name string
	unit quantity.Unit
}{
	profile.Resistor: {"value", quantity.Ohm}, profile.Capacitor: {"value", quantity.Farad}, profile.Inductor: {"resistance", quantity.Ohm},
	profile.Thermistor: {"value", quantity.Ohm}, profile.Diode: {"forward", quantity.Volt}, profile.LED: {"forward", quantity.Volt},
	profile.Bridge: {"forward", quantity.Volt}, profile.Zener: {"zener", quantity.Volt}, profile.Varistor: {"volts", quantity.Volt},
	profile.Regulator: {"volts", quantity.Volt}, profile.Optocoupler: {"ctr", quantity.Percent},
}

// partValue writes the value of a part and its tolerance.
func partValue(part profile.Part, l Locale) (number, unit, within string) {
	main, ok := partMain[part.Kind]
	if !ok {
		return "", "", ""
	}
	number, unit = quantity.Split(part.Param(main.name), 0, main.unit)
	if tol := part.Param("tolerance"); tol > 0 && !math.IsInf(tol, 0) {
		within = "±" + l.Decimal(quantity.Format(tol, 0, quantity.Percent))
	}
	return l.Decimal(number), unit, within
}
