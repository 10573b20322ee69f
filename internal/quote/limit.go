package quote

import (
	"fmt"
	"math/big"
)

// Terms is what a total is held against before work goes on.
type Terms struct {
	Limit      *Money // authorised, tax included; nil: none agreed
	NewBoard   *Money // a new board fitted, tax included; nil: not known
	AskPercent int    // ask beyond this share of a new board
}

// Reasons gives why the customer has to be asked before this total is charged,
// each a sentence; none means that the work is covered.
func (t Terms) Reasons(total Money, locale string) []string {
	var why []string
	switch {
	case total.Minor <= 0:
		return nil
	case t.Limit == nil:
		why = append(why, "No limit is agreed: ask the customer.")
	case t.Limit.Currency != total.Currency:
		why = append(why, fmt.Sprintf("The limit is in %s, the total in %s: ask the customer.", t.Limit.Currency, total.Currency))
	case total.Minor > t.Limit.Minor:
		over := Money{Minor: total.Minor - t.Limit.Minor, Currency: total.Currency}
		why = append(why, fmt.Sprintf("The total, %s, is %s above the limit of %s: ask the customer.",
			total.Format(locale), over.Format(locale), t.Limit.Format(locale)))
	}
	if t.NewBoard != nil && t.AskPercent > 0 && beyond(total, *t.NewBoard, t.AskPercent) {
		why = append(why, fmt.Sprintf("The total, %s, is more than %d %% of a new board fitted (%s): ask whether to repair or replace.",
			total.Format(locale), t.AskPercent, t.NewBoard.Format(locale)))
	}
	return why
}

// beyond tells whether total exceeds percent of whole, exactly.
func beyond(total, whole Money, percent int) bool {
	if total.Currency != whole.Currency {
		return false
	}
	share := new(big.Int).Mul(big.NewInt(whole.Minor), big.NewInt(int64(percent)))
	return new(big.Int).Mul(big.NewInt(total.Minor), big.NewInt(100)).Cmp(share) > 0
}
