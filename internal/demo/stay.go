package demo

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// teller knows everybody and everything of the demo shop.
type teller struct {
	ctx       context.Context
	at        func(time.Time) Storage
	now       time.Time
	people    map[string]staff.Actor
	customers map[string]shop.Customer
	revisions map[string]shop.Revision
	profiles  func(key string) *profile.Profile
	meter     *meter.Meter
}

// stay is one board's stay in the shop while it is being told. The first error
// ends the telling; later steps do nothing.
type stay struct {
	*teller
	job      job
	clock    time.Time
	ticket   shop.Ticket
	board    specimen
	repaired bool
	err      error
}

// begin takes the job's board in.
func (t *teller) begin(j job) *stay {
	s := &stay{teller: t, job: j, clock: t.now.Add(-j.ago)}
	p := t.profiles(j.profile)
	rev, known := t.revisions[j.profile]
	if p == nil || !known {
		s.err = fmt.Errorf("no profile %q", j.profile)
		return s
	}
	s.board = specimen{profile: p, defects: j.plant, seed: j.serial}
	c := t.customers[j.customer]
	in := shop.Intake{
		CustomerID: &c.ID, FamilyID: &rev.FamilyID, RevisionID: &rev.ID, Serial: j.serial,
		Complaint: j.complaint, WhenHappens: j.when, Indication: j.shows, Condition: j.condition,
		Accessories: j.with, TouchedBefore: j.touched, IfNotRepaired: shop.WishReturn, Bay: j.bay,
		AskFirst: j.limit == 0 && c.StandingLimit == nil,
	}
	if j.limit > 0 {
		in.Limit = &quote.Money{Minor: j.limit * 100, Currency: "EUR"}
	}
	if j.promised != 0 {
		y, m, d := t.now.AddDate(0, 0, j.promised).Date()
		day := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
		in.PromisedOn = &day
	}
	s.ticket, s.err = t.at(s.clock).TakeIn(t.ctx, t.people["Mirela"], in)
	return s
}

// later lets time pass, never beyond now.
func (s *stay) later(d time.Duration) *stay {
	if s.clock = s.clock.Add(d); s.clock.After(s.now) {
		s.clock = s.now
	}
	return s
}

// step runs one use case unless the telling has failed before.
func (s *stay) step(do func(Storage) error) *stay {
	if s.err == nil {
		s.later(2 * time.Minute)
		s.err = do(s.at(s.clock))
	}
	return s
}

func (s *stay) move(who string, to shop.State, reason string) *stay {
	return s.step(func(store Storage) error {
		story, err := store.TicketByID(s.ctx, s.people[who], s.ticket.ID)
		if err == nil {
			s.ticket, err = store.Move(s.ctx, s.people[who], s.ticket.ID, story.Ticket.Version, to, reason)
		}
		return err
	})
}

// prove reads every store of energy, the meter proved before and after.
func (s *stay) prove(who string, volts float64) *stay {
	for _, part := range s.board.profile.StoredEnergy {
		s.step(func(store Storage) error {
			before, after := s.clock.Add(-90*time.Second), s.clock
			_, err := store.StoreDeadProof(s.ctx, s.people[who], evidence.DeadProof{
				ID: newID(), TicketID: s.ticket.ID, Part: part, Volts: volts, VoltsSwapped: -volts,
				BeforeAt: &before, BeforeOK: true, ReadAt: s.clock.Add(-time.Minute), AfterAt: &after, AfterOK: true, TakenAt: s.clock,
			})
			return err
		})
	}
	return s
}

// power switches the board on in a state of its profile, or off ("").
func (s *stay) power(who, state string) *stay {
	return s.step(func(store Storage) error {
		e := evidence.PowerEvent{ID: newID(), TicketID: s.ticket.ID, On: state != "", State: state, TakenAt: s.clock}
		if st, ok := s.board.profile.State(state); ok {
			e.Hazardous = st.Hazard == profile.Hazardous
		}
		return store.StorePowerEvent(s.ctx, s.people[who], e)
	})
}

// read makes checks by their ids, a minute and a half each.
func (s *stay) read(who string, checks ...string) *stay {
	for _, id := range checks {
		s.readAs(who, id, nil)
	}
	return s
}

// readAs makes one check and lets the caller change what was typed.
func (s *stay) readAs(who, id string, change func(*evidence.Reading)) *stay {
	return s.step(func(store Storage) error {
		c, ok := s.board.profile.Check(id)
		if !ok {
			return fmt.Errorf("no check %q", id)
		}
		typed, err := s.board.read(s.meter, *c)
		if err != nil {
			return fmt.Errorf("check %s: %w", id, err)
		}
		r, err := s.reading(*c, typed)
		if err != nil {
			return err
		}
		if change != nil {
			change(&r)
		}
		receipts, err := store.StoreReadings(s.ctx, s.people[who], s.ticket.ID, []evidence.Reading{r})
		if err == nil && receipts[0].Outcome != evidence.Stored {
			err = fmt.Errorf("check %s: reading %s: %s", id, receipts[0].Outcome, receipts[0].Text)
		}
		return err
	})
}

