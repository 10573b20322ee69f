package bench

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
)

// ofBoard is a reading of a check on a board of its own.
func ofBoard(t *testing.T, m *Model, board uuid.UUID, check, typed string) evidence.Reading {
	t.Helper()
	r := stored(t, m, check, typed, noon)
	r.TicketID = board
	return r
}

func keyOf(t *testing.T, m *Model, check string) profile.Key {
	t.Helper()
	c, ok := m.Profile.Check(check)
	if !ok {
		t.Fatalf("no check %s", check)
	}
	return c.Key()
}

// Readings of one place count together however the place was written; swapped and
// lifted ones are other checks; a board counts once at each, with its newest.
func TestGoodBoardsByCheck(t *testing.T) {
	t.Parallel()
	m := pump(t)
	a, b, c := uuid.New(), uuid.New(), uuid.New()
	older := ofBoard(t, m, a, "tp3", "2.50")
	older.TakenAt = noon.Add(-time.Hour)
	byNode := ofBoard(t, m, b, "tp3", "3.05")
	byNode.Red = "vb" // the node under TP3
	lost := ofBoard(t, m, c, "r17", "1k")
	lost.Across = "R99"
	got := m.GoodBoards([]evidence.Reading{
		older, ofBoard(t, m, a, "tp3", "3.01"), byNode,
		ofBoard(t, m, a, "r17", "5.66k"), ofBoard(t, m, b, "r17", "5.7k"), ofBoard(t, m, c, "r17x", "5.4k"), lost,
		ofBoard(t, m, a, "r13", "OL"), ofBoard(t, m, b, "r13", "OL"),
		ofBoard(t, m, a, "r12", "OL"), ofBoard(t, m, b, "r12", "104.5k"),
	})
	for check, want := range map[string]struct {
		n, over     int
		least, most float64
		digit       float64
		next        bool
	}{
		"tp3":  {2, 0, 3.01, 3.05, 0.01, true},
		"r17":  {2, 0, 5660, 5700, 100, true},
		"r17x": {1, 0, 5400, 5400, 100, true},
		"r13":  {2, 2, 0, 0, 0, false},
		"r12":  {2, 1, 104500, 104500, 100, false},
	} {
		g := got[keyOf(t, m, check)]
		if g.N != want.n || g.Over != want.over || g.Digit != want.digit || g.Next != want.next || (g.Band == nil) != (want.n == want.over) {
			t.Errorf("%s: %+v", check, g)
			continue
		}
		if g.Band == nil {
			continue
		}
		if g.Band.Least != want.least || g.Band.Most != want.most || want.next && !(g.Band.Low < want.least && want.most < g.Band.High) {
			t.Errorf("%s: %+v", check, *g.Band)
		}
	}
	if len(got) != 5 {
		t.Errorf("%d checks: %+v", len(got), got)
	}
}

// Where a profile lists no parts, what good boards read is all that is known.
func TestGoodBoardsWithoutParts(t *testing.T) {
	t.Parallel()
	m, err := NewModel(shop.Profile{Key: "bare", Flattened: []byte(`
format: ohmstead/board-profile/1
id: bare
title: no schematic
checks:
  - {id: a, state: cold, measure: resistance, red: pin 3, black: shield}
  - {id: d, state: cold, measure: diode, red: pin 3, black: pin 4}
  - {id: c, state: cold, measure: capacitance, red: pin 5, black: pin 6}
  - {id: e, state: cold, measure: esr, red: pin 5, black: pin 6}
`)}, DefaultMeter())
	if err != nil {
		t.Fatal(err)
	}
	board := uuid.New()
	got := m.GoodBoards([]evidence.Reading{ofBoard(t, m, board, "a", "4.70k"), ofBoard(t, m, board, "d", "0.580"),
		ofBoard(t, m, board, "c", "330u"), ofBoard(t, m, board, "e", "0.12")})
	for check, within := range map[string][2]float64{ // one board: a wide band, wider for what spreads more
		"a": {0.08, 0.20}, "d": {0.15, 0.30}, "c": {0.3, 0.7}, "e": {0.7, 20},
	} {
		g := got[keyOf(t, m, check)]
		if !g.Next {
			t.Errorf("%s: %+v", check, g)
			continue
		}
		if up := g.Band.High/g.Band.Most - 1; up < within[0] || up > within[1] {
			t.Errorf("%s: up to %.2f above what one board read, want %.2f to %.2f", check, up, within[0], within[1])
		}
	}
}
