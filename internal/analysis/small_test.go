package analysis

import (
	"strings"
	"testing"

	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
)

// divider is a board small enough to reason about by hand: a chain of two over a
// lower leg, a series resistor into a controller's pin, a capacitor that no direct
// current sees.
const divider = `format: ohmstead/board-profile/1
id: divider
title: Divider
ground: gnd
parts:
  R1: {kind: resistor, pins: [bus, mid], value: 100k, tolerance: 1 %}
  R2: {kind: resistor, pins: [mid, sense], value: 100k, tolerance: 1 %}
  R3: {kind: resistor, pins: [sense, gnd], value: 10k, tolerance: 1 %}
  R4: {kind: resistor, pins: [sense, pin], value: 1k, tolerance: 5 %}
  C1: {kind: capacitor, pins: [pin, gnd], value: 100n}
  U1: {kind: input_pin, pins: {pin: pin, ground: gnd, supply: v5}, resistance: open}
  R5: {kind: resistor, pins: [v5, gnd], value: 4.7k, tolerance: 5 %}
states:
  injected:
    hazard: extra_low_voltage
    setup_minutes: 2
    sources: [{name: bench, plus: bus, minus: gnd, volts: 30, tolerance: 1 %}]
  live:
    setup_minutes: 5
    sources:
      - {name: mains, plus: bus, minus: gnd, volts: 60, tolerance: 10 %}
      - {name: v5, plus: v5, minus: gnd, volts: 5, tolerance: 2 %}
checks:
  - {id: r1, state: cold, measure: resistance, across: R1}
  - {id: r2, state: cold, measure: resistance, across: R2}
  - {id: r3, state: cold, measure: resistance, across: R3}
  - {id: r3-lifted, state: cold, measure: resistance, across: R3, lifted: true}
  - {id: r4, state: cold, measure: resistance, across: R4}
  - {id: r5, state: cold, measure: resistance, across: R5}
  - {id: inj-sense, state: injected, measure: dc_volts, red: sense}
  - {id: live-bus, state: live, measure: dc_volts, red: bus}
  - {id: live-sense, state: live, measure: dc_volts, red: sense}
  - {id: live-pin, state: live, measure: dc_volts, red: pin}
blocks:
  sensing: {title: Sensing, parts: [R1, R2, R3, R4, C1, U1], believes: {node: pin, of: mains, full_scale: 5 V}}
indications:
  - {code: low, shows: low, blocks: [sensing], limits: [{state: live, node: pin, below: 2 V}]}
  - {code: high, shows: high, blocks: [sensing], limits: [{state: live, node: pin, above: 4 V}]}
  - {code: other, shows: other}
`

// small loads a profile from text.
func small(t testing.TB, text string) *Model {
	t.Helper()
	p, err := profile.Load("divider.yaml", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	return NewModel(p, meter.Default())
}

// read parses readings of a model's profile, CSV without its header.
func (m *Model) readings(t testing.TB, columns string, rows ...string) []Reading {
	t.Helper()
	out, err := ReadReadings("readings.csv", strings.NewReader(columns+"\n"+strings.Join(rows, "\n")+"\n"), m.profile)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// weighed answers readings given as "check,reading".
func (m *Model) weighed(t testing.TB, code string, rows ...string) *Result {
	t.Helper()
	r, err := m.Weigh(Case{Readings: m.readings(t, "check,reading", rows...), Code: code})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// chance gives the probability of a set of parts among the suspects.
func (r *Result) chance(parts ...string) float64 {
	sum := 0.0
	for _, s := range r.Suspects {
		if len(s.Faults) != len(parts) {
			continue
		}
		same := true
		for i, f := range s.Faults {
			same = same && f.Part == parts[i]
		}
		if same {
			sum += s.Probability
		}
	}
	return sum
}
