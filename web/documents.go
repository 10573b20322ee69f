package web

import (
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"ohmstead/internal/fault"
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
