package web

import (
	"context"
	"net/http"

	"github.com/google/uuid"

	"ohmstead/internal/analysis"
	atbench "ohmstead/internal/bench"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/shop/past"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// pastBook is what is kept of how boards of a family went.
type pastBook interface {
	FamilyCauses(ctx context.Context, by staff.Actor, family, except uuid.UUID) (past.Causes, error)
	LikeStays(ctx context.Context, by staff.Actor, l past.Like) ([]past.Stay, error)
}

// learn fills in what is known of the board beside its own ticket: what was
// confirmed on others of its family, its other revisions, and what danger and lifting count as.
func (s *Server) learn(ctx context.Context, v *visit, t *sitting) error {
	t.known.Prices = &analysis.Prices{Hazardous: t.terms.DangerMinutes.Float(), Lifted: t.terms.LiftedMinutes.Float()}
	if t.model != nil && !atbench.Settled(t.story) {
		others, err := s.store.OtherProfiles(ctx, t.profile.ID)
		if err != nil {
			return err
		}
		t.known.Siblings = t.model.Siblings(others)
	}
	if t.story.Board.FamilyID == nil {
		return nil
	}
	var err error
	t.known.Causes, err = s.store.FamilyCauses(ctx, v.actor(), *t.story.Board.FamilyID, t.story.Ticket.ID)
	return err
}

// likeBoards finds how earlier boards of the family that showed the same went; nil
// when the family is not known.
func (s *Server) likeBoards(ctx context.Context, v *visit, story *shop.Story, m *atbench.Model) (*page.PastInput, error) {
	like, ok := m.Like(story)
	if !ok {
		return nil, nil
	}
	stays, err := s.store.LikeStays(ctx, v.actor(), like)
	return &page.PastInput{Like: like, Stays: stays, Prices: staff.Can(v.person.Role, staff.WriteQuotes)}, err
}

// modelOf is the model of a ticket's profile, for what needs no meter: nil without a
// profile, or with one that cannot be read.
func (s *Server) modelOf(r *http.Request, story *shop.Story) (*atbench.Model, error) {
	if story.Ticket.ProfileVersionID == nil {
		return nil, nil
	}
	p, err := s.store.Profile(r.Context(), *story.Ticket.ProfileVersionID)
	if err != nil {
		return nil, err
	}
	m, err := s.models.Of(p, atbench.DefaultMeter())
	if fault.KindOf(err) == fault.Invalid {
		return nil, nil // the bench says so
	}
	return m, err
}
