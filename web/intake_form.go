package web

import (
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/web/page"
)

// intakeForm takes the form as it was typed.
func intakeForm(r *http.Request) page.IntakeForm {
	f := func(name string) string { return oneKindOfBreak(r.PostFormValue(name)) }
	return page.IntakeForm{
		FormID: f("form"), Who: f("who"), Customer: f("customer"), Name: f("name"), Phone: f("phone"), Email: f("email"),
		Complaint: f("complaint"), Kind: f("kind"), Serial: f("serial"), OwnTag: f("own_tag"), NotAComeback: f("not_a_comeback"),
		Indication: f("indication"), WhenHappens: f("when_happens"), TouchedBefore: f("touched_before"),
		Accessories: f("accessories"), Condition: f("condition"), Limit: f("limit"), AskFirst: f("ask_first"),
		PromisedOn: f("promised_on"), IfNotRepaired: f("if_not_repaired"), Bay: f("bay"),
	}
}

// readIntake says what a form means; the error has a message for each field that
// cannot be read.
func readIntake(f page.IntakeForm, v *visit) (shop.Intake, error) {
	problems := map[string]string{}
	in := shop.Intake{
		Name: trim(f.Name), Phone: trim(f.Phone), Email: trim(f.Email), Serial: trim(f.Serial), OwnTag: trim(f.OwnTag),
		Complaint: trim(f.Complaint), WhenHappens: trim(f.WhenHappens), Indication: trim(f.Indication),
		Condition: trim(f.Condition), Accessories: trim(f.Accessories), TouchedBefore: trim(f.TouchedBefore),
		IfNotRepaired: f.IfNotRepaired, Bay: trim(f.Bay),
		AskFirst: f.AskFirst == "yes", NotAComeback: f.NotAComeback == "yes",
	}
	var err error
	if in.TicketID, err = uuid.Parse(f.FormID); err != nil {
		in.TicketID = uuid.Nil
	}
	readWhose(&in, f, problems)
	in.FamilyID, in.RevisionID, err = readKind(f.Kind)
	note(problems, "kind", err)
	in.Limit, err = readLimit(f.Limit, v)
	note(problems, "limit", err)
	in.PromisedOn, err = readDay(f.PromisedOn, v)
	note(problems, "promised_on", err)
	addFields(problems, in.Check())
	return in, fault.Form(problems)
}

// readWhose takes the chosen customer, or what was typed for a new one.
func readWhose(in *shop.Intake, f page.IntakeForm, problems map[string]string) {
	isNew := f.Customer == page.NewCustomer || f.Customer == "" && (in.Name != "" || in.Phone != "" || in.Email != "")
	switch id, err := uuid.Parse(f.Customer); {
	case err == nil && in.Name+in.Phone+in.Email != "":
		problems["customer"] = "A known customer is chosen and a new one typed. Keep one of the two."
	case err == nil:
		in.CustomerID = &id
	case isNew:
		if in.Limit == nil && !in.AskFirst && trim(f.Limit) == "" {
			problems["limit"] = "Enter up to what amount you may work, or tick “ask first”."
		}
	case f.Customer == "":
		nobody := uuid.Nil
		in.CustomerID = &nobody // one message is enough: none about the name as well
		problems["customer"] = "Look the customer up and choose, or enter a new one."
	default:
		problems["customer"] = "Choose one of the customers."
	}
}

// readKind takes the choice of family and revision, see page.KindOptions.
func readKind(chosen string) (family, revision *uuid.UUID, err error) {
	if chosen == "" {
		return nil, nil, nil
	}
	what, key, _ := strings.Cut(chosen, ":")
	id, err := uuid.Parse(key)
	switch {
	case err == nil && what == "rev":
		return nil, &id, nil
	case err == nil && what == "fam":
		return &id, nil, nil
	}
	return nil, nil, fault.New(fault.Invalid, "Choose a family and revision from the list, or unknown.")
}

// readLimit reads an amount as the shop writes it; nil when nothing was typed.
func readLimit(typed string, v *visit) (*quote.Money, error) {
	if trim(typed) == "" {
		return nil, nil
	}
	m, err := quote.ParseMoney(typed, v.site.Currency, v.site.Locale)
	if err != nil {
		return nil, err
	}
	return &m, nil
}

// readDay reads a promised day; nil when nothing was typed. A day that has
// passed cannot be promised.
func readDay(typed string, v *visit) (*time.Time, error) {
	if trim(typed) == "" {
		return nil, nil
	}
	day, err := time.Parse(time.DateOnly, trim(typed))
	switch {
	case err != nil:
		return nil, fault.New(fault.Invalid, "Enter a day as year-month-day, such as %s.", v.locale.Today(v.now).AddDate(0, 0, 7).Format(time.DateOnly))
	case day.Before(v.locale.Today(v.now)):
		return nil, fault.New(fault.Invalid, "This day has passed. Promise today or later.")
	case day.After(v.now.AddDate(5, 0, 0)):
		return nil, fault.New(fault.Invalid, "This day is more than five years away. Check the year.")
	}
	return &day, nil
}
