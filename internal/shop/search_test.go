package shop

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParseQuery(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]Query{
		"42":                              {Number: 42},
		"#1042":                           {Number: 1042},
		"1042":                            {Number: 1042, Digits: "1042", Serial: "1042"},
		" 5678 ":                          {Number: 5678, Digits: "5678", Serial: "5678"},
		"+351 912 345 678":                {Digits: "351912345678", Serial: "351912345678"},
		"http://shop.lan/tickets/1042":    {Number: 1042},
		"https://shop.lan/tickets/1042/":  {Number: 1042},
		"SG-D 00417":                      {Serial: "SGD00417", Words: []string{"sg", "d", "00417"}},
		"Müller":                          {Words: []string{"muller"}},
		"o fenwick":                       {Words: []string{"o", "fenwick"}},
		"m":                               {},
		"#":                               {},
		"#abc":                            {},
		"-5":                              {},
		"+5":                              {},
		"":                                {},
		"99999999999999999999":            {Serial: "99999999999999999999"},
		strings.Repeat("x", maxLine+1):    {},
		"https://shop.lan/tickets/../../": {},
	} {
		if diff := cmp.Diff(want, ParseQuery(typed)); diff != "" {
			t.Errorf("ParseQuery(%q) (-want +got):\n%s", typed, diff)
		}
	}
}

func TestParseQueryTakesAnything(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		q := ParseQuery(rapid.String().Draw(t, "typed"))
		if q.Number < 0 || q.Digits != "" && len(q.Digits) < 3 || q.Digits != PhoneDigits(q.Digits) && !strings.HasPrefix(q.Digits, "00") {
			t.Errorf("%+v", q)
		}
		if q.Empty() != (q.Number == 0 && q.Digits == "" && q.Serial == "" && q.Words == nil) {
			t.Errorf("%+v is empty: %v", q, q.Empty())
		}
	})
}
