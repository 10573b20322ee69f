package past_test

import (
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/shop/past"
)

// Boards are counted, not causes: one board with three bad chips is one board.
func TestCausesCountBoards(t *testing.T) {
	t.Parallel()
	a, b, c := uuid.UUID{1}, uuid.UUID{2}, uuid.UUID{3}
	list := past.Causes{
		{a, "R13", "open"}, {a, "R14", "open"}, {a, "R13", "high"},
		{b, "R13", "open"},
		{c, "C18", "tired"},
	}
	for part, want := range map[string]int{"R13": 2, "R14": 1, "C18": 1, "R99": 0, "": 0} {
		if got := list.Of(part); got != want {
			t.Errorf("%q on %d boards, want %d", part, got, want)
		}
	}
	if list.Boards() != 3 || past.Causes(nil).Boards() != 0 {
		t.Errorf("%d boards, and of none %d", list.Boards(), past.Causes(nil).Boards())
	}
}

func TestLikeWithoutAnIndicationIsAny(t *testing.T) {
	t.Parallel()
	for want, l := range map[bool]past.Like{true: {}, false: {Texts: []string{"two blinks"}}} {
		if l.Any() != want {
			t.Errorf("%+v: any %v", l, l.Any())
		}
	}
	if (past.Like{Prefix: "2:"}).Any() {
		t.Error("a prefix says which")
	}
}
