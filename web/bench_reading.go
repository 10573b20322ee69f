package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/url"

	"github.com/google/uuid"

	atbench "ohmstead/internal/bench"
	"ohmstead/internal/evidence"
	"ohmstead/internal/fault"
	"ohmstead/web/page"
)

// readings stores what was measured: a form of one reading, or a tablet's batch.
func (s *Server) readings(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := s.sitDown(r, v)
	if err != nil {
		return err
	}
	if wantsJSON(r) {
		return s.storeBatch(w, r, v, t)
	}
	return s.storeForm(w, r, v, t)
}

// batch is what a tablet sends, receipts what it gets: one for each reading,
// in order.
type batch struct {
	Readings []json.RawMessage `json:"readings"`
}

type receipts struct {
	Receipts []receipt `json:"receipts"`
	Version  int64     `json:"version"` // of the ticket
}

type receipt struct {
	ID      string           `json:"id"`
	Outcome evidence.Outcome `json:"outcome"`
	Text    string           `json:"text,omitempty"`
}

// storeBatch takes what a tablet sends. No reading is refused: what cannot be
// applied is kept, and its receipt says so. Only what is no batch at all is sent
// back; the tablet still has it.
func (s *Server) storeBatch(w http.ResponseWriter, r *http.Request, v *visit, t *sitting) error {
	var b batch
	if err := json.NewDecoder(r.Body).Decode(&b); err != nil {
		return fault.Wrap(err, fault.Invalid, "This is no batch of readings. They stay on the tablet; load the page again.")
	}
	known := knownReadings(t.story.Readings)
	out := receipts{Receipts: make([]receipt, len(b.Readings)), Version: t.story.Ticket.Version}
	var send []evidence.Reading
	var at []int
	for i, raw := range b.Readings {
		e := entryFrom(raw)
		reading, err := t.model.Reading(e, t.at(v))
		out.Receipts[i] = receipt{ID: e.ID}
		if err != nil {
			out.Receipts[i].Text = fault.Text(err)
		}
		switch old, stored := known[reading.ID]; {
		case reading.ID == uuid.Nil:
			return fault.New(fault.Invalid, "Reading %d of the batch has no UUID as its id. They all stay on the tablet.", i+1)
		case stored && sameReading(old, reading):
			out.Receipts[i].Outcome = evidence.Already
		default:
			send, at = append(send, reading), append(at, i)
		}
	}
	done, err := s.store.StoreReadings(r.Context(), v.actor(), t.story.Ticket.ID, send)
	if err != nil {
		return err
	}
	for n, d := range done {
		to := &out.Receipts[at[n]]
		to.Outcome = d.Outcome
		if to.Text == "" {
			to.Text = d.Text
		}
	}
	return writeJSON(w, http.StatusOK, out)
}

// entryFrom reads one reading of a batch. One that does not fit the form is kept
// by its id and as it came, so that it does not hold up those behind it.
func entryFrom(raw json.RawMessage) atbench.Entry {
	var e atbench.Entry
	if err := json.Unmarshal(raw, &e); err == nil {
		return e
	}
	var named struct {
		ID string `json:"id"`
	}
	if err := json.Unmarshal(raw, &named); err != nil {
		return atbench.Entry{}
	}
	return atbench.Entry{ID: named.ID, Typed: clip(string(raw), maxKeptText)}
}

// maxKeptText is how much is kept of a reading that does not fit the form.
const maxKeptText = 200

// at is what a reading takes from the ticket and the person.
func (t *sitting) at(v *visit) atbench.Sitting {
	k := t.story.Ticket
	return atbench.Sitting{TicketID: k.ID, ProfileVersionID: k.ProfileVersionID, MeterVersionID: t.meterVersion(), PersonID: v.person.ID,
		DeviceID: v.actor().Device, Now: v.now, Fitted: t.story.Fitted}
}

func knownReadings(list []evidence.Reading) map[uuid.UUID]evidence.Reading {
	out := make(map[uuid.UUID]evidence.Reading, len(list))
	for _, r := range list {
		out[r.ID] = r
	}
	return out
}

