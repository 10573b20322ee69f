package web

import (
	"context"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/profile"
)

// goodBoards looks up what known-good boards of the ticket's revision read through
// the meter in hand, by check; nil when revision or profile is not known.
func (s *Server) goodBoards(ctx context.Context, v *visit, t *sitting) (map[profile.Key]atbench.GoodBoards, error) {
	revision := t.story.Board.RevisionID
	if revision == nil || t.model == nil {
		return nil, nil
	}
	list, err := s.store.GoodReadings(ctx, v.actor(), *revision, t.story.Ticket.ID, t.meterVersion())
	if err != nil {
		return nil, err
	}
	return t.model.GoodBoards(list), nil
}
