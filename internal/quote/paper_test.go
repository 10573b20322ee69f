package quote

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"
)

// A quote as it was frozen when this was written; it has to be read for ever.
const frozenOffer = `{"Version":{"ID":"01a20fe5-73fe-7512-86e3-5c6bfd49dc93","TicketID":"01a20fe5-73f7-7a0c-aa1d-0b66b5c23ec0",
"Number":2,"Currency":"EUR","Note":"as told","Lines":[{"ID":"01a20fe5-73fc-7ebf-b4db-2daf8811ca8b","Kind":"labour","Text":"bench",
"Quantity":"0.75","UnitPrice":"54","Tax":{"Category":"S","Rate":"23"}}],"CreatedAt":"2026-03-04T09:00:00Z","SentAt":null,"SentBy":null},
"Totals":{"Lines":[{"Minor":4050,"Currency":"EUR"}],"Net":{"Minor":4050,"Currency":"EUR"},
"Taxes":[{"Tax":{"Category":"S","Rate":"23"},"Taxable":{"Minor":4050,"Currency":"EUR"},"Amount":{"Minor":932,"Currency":"EUR"}}],
"Tax":{"Minor":932,"Currency":"EUR"},"Gross":{"Minor":4982,"Currency":"EUR"}}}`

func TestFrozenQuotesAreReadForEver(t *testing.T) {
	t.Parallel()
	var got Offer
	if err := json.Unmarshal([]byte(frozenOffer), &got); err != nil {
		t.Fatal(err)
	}
	want := Line{ID: uuid.MustParse("01a20fe5-73fc-7ebf-b4db-2daf8811ca8b"), Kind: Labour, Text: "bench", Quantity: dec("0.75"),
		UnitPrice: Whole(54), Tax: Tax{"S", Whole(23)}}
	if diff := cmp.Diff([]Line{want}, got.Version.Lines); diff != "" || got.Version.Number != 2 {
		t.Errorf("(-want +got):\n%s", diff)
	}
	again, err := Sum(got.Version.Lines, got.Version.Currency)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(got.Totals, again); diff != "" {
		t.Errorf("the totals come out otherwise today (-frozen +now):\n%s", diff)
	}
}

// Nothing of an amount is lost on its way through JSON or a numeric column.
func TestNumbersSurviveStorage(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := Decimal(rapid.Int64Range(-1<<62, 1<<62).Draw(t, "decimal"))
		text, err := json.Marshal(d)
		var back, column Decimal
		if err != nil || json.Unmarshal(text, &back) != nil || back != d {
			t.Errorf("%d through JSON %s is %d", d, text, back)
		}
		v, err := d.Value()
		if err != nil || column.Scan(v) != nil || column != d {
			t.Errorf("%d through a column %v is %d", d, v, column)
		}
		m := Money{rapid.Int64Range(-1<<62, 1<<62).Draw(t, "minor"), "KWD"}
		var kept Money
		if err := kept.Scan(moneyColumn(m)); err != nil || kept != m {
			t.Errorf("%s through a column is %s, %v", m, kept, err)
		}
	})
	var d Decimal
	if json.Unmarshal([]byte(`"1.0000005"`), &d) == nil || d != 0 {
		t.Errorf("a number with more decimals than there are was read as %s", d)
	}
}

// moneyColumn writes money as queries do: minor units, a space, the code.
func moneyColumn(m Money) string {
	plain := Money{m.Minor, "JPY"}.Plain() // no decimals: the minor units themselves
	return plain + " " + m.Currency
}

// The limit is a promise: a total above it always asks, one within it never does
// because of it.
func TestTheLimitHolds(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		total, limit := Money{rapid.Int64Range(1, 1e12).Draw(t, "total"), "EUR"}, Money{rapid.Int64Range(0, 1e12).Draw(t, "limit"), "EUR"}
		board := Money{rapid.Int64Range(1, 1e12).Draw(t, "board"), "EUR"}
		percent := rapid.IntRange(1, 100).Draw(t, "percent")
		byLimit := total.Minor > limit.Minor
		byBoard := total.Minor*100 > board.Minor*int64(percent)
		want := 0
		for _, asks := range []bool{byLimit, byBoard} {
			if asks {
				want++
			}
		}
		if got := (Terms{&limit, &board, percent}).Reasons(total, "de"); len(got) != want {
			t.Errorf("%s against %s and %d %% of %s: %q", total, limit, percent, board, got)
		}
	})
}