// sameReading tells whether two say the same of the same place. Times are not
// compared: a browser that repeats a form is later than the first time.
func sameReading(a, b evidence.Reading) bool {
	return a.Measure == b.Measure && a.State == b.State && a.Red == b.Red && a.Black == b.Black && a.Across == b.Across &&
		a.Typed == b.Typed && a.Agrees == b.Agrees && a.NotPossible == b.NotPossible && a.Lifted == b.Lifted &&
		a.Swapped == b.Swapped && a.Subject == b.Subject && a.Moving == b.Moving && a.Condition == b.Condition
}

// storeForm takes the form of one reading and leads on to the next check. A
// refused one comes back with everything that was typed.
func (s *Server) storeForm(w http.ResponseWriter, r *http.Request, v *visit, t *sitting) error {
	e := entryOf(r)
	reading, err := t.model.Reading(e, t.at(v))
	if err == nil {
		err = t.barred(reading, v)
	}
	if err == nil {
		err = s.storeOne(r, v, t, reading)
	}
	if err == nil {
		to := page.BenchAddress(t.story.Ticket.Number) + "?stored=" + reading.ID.String()
		if e.Check == "" && t.model == nil {
			to += "&free=1"
		} else if e.Check != "" { // the page chooses the next; storing waits for nothing
			to += "&after=" + url.QueryEscape(e.Check)
		}
		http.Redirect(w, r, to+"#now", http.StatusSeeOther)
		return nil
	}
	k := fault.KindOf(err)
	if k != fault.Invalid && k != fault.Conflict {
		return err
	}
	if k == fault.Conflict {
		e.ID = newReadingID()
	}
	in := page.BenchInput{Check: e.Check, Free: e.Check == "", Entry: e, Refused: err, Form: "reading"}
	return s.showBench(w, r, v, http.StatusUnprocessableEntity, t, in)
}

// entryOf reads the form of one reading.
func entryOf(r *http.Request) atbench.Entry {
	yes := func(name string) bool { return r.PostFormValue(name) == "yes" }
	e := atbench.Entry{
		ID: r.PostFormValue("id"), Check: r.PostFormValue("check"), State: r.PostFormValue("state"),
		Place: atbench.Place{Measure: r.PostFormValue("measure"), Red: trim(r.PostFormValue("red")),
			Black: trim(r.PostFormValue("black")), Across: trim(r.PostFormValue("across"))},
		Typed: r.PostFormValue("typed"), Residue: r.PostFormValue("residue"), Lifted: yes("lifted"), Swapped: yes("swapped"),
		NotOnMetal: yes("not_on_metal"), Agrees: yes("agrees"), NotPossible: yes("not_possible"),
	}
	switch {
	case yes("up"):
		e.Moving = "up"
	case yes("down"):
		e.Moving = "down"
	}
	switch {
	case yes("old"):
		e.Subject = evidence.SubjectOld
	case yes("new"):
		e.Subject = evidence.SubjectNew
	}
	return e
}

// barred refuses a reading that may not be made now.
func (t *sitting) barred(r evidence.Reading, v *visit) error {
	switch t.model.BarOf(r, t.story, t.terms.Limits(), v.now) {
	case atbench.Free:
		return nil
	case atbench.ProveDead:
		return fault.Field("typed", "Nothing proves the board dead now. Prove it, then store this reading; what you typed is kept.")
	case atbench.PowerOff:
		return fault.Field("typed", "The board is powered: a cold reading cannot be right. Switch it off and prove it dead; what you typed is kept.")
	case atbench.WeakMeter:
		return fault.Field("typed", "The meter is not rated for this state: readings with it are refused.")
	}
	return fault.Field("typed", "The board is not powered in the state %q. Say that it is, then store this reading; what you typed is kept.", r.State)
}

// storeOne stores a form's reading once, however often the browser sends it.
func (s *Server) storeOne(r *http.Request, v *visit, t *sitting, reading evidence.Reading) error {
	if old, stored := knownReadings(t.story.Readings)[reading.ID]; stored {
		if sameReading(old, reading) {
			return nil
		}
		return fault.New(fault.Conflict, "This form has stored %s already. To store this as another reading, store it again.", old.Typed)
	}
	done, err := s.store.StoreReadings(r.Context(), v.actor(), t.story.Ticket.ID, []evidence.Reading{reading})
	if err != nil {
		return err
	}
	if len(done) != 1 {
		return errors.New("storing a reading gave no receipt")
	}
	if done[0].Outcome == evidence.Kept {
		return fault.New(fault.Invalid, "%s It is kept, but it does not count.", done[0].Text)
	}
	return nil
}
