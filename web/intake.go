package web

import (
	"net/http"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
	"ohmstead/web/page"
	"ohmstead/web/ui"
)

// intake shows an empty form.
func (s *Server) intake(w http.ResponseWriter, r *http.Request, v *visit) error {
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	typed := page.IntakeForm{FormID: id.String(), Who: r.URL.Query().Get("who")}
	return s.showIntake(w, r, v, http.StatusOK, typed, nil)
}

// takeIn stores what the counter wrote down, or gives the form back: to look
// somebody up, or because something is wrong.
func (s *Server) takeIn(w http.ResponseWriter, r *http.Request, v *visit) error {
	typed := intakeForm(r)
	if wantsLookUp(r.PostFormValue("do"), typed) {
		return s.showIntake(w, r, v, http.StatusOK, typed, nil)
	}
	in, err := readIntake(typed, v)
	if err == nil {
		err = s.settleCustomer(r, &in, typed)
	}
	var t shop.Ticket
	if err == nil {
		t, err = s.store.TakeIn(r.Context(), v.actor(), in)
	}
	switch k := fault.KindOf(err); {
	case err == nil:
		http.Redirect(w, r, page.TicketAddress(t.Number)+"?done=taken-in", http.StatusSeeOther)
		return nil
	case k == fault.Conflict: // nothing was stored: sent once more it shall be a form of its own
		typed.FormID = uuid.Must(uuid.NewV7()).String()
		fallthrough
	case k == fault.Invalid:
		return s.showIntake(w, r, v, statusOf[k], typed, atKind(err))
	}
	return err
}

// atKind moves what is wrong with a family or revision to the field in which
// both are chosen.
func atKind(err error) error {
	fields := map[string]string{}
	for name, text := range fault.Fields(err) {
		if name == "family" || name == "revision" {
			name = "kind"
		}
		fields[name] = text
	}
	if len(fields) == 0 {
		return err
	}
	return fault.Form(fields)
}

// wantsLookUp tells whether the form asks for a customer rather than for a
// ticket. The enter key in an otherwise empty form asks for the customer too.
func wantsLookUp(do string, typed page.IntakeForm) bool {
	return do == "look-up" || do == "enter" && typed.Customer == "" && typed.Name == "" && typed.Complaint == ""
}

// settleCustomer makes sure whose board it is: one who was chosen, or a new one
// whose phone number is not that of somebody known.
func (s *Server) settleCustomer(r *http.Request, in *shop.Intake, typed page.IntakeForm) error {
	if in.CustomerID != nil {
		c, err := s.store.Customer(r.Context(), *in.CustomerID)
		if err != nil {
			if fault.KindOf(err) == fault.NotFound {
				return fault.Field("customer", "This customer is no longer on record. Look the customer up again.")
			}
			return err
		}
		if in.Limit == nil && !in.AskFirst && c.StandingLimit == nil {
			return fault.Field("limit", "Enter up to what amount you may work, or tick “ask first”: %s has no standing limit.", c.Name)
		}
		return nil
	}
	if typed.Customer == page.NewCustomer {
		return nil
	}
	known, err := s.sameNumber(r, in.Phone)
	if err != nil || len(known) == 0 {
		return err
	}
	return fault.Field("customer", "This number is that of %s. Choose, or say that it is a new customer.", known[0].Name)
}

// sameNumber gives the customers with exactly this phone number.
func (s *Server) sameNumber(r *http.Request, phone string) ([]shop.Customer, error) {
	digits := shop.PhoneDigits(phone)
	if len(digits) < 3 {
		return nil, nil
	}
	found, err := s.store.FindCustomers(r.Context(), digits)
	if err != nil {
		return nil, err
	}
	var same []shop.Customer
	for _, c := range found {
		if c.PhoneDigits == digits {
			same = append(same, c)
		}
	}
	return same, nil
}

