package web

import (
	"context"
	"net/http"

	"github.com/google/uuid"

	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// ticketBook is what the counter and the ticket's page need of storage.
type ticketBook interface {
	FindCustomers(ctx context.Context, query string) ([]shop.Customer, error)
	Customer(ctx context.Context, id uuid.UUID) (shop.Customer, error)
	TakeIn(ctx context.Context, by staff.Actor, in shop.Intake) (shop.Ticket, error)
	Find(ctx context.Context, by staff.Actor, query string) ([]shop.Summary, error)
	OpenTickets(ctx context.Context, by staff.Actor, states ...shop.State) (list []shop.Summary, more bool, err error)
	TicketByNumber(ctx context.Context, by staff.Actor, number int64) (shop.Story, error)
	Move(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, to shop.State, reason string) (shop.Ticket, error)
	Correct(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, fixes ...shop.Correction) (shop.Ticket, error)
	Void(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, reason string) error
	AssignRevision(ctx context.Context, by staff.Actor, ticket, revision uuid.UUID, reason string) (shop.Ticket, error)
}

// counter shows what is in the shop and whom to call.
func (s *Server) counter(w http.ResponseWriter, r *http.Request, v *visit) error {
	open, more, err := s.store.OpenTickets(r.Context(), v.actor())
	if err != nil {
		return err
	}
	f := s.frame(v, "", placeCounter)
	if r.URL.Query().Get("voided") == "yes" {
		f.Notice = "The ticket is void. It stands in no list any more; its number stays used and its page can still be read."
	}
	return render(w, r, http.StatusOK, page.Counter(page.NewCounter(f, open, more, v.now)))
}
