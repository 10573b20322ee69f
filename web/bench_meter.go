package web

import (
	"context"
	"net/http"
	"time"

	"github.com/google/uuid"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
)

// meterCookie is how a browser remembers which of the shop's meters lies beside it.
const meterCookie = "ohmstead-meter"

// takeMeter finds out which meter is in hand: the one this browser chose, or the
// built-in default.
func (s *Server) takeMeter(r *http.Request, v *visit, t *sitting) error {
	var err error
	if t.instruments, err = s.store.Instruments(r.Context(), v.actor()); err != nil {
		return err
	}
	if t.meters, err = atbench.MetersOf(t.instruments); err != nil {
		s.log.Error("meters of the shop", "cause", err)
	}
	chosen, err := r.Cookie(meterCookie)
	for i := range t.instruments {
		in := &t.instruments[i]
		if err == nil && in.ID.String() == chosen.Value && t.meters[in.MeterVersionID] != nil {
			t.instrument = in
		}
	}
	return nil
}

// meter is the one in hand.
func (t *sitting) meter() *meter.Meter { return t.meters.Of(t.meterVersion()) }

func (t *sitting) meterVersion() *uuid.UUID {
	if t.instrument == nil {
		return nil
	}
	return &t.instrument.MeterVersionID
}

// chooseMeter remembers for this browser which meter lies beside it.
func (s *Server) chooseMeter(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	id := r.PostFormValue("meter")
	if id != "" && !isInstrument(t.instruments, id) {
		return fault.New(fault.NotFound, "There is no such meter in this shop.")
	}
	http.SetCookie(w, &http.Cookie{Name: meterCookie, Value: id, Path: "/", HttpOnly: true, Secure: s.overHTTPS(r),
		SameSite: http.SameSiteLaxMode, MaxAge: int((365 * 24 * time.Hour).Seconds())})
	return backToBench(w, r, t, "now")
}

func isInstrument(list []evidence.Instrument, id string) bool {
	for _, in := range list {
		if in.ID.String() == id {
			return true
		}
	}
	return false
}

// judge weighs the ticket's readings through the meter in hand, and waits for
// suspects until ctx is done; readings taken with another meter are compared
// through theirs.
func (t *sitting) judge(ctx context.Context, s *Server) (*atbench.Judgement, error) {
	j, err := t.model.Judge(ctx, t.story, t.meters, t.known)
	if err == nil {
		err = t.othersBeside(s, j)
	}
	return j, err
}

// compare sets the readings against what a good board reads, each through its own
// meter, without suspects.
func (t *sitting) compare(s *Server) (*atbench.Judgement, error) {
	j := t.model.Compare(t.story, t.meters)
	return j, t.othersBeside(s, j)
}

// othersBeside puts beside a judgement the readings that were taken with another
// meter.
func (t *sitting) othersBeside(s *Server, j *atbench.Judgement) error {
	for _, other := range j.Others {
		m, err := s.models.Of(t.profile, other)
		if err != nil {
			return err
		}
		j.Beside(m.Compare(t.story, t.meters))
	}
	return nil
}
