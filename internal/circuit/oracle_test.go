package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"ohmstead/internal/circuit/spicetest"
)

// The oracle is ngspice, a general-purpose circuit simulator of other people's
// making: five hundred random circuits over the kinds of element, solved there and
// here.

// oracleCircuits and how many of them one run of the simulator takes.
const (
	oracleCircuits = 500
	oracleBatch    = 25
)

// TestAgainstSimulator compares every held node of random circuits: to 10 ppm or
// 10 µV where all is linear, to 0.1 % or 0.2 mV with junctions.
func TestAgainstSimulator(t *testing.T) {
	t.Parallel()
	simulator := spicetest.Find(t)
	compared, floating, unanswered := 0, 0, 0
	worst := map[bool]float64{}
	for first := 0; first < oracleCircuits; first += oracleBatch {
		var batch []*oracleCircuit
		var tasks []spicetest.Task
		for seed := first; seed < first+oracleBatch; seed++ {
			o := newOracleCircuit(uint64(seed))
			batch = append(batch, o)
			tasks = append(tasks, spicetest.Task{Deck: &o.deck, Asks: []spicetest.Ask{{Solve: "op", Print: []string{"all"}}}})
		}
		for i, answers := range simulator.Run(t, tasks) {
			if !sensible(answers[0]) {
				unanswered++
				continue
			}
			c, f, w := batch[i].compare(t, answers[0])
			compared, floating = compared+c, floating+f
			worst[batch[i].bent] = max(worst[batch[i].bent], w)
		}
	}
	t.Logf("%d nodes compared, %d float, %d circuits that the simulator did not solve", compared, floating, unanswered)
	t.Logf("worst deviation as a share of what is allowed: %.2g linear, %.2g with junctions", worst[false], worst[true])
	if unanswered > oracleCircuits/50 || compared < 10*oracleCircuits {
		t.Errorf("%d nodes compared, %d circuits not solved by the simulator: too little to say that we agree", compared, unanswered)
	}
}

