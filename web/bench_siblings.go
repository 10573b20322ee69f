package web

import (
	"context"

	"ohmstead/internal/profile"
)

// siblings gives the profiles of the other revisions of a board's family, for which
// it may have been taken. One that cannot be read is left out: it is reported when
// it is used itself.
func (s *Server) siblings(ctx context.Context, t *sitting) ([]*profile.Profile, error) {
	if t.story.Board.FamilyID == nil || t.model == nil {
		return nil, nil
	}
	list, err := s.store.Revisions(ctx, *t.story.Board.FamilyID)
	if err != nil {
		return nil, err
	}
	var out []*profile.Profile
	for _, r := range list {
		if r.ProfileVersionID == nil || r.ProfileKey == t.profile.Key {
			continue
		}
		p, err := s.store.Profile(ctx, *r.ProfileVersionID)
		if err != nil {
			return nil, err
		}
		if m, err := s.models.Of(p, t.meter()); err == nil {
			out = append(out, m.Profile)
		}
	}
	return out, nil
}
