package circuit

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The oracle is ngspice, a general-purpose circuit simulator of other people's
// making, in batch mode: five hundred random circuits over the kinds of element,
// solved there and here. Nothing but this test uses it.

// oracleCircuits and how many of them one run of the simulator takes.
const (
	oracleCircuits = 500
	oracleBatch    = 25
)

// TestAgainstSimulator compares every held node of random circuits: to 10 ppm or
// 10 µV where all is linear, to 0.1 % or 0.2 mV with junctions.
func TestAgainstSimulator(t *testing.T) {
	t.Parallel()
	simulator := oracle(t)
	compared, floating, unanswered := 0, 0, 0
	for first := 0; first < oracleCircuits; first += oracleBatch {
		var batch []*oracleCircuit
		for seed := first; seed < first+oracleBatch; seed++ {
			batch = append(batch, newOracleCircuit(uint64(seed)))
		}
		for i, theirs := range simulate(t, simulator, batch) {
			if !sensible(theirs) {
				unanswered++
				continue
			}
			c, f := batch[i].compare(t, theirs)
			compared, floating = compared+c, floating+f
		}
	}
	t.Logf("%d nodes compared, %d float, %d circuits that the simulator did not solve", compared, floating, unanswered)
	if unanswered > oracleCircuits/50 || compared < 10*oracleCircuits {
		t.Errorf("%d nodes compared, %d circuits not solved by the simulator: too little to say that we agree", compared, unanswered)
	}
}

// sensible tells whether the simulator gave an answer: none is missing, and no
// node stands at more than ten kilovolts, which it gives where it did not
// converge.
func sensible(volts map[string]float64) bool {
	for _, v := range volts {
		if math.Abs(v) > 1e4 {
			return false
		}
	}
	return len(volts) > 0
}

// oracleCircuit is one circuit in both languages.
type oracleCircuit struct {
	*builder
	seed  uint64
	rng   *rand.Rand
	deck  strings.Builder // the simulator's elements
	rails []string
	nodes []string
	n     int
	bent  bool
}

