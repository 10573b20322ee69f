package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/web/page"
)

// printQuote shows one version of a ticket's quote as paper.
func (s *Server) printQuote(w http.ResponseWriter, r *http.Request, v *visit) error {
	st, err := s.storyOf(r, v)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(chi.URLParam(r, "version"))
	for i := range st.Quotes {
		q := &st.Quotes[i]
		if err != nil || q.Number != n {
			continue
		}
		p, err := page.NewQuotePaper(s.frame(v, "", placeCounter), st, v.site, q)
		if err != nil {
			return err
		}
		return render(w, r, http.StatusOK, page.PrintedQuote(p))
	}
	return fault.New(fault.NotFound, "This quote has no version of that number.")
}

// printSlip shows a hand-over slip as it was frozen; nothing that changed since
// is looked at.
func (s *Server) printSlip(w http.ResponseWriter, r *http.Request, v *visit) error {
	nothing := fault.New(fault.NotFound, "This ticket has no slip of that number.")
	n, err := strconv.ParseInt(chi.URLParam(r, "slip"), 10, 64)
	if err != nil || n < 1 {
		return nothing
	}
	d, err := s.store.Document(r.Context(), v.actor(), "slip", n)
	if err != nil {
		return err
	}
	var slip shop.Slip
	if err := json.Unmarshal(d.Content, &slip); err != nil {
		return fmt.Errorf("slip %d: %w", n, err)
	}
	if strconv.FormatInt(slip.Ticket, 10) != chi.URLParam(r, "number") {
		return nothing
	}
	f := s.frame(v, "", placeCounter)
	if r.URL.Query().Get("done") == "yes" {
		f.Notice = "The board is handed over. Print this slip and have it signed."
	}
	return render(w, r, http.StatusOK, page.PrintedSlip(page.NewSlipPage(f, slip)))
}
