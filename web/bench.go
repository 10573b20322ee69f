package web

import (
	"context"
	"net/http"
	"time"

	"github.com/google/uuid"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
	"ohmstead/web/page"
)

// benchBook is what the bench needs of storage, beside the ticket itself.
type benchBook interface {
	Revisions(ctx context.Context, family uuid.UUID) ([]shop.Revision, error)
	Profile(ctx context.Context, id uuid.UUID) (shop.Profile, error)
	OtherProfiles(ctx context.Context, version uuid.UUID) ([]shop.Profile, error)
	AssignRevision(ctx context.Context, by staff.Actor, ticket, revision uuid.UUID, reason string) (shop.Ticket, error)
	StoreReadings(ctx context.Context, by staff.Actor, ticket uuid.UUID, batch []evidence.Reading) ([]evidence.Receipt, error)
	Strike(ctx context.Context, by staff.Actor, ticket, reading uuid.UUID, reason string) error
	StoreDeadProof(ctx context.Context, by staff.Actor, p evidence.DeadProof) (evidence.DeadProof, error)
	StorePowerEvent(ctx context.Context, by staff.Actor, p evidence.PowerEvent) error
	AddFinding(ctx context.Context, by staff.Actor, f evidence.Finding) (evidence.Finding, error)
	WithdrawFinding(ctx context.Context, by staff.Actor, ticket, finding uuid.UUID, reason string) error
	AddFitted(ctx context.Context, by staff.Actor, f evidence.Fitted) (evidence.Fitted, error)
	AddOverrule(ctx context.Context, by staff.Actor, o evidence.Overrule) (evidence.Overrule, error)
	WithdrawOverrule(ctx context.Context, by staff.Actor, ticket, overrule uuid.UUID, reason string) error
	AddSeen(ctx context.Context, by staff.Actor, f evidence.Seen) (evidence.Seen, error)
	Instruments(ctx context.Context, by staff.Actor) ([]evidence.Instrument, error)
	GoodReadings(ctx context.Context, by staff.Actor, revision, except uuid.UUID, meter *uuid.UUID) ([]evidence.Reading, error)
}

// benchModels is how many board models are kept: the kinds of board that are on
// the bench at a time, through every meter in use.
const benchModels = 24

// benchBoards lists the boards on the bench, then those that wait for it.
func (s *Server) benchBoards(w http.ResponseWriter, r *http.Request, v *visit) error {
	list, more, err := s.store.OpenTickets(r.Context(), v.actor(), shop.OnBench, shop.OnShelf, shop.TakenIn)
	if err != nil {
		return err
	}
	s.warmUp(r, v, list)
	p := page.BenchList{Frame: s.frame(v, "The bench", placeBench), More: more}
	p.On, p.Waiting = page.BenchLists(list, v.locale, v.now)
	return render(w, r, http.StatusOK, page.BenchBoards(p))
}

// warmUp lets the engine work out what good boards read while somebody still
// looks at the list: for the first boards on the bench, one after the other, one
// person's list at a time. What goes wrong is said when the bench is opened.
func (s *Server) warmUp(r *http.Request, v *visit, list []shop.Summary) {
	if !s.warming.CompareAndSwap(false, true) {
		return
	}
	var numbers []int64
	for _, t := range list {
		if t.State == shop.OnBench && len(numbers) < warmBoards {
			numbers = append(numbers, t.Number)
		}
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), time.Minute)
	own := r.Clone(ctx)
	go func() {
		defer s.warming.Store(false)
		defer cancel()
		defer func() {
			if cause := recover(); cause != nil {
				s.log.Error("working ahead for the bench", "cause", cause)
			}
		}()
		for _, n := range numbers {
			if ctx.Err() != nil {
				return
			}
			story, err := s.store.TicketByNumber(ctx, v.actor(), n)
			if err != nil {
				continue
			}
			if t, err := s.open(own, v, &story); err == nil && t.model != nil {
				if err := s.learn(ctx, v, t); err == nil {
					t.judge(ctx, s) //nolint:errcheck // the bench page will say so
				}
			}
		}
	}()
}

// warmBoards is for how many boards on the bench the engine works ahead.
const warmBoards = 6

// sitting is one ticket opened on the bench.
type sitting struct {
	story   *shop.Story
	model   *atbench.Model // nil: no profile, or one that cannot be read
	trouble string         // why there is no model though there is a profile
	terms   shop.Settings
	profile shop.Profile
	known   atbench.Known // of boards of its family; see learn

	instruments []evidence.Instrument // the shop's meters
	instrument  *evidence.Instrument  // the one in hand; nil: the built-in default
	meters      atbench.Meters
}