func newOracleCircuit(seed uint64) *oracleCircuit {
	o := &oracleCircuit{builder: build(), seed: seed, rng: newRand(seed)}
	o.nodes = []string{"0"}
	for range 1 + o.rng.IntN(3) {
		o.rail()
	}
	for range 3 + o.rng.IntN(12) {
		o.branch()
	}
	for range o.rng.IntN(6) {
		o.bridge()
	}
	if seed%4 != 0 { // a quarter stays linear
		for range 1 + o.rng.IntN(6) {
			o.bentElement()
		}
	}
	return o
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

func (o *oracleCircuit) name(letter string) string {
	o.n++
	return fmt.Sprintf("%s%d", letter, o.n)
}

func (o *oracleCircuit) any() string { return o.nodes[o.rng.IntN(len(o.nodes))] }

func (o *oracleCircuit) ohms() float64 {
	return math.Round(math.Pow(10, o.uniform(0, 6))*1000) / 1000
}

func (o *oracleCircuit) uniform(low, high float64) float64 { return low + (high-low)*o.rng.Float64() }

func (o *oracleCircuit) line(format string, args ...any) { fmt.Fprintf(&o.deck, format+"\n", args...) }

func (o *oracleCircuit) resistor(a, b string, ohms float64) {
	o.r(a, b, ohms)
	o.line("%s %s %s %g", o.name("R"), a, b, ohms)
}

// rail adds a source against ground, mostly a low voltage, sometimes a bus.
func (o *oracleCircuit) rail() {
	node := o.name("s")
	volts := o.uniform(1, 24)
	if o.rng.IntN(5) == 0 {
		volts = o.uniform(100, 400)
	}
	o.v(node, "0", volts)
	o.line("%s %s 0 DC %g", o.name("V"), node, volts)
	o.rails, o.nodes = append(o.rails, node), append(o.nodes, node)
}

// branch adds a node that hangs on an existing one.
func (o *oracleCircuit) branch() {
	node, at := o.name("n"), o.any()
	o.resistor(at, node, o.ohms())
	o.nodes = append(o.nodes, node)
}

func (o *oracleCircuit) bridge() {
	if a, b := o.any(), o.any(); a != b {
		o.resistor(a, b, o.ohms())
	}
}

// bentElement adds an element that is not linear, with resistors at its ends
// where it could otherwise short a rail.
func (o *oracleCircuit) bentElement() {
	o.bent = true
	kinds := []func(){o.diode, o.diode, o.zener, o.varistor, o.bipolar, o.opamp, o.optocoupler, o.open, o.current, o.mosfet, o.igbt, o.regulator, o.holding}
	kinds[o.rng.IntN(len(kinds))]()
}

// guarded gives a new node behind a resistor from any node.
func (o *oracleCircuit) guarded() string {
	node, at := o.name("g"), o.any()
	o.resistor(at, node, math.Max(o.ohms(), 50))
	return node
}

func (o *oracleCircuit) spiceDiode(a, k string, forward float64) {
	model := o.name("dm")
	o.line("%s %s %s %s", o.name("D"), a, k, model)
	o.line(".model %s D(IS=%.12g N=1.8 RS=0.1)", model, Saturation(forward))
}

func (o *oracleCircuit) diode() {
	a, k, f := o.guarded(), o.any(), o.uniform(0.3, 1.9)
	o.d(a, k, f)
	o.spiceDiode(a, k, f)
	o.nodes = append(o.nodes, a)
}

func (o *oracleCircuit) zener() {
	a, k, f, vz := o.any(), o.guarded(), o.uniform(0.55, 0.75), o.uniform(3, 30)
	o.d(a, k, f).Breakdown = vz
	o.spiceDiode(a, k, f)
	mid := o.name("z")
	o.line("%s %s %s 0.1", o.name("R"), k, mid)
	o.line("%s %s %s I=1e-3*exp(min((v(%s)-v(%s)-%g)/0.02585,60))", o.name("B"), mid, a, mid, a, vz)
	o.nodes = append(o.nodes, k)
}

func (o *oracleCircuit) varistor() {
	x, y, v := o.guarded(), o.any(), o.uniform(10, 300)
	o.Add(&Varistor{Name: "RV", A: o.Node(x), B: o.Node(y), Volts: v})
	d := fmt.Sprintf("(v(%s)-v(%s))", x, y)
	o.line("%s %s %s I=1e-3*sgn(%s)*(abs(%s)/%g)^30", o.name("B"), x, y, d, d, v)
	o.nodes = append(o.nodes, x)
}

func (o *oracleCircuit) bipolar() {
	b, c, e := o.guarded(), o.guarded(), o.guarded()
	gain, forward := o.uniform(20, 400), o.uniform(0.55, 0.75)
	q := NewTransistor("Q", o.Node(b), o.Node(c), o.Node(e), gain, forward)
	q.PNP = o.rng.IntN(2) == 0
	o.Add(q)
	model, kind := o.name("qm"), "NPN"
	if q.PNP {
		kind = "PNP"
	}
	o.line("%s %s %s %s %s", o.name("Q"), c, b, e, model)
	o.line(".model %s %s(IS=%.12g BF=%.12g BR=1 NF=1.8 NR=1.8)", model, kind, q.Is, gain)
	o.nodes = append(o.nodes, b, c, e)
}

// opamp adds an inverting stage or a follower, so that there is one solution.
func (o *oracleCircuit) opamp() {
	rail, in, out := o.rails[o.rng.IntN(len(o.rails))], o.any(), o.name("o")
	plus, minus := o.any(), out
	if o.rng.IntN(2) == 0 {
		minus = o.name("i")
		r := o.ohms() + 100
		o.resistor(in, minus, r)
		o.resistor(minus, out, r*o.uniform(0.1, 10))
	}
	o.resistor(out, "0", o.ohms()+1e3)
	low, high := o.uniform(0.005, 0.2), o.uniform(0.02, 0.5)
	o.Add(&Amplifier{
		Name: "U", Plus: o.Node(plus), Minus: o.Node(minus), Out: o.Node(out), SupplyPlus: o.Node(rail), SupplyMinus: o.Node("0"),
		Gain: 1e5, OutOhms: 10, HeadroomHigh: high, HeadroomLow: low,
	})
	inner := o.name("a")
	o.line("%s %s 0 V=min(max(1e5*(v(%s)-v(%s)),%g),v(%s)-%g)", o.name("B"), inner, plus, minus, low, rail, high)
	o.line("%s %s %s 10", o.name("R"), inner, out)
	o.nodes = append(o.nodes, out)
}

func (o *oracleCircuit) optocoupler() {
	a, k, c, e := o.guarded(), o.any(), o.guarded(), o.any()
	f, ratio := o.uniform(1, 1.3), o.uniform(0.2, 3)
	led := o.d(a, k, f)
	o.Add(&Coupler{Name: "U", Collector: o.Node(c), Emitter: o.Node(e), LED: led, Ratio: ratio})
	sense, meter := o.name("m"), o.name("V")
	o.line("%s %s %s DC 0", meter, a, sense)
	o.spiceDiode(sense, k, f)
	o.line("%s %s %s I=%.12g*max(i(%s),0)*tanh((v(%s)-v(%s))/0.1)", o.name("B"), c, e, ratio, meter, c, e)
	o.nodes = append(o.nodes, a, c)
}

// open adds the open-collector output of a comparator, between plain levels.
func (o *oracleCircuit) open() {
	out := o.guarded()
	high := o.rng.IntN(2) == 0
	plus, minus := o.name("c"), o.name("c")
	levels := map[bool][2]float64{true: {2, 1}, false: {1, 2}}[high]
	for i, node := range []string{plus, minus} {
		o.v(node, "0", levels[i])
		o.line("%s %s 0 DC %g", o.name("V"), node, levels[i])
	}
	o.Add(&Gate{Name: "U", A: o.Node(out), B: o.Node("0"), Control: o.Node(minus), Reference: o.Node(plus), Ohms: 10, Drop: 0.1, OneWay: true})
	pull := 0.0
	if !high {
		pull = 0.1
	}
	o.line("%s %s 0 I=%g*max(v(%s)-0.1,0)", o.name("B"), out, pull, out)
	o.nodes = append(o.nodes, out)
}

// current adds a source of current with a ceiling: below it, it gives the
// current; at it, the volts.
func (o *oracleCircuit) current() {
	node, amps := o.name("k"), math.Pow(10, o.uniform(-6, -2))
	load := o.uniform(0.1, 0.9) * 30 / amps
	o.i(node, "0", amps, 30)
	o.line("%s 0 %s DC %.12g", o.name("I"), node, amps)
	o.resistor(node, "0", load)
	o.nodes = append(o.nodes, node)
}

// gate adds a node driven well above or below a threshold.
func (o *oracleCircuit) gate(threshold float64) (node string, on bool) {
	node, on = o.name("c"), o.rng.IntN(2) == 0
	volts := threshold * 0.5
	if on {
		volts = threshold * 1.5
	}
	o.v(node, "0", volts)
	o.line("%s %s 0 DC %g", o.name("V"), node, volts)
	return node, on
}

// mosfet adds a switching channel with its body diode, the source at ground.
func (o *oracleCircuit) mosfet() {
	drain, threshold, on := o.guarded(), o.uniform(1, 5), o.uniform(0.01, 10)
	gate, _ := o.gate(threshold)
	o.Add(&Gate{Name: "Q", A: o.Node(drain), B: o.Node("0"), Control: o.Node(gate), Reference: o.Node("0"), Threshold: threshold, Ohms: on})
	o.d("0", drain, 0.5)
	model := o.name("sw")
	o.line("%s %s 0 %s 0 %s", o.name("S"), drain, gate, model)
	o.line(".model %s SW(VT=%g VH=0 RON=%g ROFF=1e14)", model, threshold, on)
	o.spiceDiode("0", drain, 0.5)
	o.nodes = append(o.nodes, drain)
}

func (o *oracleCircuit) igbt() {
	collector := o.guarded()
	gate, on := o.gate(5)
	o.Add(&Gate{Name: "Q", A: o.Node(collector), B: o.Node("0"), Control: o.Node(gate), Reference: o.Node("0"), Threshold: 5, Ohms: 0.1, Drop: 1.5, OneWay: true})
	conductance := 0.0
	if on {
		conductance = 10
	}
	o.line("%s %s 0 I=%g*max(v(%s)-1.5,0)", o.name("B"), collector, conductance, collector)
	o.nodes = append(o.nodes, collector)
}

// regulator adds one with a load of its own, from any rail: regulating, dropping
// out or, from a low rail, giving nothing.
func (o *oracleCircuit) regulator() {
	in, out := o.guarded(), o.name("q")
	volts, dropout, load := o.uniform(1.5, 12), o.uniform(0.1, 2), o.uniform(50, 5e3)
	o.Add(&Regulator{Name: "U", In: o.Node(in), Out: o.Node(out), Ground: o.Node("0"), Volts: volts, Dropout: dropout, Limit: 1})
	o.resistor(out, "0", load)
	inner, sense := o.name("a"), o.name("V")
	o.line("%s %s 0 V=max(min(%g,v(%s)-%g),0)", o.name("B"), inner, volts, in, dropout)
	o.line("%s %s %s DC 0", sense, inner, out)
	o.line("%s %s 0 I=i(%s)", o.name("B"), in, sense)
}

// holding adds a supply that holds the node of its own divider.
func (o *oracleCircuit) holding() {
	out, fb := o.name("h"), o.name("f")
	upper, lower, volts, most := o.ohms()+1e3, o.ohms()+1e3, o.uniform(1, 3), o.uniform(5, 50)
	s := o.v(out, "0", most)
	s.Hold = &Hold{Node: o.Node(fb), Zero: o.Node("0"), Volts: volts}
	o.resistor(out, fb, upper)
	o.resistor(fb, "0", lower)
	o.line("%s %s 0 V=%.12g", o.name("B"), out, min(most, volts*(upper+lower)/lower))
	o.nodes = append(o.nodes, out)
}

// simulate solves a batch in one run of the simulator and gives node volts by
// name for each circuit. The temperature is that of 25.85 mV.
func simulate(t *testing.T, simulator string, batch []*oracleCircuit) []map[string]float64 {
	t.Helper()
	dir := t.TempDir()
	var control strings.Builder
	control.WriteString("* batch\nR1 1 0 1\n.control\nset numdgt=12\n")
	for i, o := range batch {
		deck := fmt.Sprintf("* circuit %d\n%s.options temp=26.8269 tnom=26.8269 gmin=1e-14 abstol=1e-14 vntol=1e-9 reltol=1e-6 itl1=2000\n.end\n", o.seed, o.deck.String())
		file := filepath.Join(dir, fmt.Sprintf("c%d.cir", i))
		if err := os.WriteFile(file, []byte(deck), 0o600); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&control, "source %s\nop\necho circuit %d\nprint all\n", file, i)
	}
	control.WriteString("quit\n.endc\n.end\n")
	main := filepath.Join(dir, "main.cir")
	if err := os.WriteFile(main, []byte(control.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	cmd := exec.Command(simulator, "-b", main)
	cmd.Stdout, cmd.Dir = &out, dir // its complaints would break into the lines
	if err := cmd.Run(); err != nil {
		t.Logf("simulator: %v", err) // it also ends so when one circuit of the batch did not converge
	}
	results := make([]map[string]float64, len(batch))
	at := -1
	for _, line := range strings.Split(out.String(), "\n") {
		if rest, ok := strings.CutPrefix(line, "circuit "); ok {
			at, _ = strconv.Atoi(strings.TrimSpace(rest))
			results[at] = map[string]float64{}
			continue
		}
		name, value, ok := strings.Cut(line, " = ")
		if v, err := strconv.ParseFloat(strings.TrimSpace(value), 64); ok && err == nil && at >= 0 {
			results[at][strings.TrimSpace(name)] = v
		}
	}
	return results
}

// compare solves the circuit here and compares every node that has a value.
func (o *oracleCircuit) compare(t *testing.T, theirs map[string]float64) (compared, floating int) {
	t.Helper()
	s := NewSolver(o.Circuit)
	if err := s.Solve(); err != nil {
		t.Errorf("circuit %d: %v\n%s", o.seed, err, o.deck.String())
		return 0, 0
	}
	levels, err := s.Levels()
	if err != nil {
		t.Errorf("circuit %d: %v", o.seed, err)
		return 0, 0
	}
	rel, abs := 1e-5, 1e-5
	if o.bent {
		rel, abs = 1e-3, 2e-4
	}
	for n, l := range levels {
		want, ok := theirs[o.Name(Node(n))]
		switch {
		case !ok:
		case l.Floating:
			floating++
		case math.Abs(l.Volts-want) > abs+rel*math.Abs(want):
			t.Errorf("circuit %d: node %s stands at %.6g V here, %.6g V there\n%s", o.seed, o.Name(Node(n)), l.Volts, want, o.deck.String())
			return compared, floating
		default:
			compared++
		}
	}
	return compared, floating
}
