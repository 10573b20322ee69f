package page

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
)

const packhorse = `format: ohmstead/board-profile/1
id: packhorse-a
title: PACKHORSE, charger
revision: A
ground: s0
note: One line about it.
stored_energy: [C1]
parts:
  F1: {kind: fuse, pins: [l, p], safety: true, note: slow}
  C1: {kind: capacitor, pins: {plus: p, minus: s0}, value: 180u, rating: {volts: 450 V, watts: 2 W}}
  R11: {kind: resistor, pins: [p, fb], value: 1M, tolerance: 1 %, package: 1206/200V, where: beside the choke}
  R14: {kind: resistor, pins: [fb, s0], value: 19.6k, tolerance: 0.1 %}
  D1: {kind: diode, pins: {anode: fb, cathode: s0}, forward: 0.58 V}
  S1: {kind: switch, pins: [fb, s0]}
points:
  TP1: {node: fb, where: left of U1, note: lacquered}
  TP2: {node: p}
states:
  live:
    sources:
      - {name: bus, plus: p, minus: s0, volts: 385 V}
  bench:
    hazard: extra_low_voltage
    sources:
      - {name: b, plus: p, minus: s0, volts: 30 V}
checks:
  - {id: k1, state: cold, measure: resistance, across: R14, lifted: true, note: lift the cold end}
  - {id: k2, state: cold, measure: diode, red: fb, black: p, swapped: true, minutes: 2.5}
  - {id: k3, state: live, measure: dc_volts, red: TP1}
blocks:
  fb: {title: feedback, path: [p, R11, fb], parts: [R11, R14], safety: true, note: guards the capacitors}
indications:
  - code: CHARGE
    shows: lamp off
    meaning: no charge
    blocks: [fb]
    limits: [{state: live, node: fb, below: 2.4 V, above: 2.6 V}, {state: bench, node: fb, above: 1 V}]
  - {code: TEMP, shows: lamp on, meaning: too warm, normal_on_a_bench: true, note: without its lead}
`

func packhorsePage(t *testing.T, locale string) RevisionPage {
	t.Helper()
	known, err := profile.Load("packhorse-a.yaml", []byte(packhorse), nil)
	if err != nil {
		t.Fatal(err)
	}
	f := Frame{Locale: NewLocale(locale, "Europe/Dublin")}
	first := shop.Profile{SHA256: []byte{1, 2, 3, 4, 5}, CreatedAt: friday.AddDate(0, -1, 0), Author: "Lantern Quay", Reason: "shipped."}
	now := shop.Profile{SHA256: []byte{0xfe, 0xdc, 0xba, 0x98, 0x76}, CreatedAt: friday, Author: "Tobin", Reason: "TP2 added", FamilyTitle: "charger"}
	return NewRevision(f, shop.Revision{FamilyName: "PACKHORSE", Name: "A"}, []shop.Profile{now, first}, known, "")
}

func TestRevisionPage(t *testing.T) {
	t.Parallel()
	doc := drawn(t, Revision(packhorsePage(t, "en-IE")))
	accessible(t, "revision", doc)
	reads(t, doc, "h1", "PACKHORSE A: charger")
	reads(t, doc, ".lead", "Version fedcba98 of 27 Nov 2026, 15:00, by Tobin: TP2 added.")
	reads(t, doc, ".caution", "In the state “live” every node is live, the common and the low-voltage side too.")
	reads(t, doc, "section[aria-labelledby=earlier] li", "Version 01020304 of 27 Oct 2026, 15:00, by Lantern Quay: shipped.")
	rows := map[string][]string{
		"indications": {"1 CHARGE lamp off no charge fb below 2.4 V or above 2.6 V, live; fb above 1 V, bench feedback", "2 TEMP lamp on too warm Normal on a bench. without its lead"},
		"checks":      {"k1 cold resistance R14 one leg lifted lift the cold end 6", "k2 cold diode fb to p probes swapped 2.5", "k3 live DC volts TP1 1"},
		"points":      {"TP1 fb left of U1 lacquered", "TP2 p not described"},
		"parts": {"F1 fuse same class only slow", "C1 capacitor 180 µF ±20 % 450 V, 2 W", "R11 resistor 1 MΩ ±1 % 1206/200V beside the choke",
			"R14 resistor 19.6 kΩ ±0.1 %", "D1 diode 0.58 V ±10 %", "S1 switch"},
	}
	for id, want := range rows {
		reads(t, doc, "section[aria-labelledby="+id+"] tbody tr", want...)
	}
	reads(t, doc, "section[aria-labelledby=blocks] dd", "It guards something: prove its function before hand-over. p → R11 → fb R11, R14 guards the capacitors")
	reads(t, doc, "section[aria-labelledby=blocks] dd strong", "It guards something: prove its function before hand-over.")
}

