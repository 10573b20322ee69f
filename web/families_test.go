package web_test

import (
	"crypto/sha256"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/shop"
)

// sedgeProfile is a small profile, enough to see every part of its page.
const sedgeProfile = `format: ohmstead/board-profile/1
id: sedge-d
title: SEDGE, drive for borehole pumps
revision: D
ground: com
stored_energy: [C1]
parts:
  F1: {kind: fuse, pins: [l, p], where: beside the terminals, safety: true}
  C1: {kind: capacitor, pins: {plus: p, minus: com}, value: 330u, tolerance: 20 %, rating: {volts: 400 V}}
  R17: {kind: resistor, pins: [vb, com], value: 6.8k, tolerance: 1 %, package: "0603"}
  R11: {kind: resistor, pins: [p, vb], value: 720k, tolerance: 1 %}
points:
  TP3: {node: vb, where: left of U1}
states:
  live:
    sources:
      - {name: mains, plus: p, minus: com, volts: 323.6 V, tolerance: 10 %}
blocks:
  bus: {title: bus sensing, path: [p, R11, vb], parts: [R11, R17]}
indications:
  - {code: "4", shows: four blinks, meaning: current at rest}
  - code: "2"
    shows: two blinks
    meaning: bus low
    blocks: [bus]
    limits: [{state: live, node: vb, below: 2.01 V}]
  - {code: "6", shows: six blinks, meaning: contact open, normal_on_a_bench: true}
`

// knowSedge stores the family SEDGE with its revision D.
func (h *house) knowSedge() { h.t.Helper(); h.know("sedge-d", "SEDGE", "D", sedgeProfile) }

func (h *house) know(key, family, revision, yaml string) {
	h.t.Helper()
	sum := sha256.Sum256([]byte(yaml))
	_, err := h.store.SyncProfiles(h.t.Context(), []shop.Profile{{Key: key, Family: family, FamilyTitle: "drive for borehole pumps", Revision: revision,
		YAML: []byte(yaml), Flattened: []byte(yaml), SHA256: sum[:], Author: "Lantern Quay", Reason: "shipped"}})
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) revision(family, name string) shop.Revision {
	h.t.Helper()
	list, err := h.store.Revisions(h.t.Context(), uuid.Nil)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, r := range list {
		if r.FamilyName == family && r.Name == name {
			return r
		}
	}
	h.t.Fatalf("no revision %s %s", family, name)
	return shop.Revision{}
}

func TestARevisionTellsWhatIsKnown(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knowSedge()
	v := h.as(mirela)
	v.get("/families").wants(http.StatusOK).says("1 board family, 1 revision.", "SEDGE", "drive for borehole pumps").neverSays("Enter a family")
	v.get("/families/"+h.revision("SEDGE", "D").ID.String()).wants(http.StatusOK).says(
		"SEDGE D: drive for borehole pumps", "by Lantern Quay: shipped.", "every node is live", "prove dead before cold work: C1",
		"1 4 four blinks", "2 2 two blinks bus low vb below 2.01 V, live bus sensing", "Normal on a bench.",
		"p → R11 → vb", "cold:R17 cold resistance R17", "live:TP3 live DC volts TP3", "TP3 vb left of U1",
		"F1 fuse same class only", "330 µF ±20 %", "400 V", "6.8 kΩ ±1 % 0603")
	v.get("/families/" + uuid.NewString()).wants(http.StatusNotFound)
	v.get("/families/none").wants(http.StatusNotFound)
}

func TestAProfileThatCannotBeReadSaysSo(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.know("sedge-d", "SEDGE", "D", "format: something else\n")
	h.as(tobin).get("/families/"+h.revision("SEDGE", "D").ID.String()).wants(http.StatusOK).says("The stored profile cannot be read", "Version")
}

func TestFamiliesAreEnteredAndChanged(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.as(mirela).post("/families", url.Values{"name": {"HEARTH"}}).wants(http.StatusForbidden)
	v := h.as(tobin)
	v.get("/families").says("No board family is known yet.", "Enter a family")
	v.post("/families", url.Values{"name": {"HEARTH"}, "title": {"pellet-stove controller"}, "new_board": {"185"}}).leadsTo("/families?saved=yes")
	v.get("/families").says("HEARTH", "pellet-stove controller", "€185.00", "none")
	list, err := h.store.Families(t.Context())
	if err != nil || len(list) != 1 {
		t.Fatalf("%d families; %v", len(list), err)
	}
	id := list[0].ID.String()
	a := v.get("/families?edit=" + id).says("Change HEARTH")
	a.kept(url.Values{"id": {id}, "name": {"HEARTH"}, "title": {"pellet-stove controller"}, "new_board": {"185.00"}})
	v.post("/families", url.Values{"id": {id}, "name": {"HEARTH"}, "title": {"stove controller"}, "new_board": {""}}).leadsTo("/families?saved=yes")
	v.get("/families").says("stove controller", "not known")
}

func TestRefusedFamiliesKeepWhatWasTyped(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.knowSedge()
	v := h.as(tobin)
	cases := []struct{ field, typed, message string }{
		{"name", " ", "Enter the family’s name"},
		{"name", strings.Repeat("n", 61), "at most 60"},
		{"name", "sedge", "already"},
		{"title", strings.Repeat("t", 201), "at most 200"},
		{"new_board", "much", "in digits"},
		{"new_board", "-1", "without a minus"},
	}
	for _, c := range cases {
		form := with(url.Values{"id": {""}, "name": {"HEARTH"}, "title": {"controller"}, "new_board": {"185"}}, c.field, c.typed)
		a := v.post("/families", form).wants(http.StatusUnprocessableEntity)
		if got := a.problem(c.field); !strings.Contains(got, c.message) {
			t.Errorf("%s = %.20q: the field says %q, want %q", c.field, c.typed, got, c.message)
		}
		a.kept(form)
	}
	v.post("/families", url.Values{"id": {"x"}, "name": {"HEARTH"}}).wants(http.StatusUnprocessableEntity).says("Load the page again")
}
