package web

import (
	"net/http"
	"strconv"

	"ohmstead/internal/shop"
	"ohmstead/web/page"
)

// find leads a ticket's number straight to its page; everything else gets a
// list. Where the same digits mean something else too, the ticket's page says so.
func (s *Server) find(w http.ResponseWriter, r *http.Request, v *visit) error {
	typed := trim(r.URL.Query().Get("q"))
	q := shop.ParseQuery(typed)
	var found []shop.Summary
	if !q.Empty() {
		var err error
		if found, err = s.store.Find(r.Context(), v.actor(), typed); err != nil {
			return err
		}
	}
	if to := straightTo(q, found); to != "" && r.URL.Query().Get("list") == "" {
		http.Redirect(w, r, to, http.StatusSeeOther)
		return nil
	}
	return render(w, r, http.StatusOK, page.Find(page.NewFind(s.frame(v, "", ""), typed, found, v.now)))
}

// straightTo gives the page of the ticket whose number was typed, "" when none
// of those found has it.
func straightTo(q shop.Query, found []shop.Summary) string {
	if q.Number == 0 {
		return ""
	}
	for _, t := range found {
		if t.Number != q.Number {
			continue
		}
		to := page.TicketAddress(t.Number)
		if len(found) > 1 {
			to += "?also=" + strconv.FormatInt(q.Number, 10)
		}
		return to
	}
	return ""
}