func TestRevisionWritesNumbersAsTheShopDoes(t *testing.T) {
	t.Parallel()
	said := words(drawn(t, Revision(packhorsePage(t, "de-DE"))))
	for _, want := range []string{"19,6 kΩ", "±0,1 %", "below 2,4 V", "2,5"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestRevisionWithoutAProfile(t *testing.T) {
	t.Parallel()
	p := NewRevision(dublin(), shop.Revision{FamilyName: "HEARTH", Name: "3"}, nil, nil, "")
	doc := drawn(t, Revision(p))
	reads(t, doc, "h1", "HEARTH 3: nothing is known of this revision yet.")
	if len(pick(doc, ".empty")) != 1 || len(pick(doc, "table")) != 0 {
		t.Error("an unknown revision does not say what that means")
	}
	p = NewRevision(dublin(), shop.Revision{FamilyName: "HEARTH", Name: "3"}, []shop.Profile{{SHA256: []byte{1}}}, nil, "line 3: no such kind")
	reads(t, drawn(t, Revision(p)), ".refused", "The stored profile cannot be read: line 3: no such kind")
}

func TestFamiliesPage(t *testing.T) {
	t.Parallel()
	sedge, hearth, d := uuid.New(), uuid.New(), uuid.New()
	profiled := uuid.New()
	families := []shop.Family{{ID: hearth, Name: "HEARTH", Title: "stove controller"}, {ID: sedge, Name: "SEDGE", Title: "pump drive", NewBoard: euros(31000)}}
	revisions := []shop.Revision{{ID: d, FamilyID: sedge, Name: "D", ProfileVersionID: &profiled}, {ID: uuid.New(), FamilyID: sedge, Name: "F"}}
	refused := RefusalOf(fault.Form(map[string]string{"name": "Taken.", "title": "Too long.", "new_board": "Digits."}), "name", "title", "new_board")
	doc := drawn(t, Families(NewFamilies(dublin(), families, revisions, true, FamilyForm{Name: "sedge", NewBoard: "x"}, refused)))
	accessible(t, "families", doc)
	reads(t, doc, "h1", "2 board families, 2 revisions.")
	reads(t, doc, "tbody tr", "HEARTH stove controller none not known change HEARTH", "SEDGE pump drive D F no profile €310.00 change SEDGE")
	reads(t, doc, ".problem", "Taken.", "Too long.", "Digits.")
	if len(pick(doc, "a[href=/families/"+d.String()+"]")) != 1 {
		t.Error("no way leads to the revision")
	}
	if n := len(pick(drawn(t, Families(NewFamilies(dublin(), families, revisions, false, FamilyForm{}, Refusal{}))), "main form")); n != 0 {
		t.Errorf("who may not change families is shown %d forms", n)
	}
	one := NewFamilies(dublin(), families[:1], nil, false, FamilyForm{}, Refusal{})
	if one.Frame.Title != "1 board family, 0 revisions." {
		t.Errorf("title %q", one.Frame.Title)
	}
	if f := FamilyFormOf(families[1], "de-DE"); f.NewBoard != "310,00" || f.ID != sedge.String() || f.Name != "SEDGE" {
		t.Errorf("the form opens with %+v", f)
	}
}