// sitDown opens the bench of the ticket that the address names.
func (s *Server) sitDown(r *http.Request, v *visit) (*sitting, error) {
	story, err := s.storyOf(r, v)
	if err != nil {
		return nil, err
	}
	return s.open(r, v, story)
}

// open lays a ticket's board, profile and meter on the bench.
func (s *Server) open(r *http.Request, v *visit, story *shop.Story) (*sitting, error) {
	set, err := s.store.Settings(r.Context(), v.site.ID)
	if err != nil {
		return nil, err
	}
	t := &sitting{story: story, terms: set}
	if err := s.takeMeter(r, v, t); err != nil {
		return nil, err
	}
	if story.Ticket.ProfileVersionID == nil {
		return t, nil
	}
	if t.profile, err = s.store.Profile(r.Context(), *story.Ticket.ProfileVersionID); err != nil {
		return nil, err
	}
	if t.model, err = s.models.Of(t.profile, t.meter()); err != nil {
		if fault.KindOf(err) != fault.Invalid {
			return nil, err
		}
		s.log.Error("profile cannot be loaded", "profile", t.profile.Key, "cause", err)
		t.trouble = fault.Text(err)
	}
	return t, nil
}

// gate is the state of the ticket's gate now.
func (t *sitting) gate(v *visit) evidence.Gate { return t.model.Gate(t.story, t.terms.Limits(), v.now) }

// benchPage shows the reading screen.
func (s *Server) benchPage(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	in := page.BenchInput{Check: q.Get("check"), After: q.Get("after"), Free: q.Get("free") != ""}
	in.Stored, _ = uuid.Parse(q.Get("stored")) // anything else was not stored just now
	return s.showBench(w, r, v, http.StatusOK, t, in)
}

// showBench fills in what the page needs besides what a form left behind.
func (s *Server) showBench(w http.ResponseWriter, r *http.Request, v *visit, status int, t *sitting, in page.BenchInput) error {
	in.Story, in.Model, in.Trouble, in.Limits = t.story, t.model, t.trouble, t.terms.Limits()
	in.Meter, in.Instrument, in.Instruments = t.meter(), t.instrument, t.instruments
	in.Gate, in.Locale, in.Now, in.NewID = t.gate(v), v.locale, v.now, newReadingID
	var err error
	if in.Good, err = s.goodBoards(r.Context(), v, t); err != nil {
		return err
	}
	if in.Past, err = s.likeBoards(r.Context(), v, t.story, t.model); err != nil {
		return err
	}
	if t.model != nil {
		if err := s.judge(r, v, t, &in); err != nil {
			return err
		}
	}
	if t.model == nil || in.Form == "revision" {
		if in.Revisions, err = s.store.Revisions(r.Context(), uuid.Nil); err != nil {
			return err
		}
	}
	p := page.NewBench(in)
	p.Frame = s.frame(v, page.BenchTitle(t.story, t.model), placeBench)
	p.Frame.Bench = true
	p.Frame.Scripts = append(p.Frame.Scripts, "bench.js")
	return render(w, r, status, page.Bench(p))
}

// patience is how long a page waits for suspects. It comes with the table all the
// same, and says that they are being worked out.
const patience = 250 * time.Millisecond

// judge asks the engine. What it refuses (a profile that it cannot solve) is
// said on the page; readings can be entered all the same.
func (s *Server) judge(r *http.Request, v *visit, t *sitting, in *page.BenchInput) error {
	if err := s.learn(r.Context(), v, t); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	j, err := t.judge(ctx, s)
	if err != nil {
		s.log.Error("judging", "ticket", t.story.Ticket.Number, "profile", t.model.Profile.ID, "cause", err)
		in.Trouble = "The readings could not be judged. They are stored; the profile needs another look."
		if fault.KindOf(err) != fault.Internal {
			in.Trouble = fault.Text(err)
		}
		return nil
	}
	in.Judged, in.Causes = j, t.known.Causes
	if id := t.model.Block(r.URL.Query().Get("block"), j.Code); id != "" {
		if in.Strip, err = t.model.Strip(j, id, atbench.Powered(t.story)); err != nil {
			s.log.Error("strip", "ticket", t.story.Ticket.Number, "block", id, "cause", err)
		}
	}
	return nil
}

// newReadingID makes the id of a reading for a form without script.
func newReadingID() string { return uuid.Must(uuid.NewV7()).String() }