// showIntake gives the form with what was typed, whom it may mean and whether
// the board was here before.
func (s *Server) showIntake(w http.ResponseWriter, r *http.Request, v *visit, status int, typed page.IntakeForm, refused error) error {
	p := page.TakeInPage{Frame: s.frame(v, "Take in a board", placeCounter), Typed: typed,
		Refusal: page.RefusalOf(refused, page.IntakeOrder()...)}
	p.Frame.Scripts = append(p.Frame.Scripts, "intake.js")
	var err error
	if p.Kinds, err = s.kinds(r); err != nil {
		return err
	}
	if p.Matches, err = s.matches(r, v, typed); err != nil {
		return err
	}
	if p.Typed.Limit == "" && p.Typed.AskFirst == "" && refused == nil {
		p.Typed.Limit = p.Matches.ChosenLimit()
	}
	if p.Known, err = s.known(r, v, typed.Serial, p.Kinds); err != nil {
		return err
	}
	set, err := s.store.Settings(r.Context(), v.site.ID)
	if err != nil {
		return err
	}
	p.Fee = page.FeeSentence(set, v.site.Currency, v.site.Locale)
	return render(w, r, status, page.TakeIn(p))
}

// kinds lists the families and revisions that a board may be.
func (s *Server) kinds(r *http.Request) ([]ui.Option, error) {
	families, err := s.store.Families(r.Context())
	if err != nil {
		return nil, err
	}
	revisions, err := s.store.Revisions(r.Context(), uuid.Nil)
	if err != nil {
		return nil, err
	}
	return page.KindOptions(families, revisions), nil
}

// matches finds whom the form may mean: by what was typed to look somebody up,
// and by the phone number of a new customer. Who was chosen stays in the list.
func (s *Server) matches(r *http.Request, v *visit, typed page.IntakeForm) (page.CustomerMatches, error) {
	query := trim(typed.Who)
	var found []shop.Customer
	var err error
	if query != "" {
		if found, err = s.store.FindCustomers(r.Context(), query); err != nil {
			return page.CustomerMatches{}, err
		}
	}
	if len(found) == 0 {
		if found, err = s.sameNumber(r, typed.Phone); err != nil {
			return page.CustomerMatches{}, err
		}
	}
	if found, err = s.withChosen(r, found, typed.Customer); err != nil {
		return page.CustomerMatches{}, err
	}
	return page.NewCustomerMatches(query != "" || len(found) > 0, found, typed.Customer, v.site.Locale), nil
}

func (s *Server) withChosen(r *http.Request, found []shop.Customer, chosen string) ([]shop.Customer, error) {
	id, err := uuid.Parse(chosen)
	if err != nil {
		return found, nil
	}
	for _, c := range found {
		if c.ID == id {
			return found, nil
		}
	}
	c, err := s.store.Customer(r.Context(), id)
	if fault.KindOf(err) == fault.NotFound && err != nil {
		return found, nil
	}
	return append([]shop.Customer{c}, found...), err
}

// known tells whether a board with this serial was here before.
func (s *Server) known(r *http.Request, v *visit, serial string, kinds []ui.Option) (page.KnownBoard, error) {
	if shop.SerialKey(serial) == "" {
		return page.KnownBoard{}, nil
	}
	found, err := s.store.Find(r.Context(), v.actor(), serial)
	if err != nil {
		return page.KnownBoard{}, err
	}
	return page.NewKnownBoard(serial, found, kinds, v.locale, v.now), nil
}

// customers answers the form's script: the customers whom a few digits or
// letters may mean, as a fragment of the page.
func (s *Server) customers(w http.ResponseWriter, r *http.Request, v *visit) error {
	m, err := s.matches(r, v, page.IntakeForm{Who: r.URL.Query().Get("q")})
	if err != nil {
		return err
	}
	return render(w, r, http.StatusOK, page.Matches(m, ""))
}

// boards answers the form's script: whether a serial was here before.
func (s *Server) boards(w http.ResponseWriter, r *http.Request, v *visit) error {
	kinds, err := s.kinds(r)
	if err != nil {
		return err
	}
	k, err := s.known(r, v, r.URL.Query().Get("serial"), kinds)
	if err != nil {
		return err
	}
	return render(w, r, http.StatusOK, page.Known(k))
}