func (s *stay) reading(c profile.Check, typed string) (evidence.Reading, error) {
	r := evidence.Reading{
		ID: newID(), TicketID: s.ticket.ID, CheckKey: c.ID, State: c.State, Measure: string(c.Measure),
		Red: c.Red, Black: c.Black, Across: c.Across, Lifted: c.Lifted, Swapped: c.Swapped, Stage: evidence.StageBefore,
		Typed: typed, ProfileVersionID: s.ticket.ProfileVersionID, TakenAt: s.clock,
	}
	if s.repaired {
		r.Stage = evidence.StageAfter
	}
	return r, typedInto(&r, typed)
}

// typedInto reads what was typed in the unit of the reading's measure.
func typedInto(r *evidence.Reading, typed string) error {
	unit := quantity.Volt
	if r.Measure == string(profile.MeasureResistance) {
		unit = quantity.Ohm
	}
	v, err := quantity.Parse(typed, unit)
	if err != nil {
		return err
	}
	r.Typed, r.OverRange, r.Value = typed, v.OverRange, nil
	if !v.OverRange {
		r.Value = &v.Number
	}
	return nil
}

func (s *stay) seen(who, part, what string) *stay {
	return s.step(func(store Storage) error {
		_, err := store.AddSeen(s.ctx, s.people[who], evidence.Seen{ID: newID(), TicketID: s.ticket.ID, Part: part, What: what, TakenAt: s.clock})
		return err
	})
}

func (s *stay) found(who, part, mode, words string) *stay {
	return s.step(func(store Storage) error {
		_, err := store.AddFinding(s.ctx, s.people[who], evidence.Finding{ID: newID(), TicketID: s.ticket.ID, Part: part, Mode: mode, Words: words, TakenAt: s.clock})
		return err
	})
}

// fit puts a part in; from then on that part is as new.
func (s *stay) fit(who, part, what string) *stay {
	s.later(8 * time.Minute)
	return s.step(func(store Storage) error {
		_, err := store.AddFitted(s.ctx, s.people[who], evidence.Fitted{ID: newID(), TicketID: s.ticket.ID, Part: part, What: what, TakenAt: s.clock})
		s.repaired = true
		var left []profile.Defect
		for _, d := range s.board.defects {
			if d.Part != part {
				left = append(left, d)
			}
		}
		s.board.defects = left
		return err
	})
}

// price is one line of a quote: kind, words, quantity, unit price.
type price struct {
	kind            quote.Kind
	text            string
	quantity, price string
}

// quoted writes and sends a quote.
func (s *stay) quoted(who string, lines ...price) *stay {
	return s.step(func(store Storage) error {
		var out []quote.Line
		for _, l := range lines {
			q, err := quote.DecimalFrom(l.quantity)
			if err != nil {
				return err
			}
			p, err := quote.DecimalFrom(l.price)
			if err != nil {
				return err
			}
			out = append(out, quote.Line{ID: newID(), Kind: l.kind, Text: l.text, Quantity: q, UnitPrice: p, Tax: quote.Tax{Category: "S", Rate: quote.Whole(23)}})
		}
		story, err := store.TicketByID(s.ctx, s.people[who], s.ticket.ID)
		if err != nil {
			return err
		}
		if _, err = store.SaveQuote(s.ctx, s.people[who], s.ticket.ID, story.Ticket.Version, "", out); err != nil {
			return err
		}
		if story, err = store.TicketByID(s.ctx, s.people[who], s.ticket.ID); err != nil {
			return err
		}
		_, err = store.SendQuote(s.ctx, s.people[who], s.ticket.ID, story.Ticket.Version)
		return err
	})
}

// answered writes down what the customer said to the quote on the phone.
func (s *stay) answered(a quote.Answer) *stay {
	return s.step(func(store Storage) error {
		story, err := store.TicketByID(s.ctx, s.people["Mirela"], s.ticket.ID)
		if err != nil {
			return err
		}
		q := story.Quote()
		_, err = store.RecordConsent(s.ctx, s.people["Mirela"], quote.Consent{TicketID: s.ticket.ID, QuoteID: &q.ID, About: quote.AboutRepair,
			TextShown: "The quote as sent.", Who: story.Customer.Name, Answer: a, Way: "phone", AnsweredAt: s.clock})
		return err
	})
}

// handedOver gives the board back.
func (s *stay) handedOver(as shop.State, text string) *stay {
	return s.step(func(store Storage) error {
		story, err := store.TicketByID(s.ctx, s.people["Mirela"], s.ticket.ID)
		if err != nil {
			return err
		}
		h := shop.HandOver{As: as, To: story.Customer.Name, Text: text}
		for _, b := range s.board.profile.Blocks {
			if b.Safety {
				h.Blocks = append(h.Blocks, shop.SafetyBlock{Name: b.ID, Title: b.Title, Proof: "Function seen on the bench: " + strings.ToLower(b.Title) + "."})
			}
		}
		_, err = store.HandOver(s.ctx, s.people["Mirela"], s.ticket.ID, story.Ticket.Version, h)
		return err
	})
}

func newID() uuid.UUID { return uuid.Must(uuid.NewV7()) }
