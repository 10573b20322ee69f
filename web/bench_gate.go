package web

import (
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/web/page"
)

// proveDead stores the readings of the stores of energy, between two proofs of
// the meter. A store that was left out stays to be proven.
func (s *Server) proveDead(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	f := proofForm{typed: map[string]string{}, problems: map[string]string{}}
	proofs := f.read(r, v, t)
	if err = fault.Form(f.problems); err == nil {
		for _, p := range proofs {
			if _, err = s.store.StoreDeadProof(r.Context(), v.actor(), p); err != nil {
				break
			}
		}
	}
	if err == nil {
		return backToBench(w, r, t, "now")
	}
	if k := fault.KindOf(err); k != fault.Invalid && k != fault.Conflict {
		return err
	}
	in := page.BenchInput{Proof: f.typed, Refused: err, Form: "gate", Check: r.PostFormValue("check")}
	return s.showBench(w, r, v, http.StatusUnprocessableEntity, t, in)
}

// proofForm is the form of "Prove dead" while it is understood.
type proofForm struct {
	typed    map[string]string
	problems map[string]string
	high     bool // a reading lies above the handling limit: it counts without any proof of the meter
}

// read understands the form: the two times, and the volts of each store.
// Readings are dated at the first proof of the meter, the earliest that they can
// be, so that they count no longer than they may.
func (f *proofForm) read(r *http.Request, v *visit, t *sitting) []evidence.DeadProof {
	r.PostFormValue("") // reads the form
	for name := range r.PostForm {
		f.typed[name] = r.PostFormValue(name)
	}
	var proofs []evidence.DeadProof
	for _, store := range t.model.Stores() {
		if p, ok := f.volts(store.Part); ok {
			p.TicketID = t.story.Ticket.ID
			proofs = append(proofs, p)
		}
	}
	if len(proofs) == 0 && len(f.problems) == 0 {
		f.problems["volts:"+t.model.Stores()[0].Part] = "Type the volts that you read, both ways round."
	}
	before, after := f.times(v, t.story.Power)
	for i := range proofs {
		p := &proofs[i]
		p.ReadAt, p.TakenAt = v.now, v.now
		if before != nil {
			p.BeforeAt, p.BeforeOK, p.ReadAt = before, true, *before
		}
		if after != nil {
			p.AfterAt, p.AfterOK = after, true
		}
	}
	return proofs
}

// volts understands the two readings of one store; ok is false when it was
// left out.
func (f *proofForm) volts(part string) (p evidence.DeadProof, ok bool) {
	p.Part = part
	fields := [2]string{"volts:" + part, "swapped:" + part}
	if strings.TrimSpace(f.typed[fields[0]]+f.typed[fields[1]]) == "" {
		return p, false
	}
	for i, to := range []*float64{&p.Volts, &p.VoltsSwapped} {
		x, err := quantity.Parse(f.typed[fields[i]], quantity.Volt)
		switch {
		case strings.TrimSpace(f.typed[fields[i]]) == "":
			f.problems[fields[i]] = "Read it this way round too."
		case err != nil || x.OverRange:
			f.problems[fields[i]] = "Type volts, such as 0.03 or 12."
		}
		*to = x.Number
	}
	id, err := uuid.Parse(f.typed["id:"+part])
	if err == nil {
		p.ID = id
	}
	f.high = f.high || p.Worst() > evidence.MaxHandling
	return p, true
}

// times understands when the meter was proved. They may be missing only beside
// a reading that is high anyway.
func (f *proofForm) times(v *visit, power []evidence.PowerEvent) (before, after *time.Time) {
	before, after = f.clock("before_at", v), f.clock("after_at", v)
	if before == nil && !f.high && f.problems["before_at"] == "" {
		f.problems["before_at"] = "Prove the meter on a known DC source, same range, before you read; then say when."
	}
	if after == nil && !f.high && f.problems["after_at"] == "" {
		f.problems["after_at"] = "Prove the meter once more after the reading; without that nothing is proven."
	}
	if before == nil {
		return before, after
	}
	if after != nil && after.Before(*before) {
		f.problems["after_at"] = "The second proof lies before the first."
	}
	for _, p := range power {
		if !p.TakenAt.Before(*before) && f.problems["before_at"] == "" {
			f.problems["before_at"] = "The board was powered at " + v.locale.Clock(p.TakenAt) + " or switched off then. Prove the meter after that."
		}
	}
	return before, after
}

