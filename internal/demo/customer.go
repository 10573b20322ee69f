package demo

import (
	"time"

	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
)

// customer is somebody who brings boards; limit is a trader's standing limit in
// whole euro, 0 for private people.
type customer struct {
	name, phone, email string
	limit              int64
}

// All names and numbers are invented.
var customers = map[string]customer{
	"brack":   {"Brackwater Pumps", "0555 010 0140", "workshop@brackwater.example", 120},
	"tarn":    {"Tarnmouth Wells & Irrigation", "0555 010 0177", "office@tarnmouth.example", 120},
	"holm":    {"Holmgarth Farm, I. Sedgewick", "0555 010 0209", "", 0},
	"fenwick": {"Osric Fennimore", "0555 010 0233", "osric@fennimore.example", 0},
	"quill":   {"Quillet Stove Fitters", "0555 010 0251", "jobs@quillet.example", 120},
	"maddow":  {"Maddo Cleaning", "0555 010 0288", "plant@maddo.example", 120},
}

func (t *teller) enterCustomers(when time.Time) error {
	t.customers = map[string]shop.Customer{}
	for key, c := range customers {
		entry := shop.Customer{Name: c.name, Phone: c.phone, Email: c.email}
		if c.limit > 0 {
			entry.StandingLimit = &quote.Money{Minor: c.limit * 100, Currency: "EUR"}
		}
		saved, err := t.at(when).SaveCustomer(t.ctx, t.people["Mirela"], entry)
		if err != nil {
			return err
		}
		t.customers[key] = saved
	}
	return nil
}
