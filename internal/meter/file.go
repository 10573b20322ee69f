package meter

import (
	"regexp"
	"strconv"

	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// Format is the first line of every meter file.
const Format = "ohmstead/meter/1"

// maxSteps is how many ranges a meter may have for one measure.
const maxSteps = 16

// Load reads a meter file. name is for messages. The error is written.Errors:
// everything found wrong, each with file, line and column.
func Load(name string, src []byte) (*Meter, error) {
	tree, err := written.YAML(name, src)
	if err != nil {
		return nil, err
	}
	var errs written.Errors
	r := reader{written.Fields{Errs: &errs}}
	m := r.meter(tree)
	if err := errs.Err(); err != nil {
		return nil, err
	}
	return m, nil
}

// reader turns the tree of a meter file into a Meter.
type reader struct {
	written.Fields
}

func (r reader) meter(n *written.Node) *Meter {
	if !r.IsMap(n, "a meter", "format", "name", "category", "resistance", "diode", "dc_volts", "ac_volts", "capacitance", "esr") {
		return nil
	}
	if format := r.Need(n, "format"); format != Format && format != "" {
		r.Errs.Add(n.Get("format").Position, format, "not the format of a meter", Format)
	}
	m := &Meter{Name: r.Need(n, "name"), Category: r.Text(n, "category")}
	m.RatedVolts = r.rated(n.Get("category"))
	if s := r.section(n, "resistance", "open_circuit", "ranges"); s != nil {
		m.Resistance = r.resistance(s)
	}
	if s := r.section(n, "diode", "current", "compliance", "accuracy", "counts", "resolution"); s != nil {
		m.Diode = Diode{
			Current:    r.Value(s, written.Rule{Name: "current", Unit: quantity.Ampere, Required: true}),
			Compliance: r.Value(s, written.Rule{Name: "compliance", Unit: quantity.Volt, Required: true}),
			Resolution: r.Value(s, written.Rule{Name: "resolution", Unit: quantity.Volt, Required: true}),
		}
		m.Diode.Accuracy, m.Diode.Counts = r.accuracy(s)
	}
	m.DCVolts = r.volts(n, "dc_volts")
	m.ACVolts = r.volts(n, "ac_volts")
	m.Capacitance = r.impedance(n, "capacitance")
	m.ESR = r.impedance(n, "esr")
	return m
}

// section gives a map that must be there, nil when it is not.
func (r reader) section(n *written.Node, key string, keys ...string) *written.Node {
	s := n.Get(key)
	if s == nil {
		r.Errs.Add(n.Position, "", key+" is missing", "")
		return nil
	}
	if !r.IsMap(s, key, keys...) {
		return nil
	}
	return s
}

// accuracy reads "±(percentage of the reading + counts)".
func (r reader) accuracy(n *written.Node) (fraction, counts float64) {
	fraction = r.Value(n, written.Rule{Name: "accuracy", Unit: quantity.Percent, Required: true, Zero: true})
	counts = r.Value(n, written.Rule{Name: "counts", Unit: quantity.Plain, Required: true, Zero: true})
	return fraction, counts
}

func (r reader) resistance(n *written.Node) Resistance {
	out := Resistance{OpenCircuit: r.Value(n, written.Rule{Name: "open_circuit", Unit: quantity.Volt, Required: true})}
	items := r.List(n.Get("ranges"), "ranges", maxSteps)
	if len(items) == 0 {
		r.Errs.Add(n.Position, "", "ranges are missing", "a list of ranges, upward")
	}
	for _, item := range items {
		if !r.IsMap(item, "a range", "full_scale", "reference", "accuracy", "counts", "resolution") {
			continue
		}
		ohms := func(name string) float64 {
			return r.Value(item, written.Rule{Name: name, Unit: quantity.Ohm, Required: true})
		}
		g := Range{FullScale: ohms("full_scale"), Reference: ohms("reference"), Resolution: ohms("resolution")}
		g.Accuracy, g.Counts = r.accuracy(item)
		if k := len(out.Ranges); k > 0 && g.FullScale <= out.Ranges[k-1].FullScale && g.FullScale > 0 {
			r.Errs.Add(item.Get("full_scale").Position, item.Get("full_scale").Text, "the ranges do not go upward", "more than the range before")
		}
		out.Ranges = append(out.Ranges, g)
	}
	return out
}

func (r reader) volts(n *written.Node, key string) Volts {
	s := r.section(n, key, "input_resistance", "accuracy", "counts", "resolution")
	if s == nil {
		return Volts{}
	}
	out := Volts{InputResistance: r.Value(s, written.Rule{Name: "input_resistance", Unit: quantity.Ohm, Required: true})}
	out.Accuracy, out.Counts = r.accuracy(s)
	const expected = "pairs of volts and resolution, such as [[6, 1m], [60, 10m]]"
	items := r.List(s.Get("resolution"), "resolution", maxSteps)
	if len(items) == 0 {
		r.Errs.Add(s.Position, "", "resolution is missing", expected)
	}
	rule := written.Rule{Name: "resolution", Unit: quantity.Volt}
	for _, item := range items {
		if item.Kind != written.List || len(item.Items) != 2 {
			r.Errs.Add(item.Position, item.Text, "not a pair", expected)
			continue
		}
		step := Step{UpTo: r.Number(item.Items[0], rule), Resolution: r.Number(item.Items[1], rule)}
		if k := len(out.Steps); k > 0 && step.UpTo <= out.Steps[k-1].UpTo && step.UpTo > 0 {
			r.Errs.Add(item.Position, item.Items[0].Text, "the ranges do not go upward", "more than the range before")
		}
		out.Steps = append(out.Steps, step)
	}
	return out
}

func (r reader) impedance(n *written.Node, key string) Impedance {
	s := r.section(n, key, "frequency", "accuracy", "counts")
	if s == nil {
		return Impedance{}
	}
	out := Impedance{Frequency: r.Value(s, written.Rule{Name: "frequency", Unit: quantity.Hertz, Required: true})}
	out.Accuracy, out.Counts = r.accuracy(s)
	return out
}

// category is how IEC 61010-1 measurement categories are printed on a meter.
var category = regexp.MustCompile(`^CAT (?:II|III|IV) ([0-9]{2,4}) V$`)

// rated gives the volts of the category, 0 when the file has none.
func (r reader) rated(n *written.Node) float64 {
	if n == nil {
		return 0
	}
	found := category.FindStringSubmatch(n.Text)
	if found == nil {
		r.Errs.Add(n.Position, n.Text, "not a measurement category", "CAT II, III or IV and volts, such as CAT III 600 V")
		return 0
	}
	volts, _ := strconv.Atoi(found[1]) // the expression lets only digits through
	return float64(volts)
}