// clock understands a time of day within the last ten minutes, in the shop's
// zone; nil when it is missing or wrong.
func (f *proofForm) clock(field string, v *visit) *time.Time {
	text := strings.TrimSpace(f.typed[field])
	if text == "" {
		return nil
	}
	zone, err := time.LoadLocation(v.site.TZ)
	if err != nil {
		zone = time.UTC
	}
	for _, layout := range []string{"15:04:05", "15:04"} {
		c, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		y, m, d := v.now.In(zone).Date()
		at := nearest(time.Date(y, m, d, c.Hour(), c.Minute(), c.Second(), 0, zone), v.now)
		if at.Sub(v.now) > time.Minute { // just before midnight, typed just after it
			at = at.AddDate(0, 0, -1)
		}
		if v.now.Sub(at) >= evidence.ProofHolds {
			f.problems[field] = "That is not within the last 10 minutes; a proof counts no longer. Prove the meter again."
			return nil
		}
		return &at
	}
	f.problems[field] = "Type a time of day, such as 14:05."
	return nil
}

// nearest gives the moment with at's time of day that lies nearest to now: in the
// hour that is repeated when summer time ends there are two.
func nearest(at, now time.Time) time.Time {
	best := at
	for _, other := range []time.Time{at.Add(time.Hour), at.Add(-time.Hour)} {
		if other.Hour() == at.Hour() && other.Minute() == at.Minute() && now.Sub(other).Abs() < now.Sub(best).Abs() {
			best = other
		}
	}
	return best
}

// power stores that the board was powered or switched off. Both close the gate.
func (s *Server) power(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	on := r.PostFormValue("on")
	if on != "yes" && on != "no" {
		return fault.New(fault.Invalid, "Say whether the board is powered or switched off. Nothing was stored.")
	}
	e := evidence.PowerEvent{TicketID: t.story.Ticket.ID, On: on == "yes", TakenAt: v.now}
	if id, err := uuid.Parse(r.PostFormValue("id")); err == nil {
		e.ID = id
	}
	if e.On {
		e.State = r.PostFormValue("state")
		err = t.mayPower(e.State)
		e.Hazardous = t.model.Hazard(e.State) == profile.Hazardous
	} else {
		e.State = atbench.Powered(t.story)
	}
	if err == nil {
		err = s.store.StorePowerEvent(r.Context(), v.actor(), e)
	}
	if err != nil {
		return s.markRefused(w, r, v, t, "power", map[string]string{"state": e.State}, err)
	}
	return benchAt(w, r, t, t.checkIn(r.PostFormValue("check"), e), "now")
}

// checkIn gives the check to have at hand after the board was powered or switched
// off: the one that was, when it can be made now; otherwise the first of the state,
// and on a board that is off the one most worth making, "".
func (t *sitting) checkIn(atHand string, e evidence.PowerEvent) string {
	if t.model == nil {
		return atHand
	}
	state := profile.Cold
	if e.On {
		state = e.State
	}
	if c, ok := t.model.Profile.Check(atHand); ok && c.State == state {
		return atHand
	}
	for _, c := range t.model.Profile.Checks {
		if e.On && c.State == state && c.ID != "" {
			return c.ID
		}
	}
	return ""
}

// mayPower refuses a state that the profile does not have. A meter that is not
// rated for it refuses hot checks, not the statement that the board is powered.
func (t *sitting) mayPower(state string) error {
	if t.model == nil {
		if state == atbench.LiveState || state == atbench.Injected {
			return nil
		}
	} else if st, ok := t.model.Profile.State(state); ok && st.ID != profile.Cold {
		return nil
	}
	return fault.New(fault.Invalid, "Say in which state the board is powered.")
}

// benchState answers a bench page that asks whether it is still right: the
// state of the board, the ticket's version, and whether suspects are to come.
func (s *Server) benchState(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	state := page.EdgeStateOf(t.gate(v), t.story, t.model, v.locale, v.now)
	if t.model != nil {
		if err := s.learn(r.Context(), v, t); err != nil {
			return err
		}
		state.Pending = t.model.Pending(t.story, t.meters, t.known)
	}
	return writeJSON(w, http.StatusOK, state)
}
