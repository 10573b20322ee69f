package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// handOverBook is what handing over needs of storage.
type handOverBook interface {
	HandOver(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, h shop.HandOver) (shop.Document, error)
	Document(ctx context.Context, by staff.Actor, kind string, number int64) (shop.Document, error)
}

func (s *Server) handOver(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	return s.showHandOver(w, r, v, http.StatusOK, t, page.HandOverInput{})
}

// showHandOver fills in what the page needs around what a form left behind.
func (s *Server) showHandOver(w http.ResponseWriter, r *http.Request, v *visit, status int, t *sitting, in page.HandOverInput) error {
	var err error
	if in.Settings, err = s.store.Settings(r.Context(), v.site.ID); err != nil {
		return err
	}
	in.Story, in.Site, in.By, in.Now, in.Trouble = t.story, v.site, v.actor(), v.now, t.trouble
	in.Blocks, in.Measured, in.Powered = t.safetyBlocks(nil), s.measured(t), t.poweredSince()
	return render(w, r, status, page.HandOver(page.NewHandOver(s.frame(v, "", placeCounter), in)))
}

// giveBack freezes the slip and ends the ticket.
func (s *Server) giveBack(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	typed := handOverForm(r)
	h, err := s.readHandOver(typed, t)
	var d shop.Document
	if err == nil {
		var seen int64
		if seen, err = seenVersion(r); err == nil {
			d, err = s.store.HandOver(r.Context(), v.actor(), t.story.Ticket.ID, seen, h)
		}
	}
	if err == nil {
		http.Redirect(w, r, page.SlipAddress(t.story.Ticket.Number, d.Number)+"?done=yes", http.StatusSeeOther)
		return nil
	}
	kind := fault.KindOf(err)
	if kind != fault.Invalid && kind != fault.Conflict {
		return err
	}
	in := page.HandOverInput{Typed: &typed, Refusal: page.RefusalOf(err, page.HandOverFields(t.safetyBlocks(nil))...)}
	if kind == fault.Conflict { // show the ticket as it is now; what was typed stays
		if t, err = s.sitDown(r, v); err != nil {
			return err
		}
		in.Typed.Seen = strconv.FormatInt(t.story.Ticket.Version, 10)
	}
	return s.showHandOver(w, r, v, statusOf[kind], t, in)
}

// handOverForm takes the hand-over as it was typed.
func handOverForm(r *http.Request) page.HandOverForm {
	get := func(name string) string { return oneKindOfBreak(r.PostFormValue(name)) }
	f := page.HandOverForm{Seen: get("seen"), As: get("as"), To: get("to"), Text: get("text"), Advice: get("advice"), Proofs: map[string]string{}}
	for name := range r.PostForm {
		if block, ok := strings.CutPrefix(name, "block:"); ok {
			f.Proofs[block] = get(name)
		}
	}
	return f
}

// readHandOver turns what was typed into a hand-over that names every safety
// block of the profile. A profile that cannot be read hides them, so nothing goes
// back as repaired on it.
func (s *Server) readHandOver(f page.HandOverForm, t *sitting) (shop.HandOver, error) {
	h := shop.HandOver{As: shop.State(f.As), To: trim(f.To), Text: trim(f.Text), Advice: trim(f.Advice),
		Blocks: t.safetyBlocks(f.Proofs), Measured: s.measured(t)}
	if t.trouble != "" && h.As == shop.HandedOver {
		return h, fault.New(fault.Conflict, "The safety functions of this board are not known, because its profile cannot be read. It cannot go back as repaired.")
	}
	return h, h.Check()
}

// safetyBlocks lists the profile's blocks marked safety, with their proofs.
func (t *sitting) safetyBlocks(proofs map[string]string) []shop.SafetyBlock {
	if t.model == nil {
		return nil
	}
	var out []shop.SafetyBlock
	for _, b := range t.model.Profile.Blocks {
		if b.Safety {
			out = append(out, shop.SafetyBlock{Name: b.ID, Title: b.Title, Proof: trim(proofs[b.ID])})
		}
	}
	return out
}

// measured sets the ticket's readings before and after beside what a good board
// reads. Where the engine cannot say, the readings stand alone.
func (s *Server) measured(t *sitting) []shop.Measured {
	if t.model == nil {
		return atbench.Measured(t.story, nil)
	}
	j, err := t.compare(s)
	if err != nil {
		s.log.Error("comparing for the slip", "ticket", t.story.Ticket.Number, "cause", err)
		j = nil
	}
	return atbench.Measured(t.story, j)
}

// poweredSince tells whether the board was powered and some store of energy was
// not read dead since. The ten minutes for which a reading lets somebody work do
// not matter here: it is about what was done at all.
func (t *sitting) poweredSince() bool {
	if len(t.story.Power) == 0 {
		return false
	}
	var last time.Time
	for _, p := range t.story.Power {
		if p.TakenAt.After(last) {
			last = p.TakenAt
		}
	}
	for _, store := range t.model.Stores() {
		dead := slices.ContainsFunc(t.story.DeadProofs, func(d evidence.DeadProof) bool {
			return d.Part == store.Part && d.ReadAt.After(last) && (d.Result == evidence.DeadHandling || d.Result == evidence.DeadResistance)
		})
		if !dead {
			return true
		}
	}
	return false
}