// sensible tells whether the simulator gave an answer: none is missing, and no
// node stands at more than ten kilovolts, which it gives where it did not
// converge.
func sensible(volts spicetest.Answer) bool {
	for _, v := range volts {
		if math.Abs(real(v)) > 1e4 {
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
	deck  spicetest.Deck
	rails []string
	nodes []string
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

func (o *oracleCircuit) any() string { return o.nodes[o.rng.IntN(len(o.nodes))] }

func (o *oracleCircuit) ohms() float64 {
	return math.Round(math.Pow(10, o.uniform(0, 6))*1000) / 1000
}

func (o *oracleCircuit) uniform(low, high float64) float64 { return low + (high-low)*o.rng.Float64() }

func (o *oracleCircuit) resistor(a, b string, ohms float64) {
	o.r(a, b, ohms)
	o.deck.Resistor(a, b, ohms)
}

// volts adds a source without resistance.
func (o *oracleCircuit) volts(plus string, volts float64) {
	o.v(plus, "0", volts)
	o.deck.Volts(plus, "0", volts, 0)
}

// rail adds a source against ground, mostly a low voltage, sometimes a bus.
func (o *oracleCircuit) rail() {
	node := o.deck.Name("s")
	volts := o.uniform(1, 24)
	if o.rng.IntN(5) == 0 {
		volts = o.uniform(100, 400)
	}
	o.volts(node, volts)
	o.rails, o.nodes = append(o.rails, node), append(o.nodes, node)
}

// branch adds a node that hangs on an existing one.
func (o *oracleCircuit) branch() {
	node, at := o.deck.Name("n"), o.any()
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
	node, at := o.deck.Name("g"), o.any()
	o.resistor(at, node, math.Max(o.ohms(), 50))
	return node
}

func (o *oracleCircuit) diode() {
	a, k, f := o.guarded(), o.any(), o.uniform(0.3, 1.9)
	o.d(a, k, f)
	o.deck.Diode(a, k, f)
	o.nodes = append(o.nodes, a)
}

func (o *oracleCircuit) zener() {
	a, k, f, vz := o.any(), o.guarded(), o.uniform(0.55, 0.75), o.uniform(3, 30)
	o.d(a, k, f).Breakdown = vz
	o.deck.Diode(a, k, f)
	o.deck.Breakdown(a, k, vz)
	o.nodes = append(o.nodes, k)
}

func (o *oracleCircuit) varistor() {
	x, y, v := o.guarded(), o.any(), o.uniform(10, 300)
	o.Add(&Varistor{Name: "RV", A: o.Node(x), B: o.Node(y), Volts: v})
	o.deck.Varistor(x, y, v)
	o.nodes = append(o.nodes, x)
}

func (o *oracleCircuit) bipolar() {
	b, c, e := o.guarded(), o.guarded(), o.guarded()
	gain, forward := o.uniform(20, 400), o.uniform(0.55, 0.75)
	q := NewTransistor("Q", o.Node(b), o.Node(c), o.Node(e), gain, forward)
	q.PNP = o.rng.IntN(2) == 0
	o.Add(q)
	o.deck.Bipolar(b, c, e, gain, forward, q.PNP)
	o.nodes = append(o.nodes, b, c, e)
}

// opamp adds an inverting stage or a follower, so that there is one solution.
func (o *oracleCircuit) opamp() {
	rail, in, out := o.rails[o.rng.IntN(len(o.rails))], o.any(), o.deck.Name("o")
	plus, minus := o.any(), out
	if o.rng.IntN(2) == 0 {
		minus = o.deck.Name("i")
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
	o.deck.Amplifier(plus, minus, out, rail, "0", high, low)
	o.nodes = append(o.nodes, out)
}

func (o *oracleCircuit) optocoupler() {
	a, k, c, e := o.guarded(), o.any(), o.guarded(), o.any()
	f, ratio := o.uniform(1, 1.3), o.uniform(0.2, 3)
	led := o.d(a, k, f)
	o.Add(&Coupler{Name: "U", Collector: o.Node(c), Emitter: o.Node(e), LED: led, Ratio: ratio})
	o.deck.Coupler(a, k, c, e, f, ratio)
	o.nodes = append(o.nodes, a, c)
}

// open adds the open-collector output of a comparator, between plain levels.
func (o *oracleCircuit) open() {
	out := o.guarded()
	high := o.rng.IntN(2) == 0
	plus, minus := o.deck.Name("c"), o.deck.Name("c")
	levels := map[bool][2]float64{true: {2, 1}, false: {1, 2}}[high]
	for i, node := range []string{plus, minus} {
		o.volts(node, levels[i])
	}
	o.Add(&Gate{Name: "U", A: o.Node(out), B: o.Node("0"), Control: o.Node(minus), Reference: o.Node(plus), Ohms: 10, Drop: 0.1, OneWay: true})
	o.deck.OneWay(out, "0", minus, plus, 0, 0.1, 10)
	o.nodes = append(o.nodes, out)
}

// current adds a source of current with a ceiling: below it, it gives the
// current; at it, the volts.
func (o *oracleCircuit) current() {
	node, amps := o.deck.Name("k"), math.Pow(10, o.uniform(-6, -2))
	load := o.uniform(0.1, 0.9) * 30 / amps
	o.i(node, "0", amps, 30)
	o.deck.Amps(node, "0", amps)
	o.resistor(node, "0", load)
	o.nodes = append(o.nodes, node)
}

// gate adds a node driven well above or below a threshold.
func (o *oracleCircuit) gate(threshold float64) string {
	node := o.deck.Name("c")
	o.volts(node, threshold*[]float64{0.5, 1.5}[o.rng.IntN(2)])
	return node
}

// mosfet adds a switching channel with its body diode, the source at ground.
func (o *oracleCircuit) mosfet() {
	drain, threshold, on := o.guarded(), o.uniform(1, 5), o.uniform(0.01, 10)
	gate := o.gate(threshold)
	o.Add(&Gate{Name: "Q", A: o.Node(drain), B: o.Node("0"), Control: o.Node(gate), Reference: o.Node("0"), Threshold: threshold, Ohms: on})
	o.d("0", drain, 0.5)
	o.deck.Switch(drain, "0", gate, "0", threshold, on)
	o.deck.Diode("0", drain, 0.5)
	o.nodes = append(o.nodes, drain)
}

func (o *oracleCircuit) igbt() {
	collector, gate := o.guarded(), o.gate(5)
	o.Add(&Gate{Name: "Q", A: o.Node(collector), B: o.Node("0"), Control: o.Node(gate), Reference: o.Node("0"), Threshold: 5, Ohms: 0.1, Drop: 1.5, OneWay: true})
	o.deck.OneWay(collector, "0", gate, "0", 5, 1.5, 0.1)
	o.nodes = append(o.nodes, collector)
}

// regulator adds one with a load of its own, from any rail: regulating, dropping
// out or, from a low rail, giving nothing.
func (o *oracleCircuit) regulator() {
	in, out := o.guarded(), o.deck.Name("q")
	volts, dropout, load := o.uniform(1.5, 12), o.uniform(0.1, 2), o.uniform(50, 5e3)
	o.Add(&Regulator{Name: "U", In: o.Node(in), Out: o.Node(out), Ground: o.Node("0"), Volts: volts, Dropout: dropout, Limit: 1})
	o.resistor(out, "0", load)
	o.deck.Regulator(in, out, "0", volts, dropout)
}

// holding adds a supply that holds the node of its own divider.
func (o *oracleCircuit) holding() {
	out, fb := o.deck.Name("h"), o.deck.Name("f")
	upper, lower, volts, most := o.ohms()+1e3, o.ohms()+1e3, o.uniform(1, 3), o.uniform(5, 50)
	s := o.v(out, "0", most)
	s.Hold = &Hold{Node: o.Node(fb), Zero: o.Node("0"), Volts: volts}
	o.resistor(out, fb, upper)
	o.resistor(fb, "0", lower)
	o.deck.Volts(out, "0", min(most, volts*(upper+lower)/lower), 0)
	o.nodes = append(o.nodes, out)
}

// compare solves the circuit here and compares every node that has a value; worst
// is a deviation as a share of what is allowed.
func (o *oracleCircuit) compare(t *testing.T, theirs spicetest.Answer) (compared, floating int, worst float64) {
	t.Helper()
	s := NewSolver(o.Circuit)
	if err := s.Solve(); err != nil {
		t.Errorf("circuit %d: %v\n%s", o.seed, err, &o.deck)
		return 0, 0, 0
	}
	levels, err := s.Levels()
	if err != nil {
		t.Errorf("circuit %d: %v", o.seed, err)
		return 0, 0, 0
	}
	rel, abs := 1e-5, 1e-5
	if o.bent {
		rel, abs = 1e-3, 2e-4
	}
	for n, l := range levels {
		volts, ok := theirs[o.Name(Node(n))]
		want := real(volts)
		switch {
		case !ok:
		case l.Floating:
			floating++
		default:
			compared++
			share := math.Abs(l.Volts-want) / (abs + rel*math.Abs(want))
			if worst = max(worst, share); share > 1 {
				t.Errorf("circuit %d: node %s stands at %.6g V here, %.6g V there\n%s", o.seed, o.Name(Node(n)), l.Volts, want, &o.deck)
				return compared, floating, worst
			}
		}
	}
	return compared, floating, worst
}
