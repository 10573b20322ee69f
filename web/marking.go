package web

import (
	"net/http"

	"ohmstead/internal/marking"
	"ohmstead/web/page"
)

// marking says what a print on a part can mean.
func (s *Server) marking(w http.ResponseWriter, r *http.Request, v *visit) error {
	typed := trim(r.URL.Query().Get("text"))
	f := s.frame(v, "", placeBench)
	if typed == "" {
		return render(w, r, http.StatusOK, page.Marking(page.NewMarking(f, "", nil, nil)))
	}
	found, err := marking.Read(typed)
	status := http.StatusOK
	if err != nil {
		status = http.StatusUnprocessableEntity
	}
	return render(w, r, status, page.Marking(page.NewMarking(f, typed, found, err)))
}
