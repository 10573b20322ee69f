package quote

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ohmstead/internal/fault"
)

// Source: ISO 4217, list one.
func TestDigitsAreThoseOfISO4217(t *testing.T) {
	t.Parallel()
	for digits, codes := range map[int]string{
		0: "JPY KRW ISK VND CLP PYG UGX RWF XAF XOF XPF BIF DJF GNF KMF VUV UYI",
		3: "BHD IQD JOD KWD LYD OMR TND",
		4: "CLF UYW",
		2: "EUR USD GBP CHF SEK NOK DKK PLN CZK HUF MGA MRU",
	} {
		for _, code := range strings.Fields(codes) {
			if got, ok := Digits(code); !ok || got != digits {
				t.Errorf("Digits(%s) = %d, %v; ISO 4217 has %d", code, got, ok, digits)
			}
		}
	}
	for _, code := range []string{"", "XYZ", "eur"} {
		if _, ok := Digits(code); ok {
			t.Errorf("Digits(%q) knows a currency that does not exist", code)
		}
	}
}

// Source: ISO 4217 minor units, CLDR 48 for the marks.
func TestMoneyIsWrittenAsTheLocaleDoes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ code, plain string }{{"JPY", "1234"}, {"USD", "12.34"}, {"KWD", "1.234"}, {"CLF", "0.1234"}} {
		if got := (Money{1234, c.code}).Plain(); got != c.plain {
			t.Errorf("1234 minor units of %s: %s, want %s", c.code, got, c.plain)
		}
	}
	for _, c := range []struct {
		m            Money
		locale, want string
	}{
		{Money{123450, "EUR"}, "de", "1.234,50\u00a0€"},
		{Money{123450, "EUR"}, "en-IE", "€1,234.50"},
		{Money{-5, "EUR"}, "en-IE", "-€0.05"},
		{Money{1234, "JPY"}, "en", "¥1,234"},
		{Money{7, "XYZ"}, "en", "7 XYZ"},
	} {
		if got := c.m.Format(c.locale); got != c.want {
			t.Errorf("%s in %s: %q, want %q", c.m, c.locale, got, c.want)
		}
	}
}

func TestParseMoneyTakesWhatPeopleType(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		typed, code, locale string
		want                int64
	}{
		{"12,50", "EUR", "de", 1250}, {"12.50", "EUR", "en", 1250},
		{"12.50", "EUR", "de", 1250}, {"12,50", "EUR", "en", 1250}, // the other mark, two decimals: no doubt
		{"12,5", "EUR", "de", 1250}, {"12", "EUR", "de", 1200}, {" 0 ", "EUR", "de", 0},
		{"12,50 €", "EUR", "de", 1250}, {"EUR 12.50", "EUR", "en", 1250}, {"€12.50", "EUR", "en", 1250},
		{"1250", "JPY", "en", 1250}, {"￥１２５０", "JPY", "ja-JP", 1250}, {"¥1250", "JPY", "ja-JP", 1250}, {"１２．５０", "EUR", "en", 1250}, {"1,250", "KWD", "de", 1250}, {"1.250", "KWD", "en", 1250},
	} {
		got, err := ParseMoney(c.typed, c.code, c.locale)
		if err != nil || got != (Money{c.want, c.code}) {
			t.Errorf("ParseMoney(%q, %s, %s) = %v, %v; want %d", c.typed, c.code, c.locale, got, err, c.want)
		}
	}
}

func TestParseMoneySaysWhatToType(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ typed, code, locale, says string }{
		{"", "EUR", "de", "such as 12,50"},
		{"zwölf", "EUR", "de", "such as 12,50"},
		{"1.250", "EUR", "de", "two things"}, {"1,250", "EUR", "en", "two things"}, // a thousands separator, perhaps
		{"1.250,00", "EUR", "de", "without separators"}, {"1 250", "EUR", "fr", "without separators"},
		{"1'250.00", "CHF", "de-CH", "without separators"},
		{"12,505", "EUR", "de", "at most 2 decimals"}, {"12.5", "JPY", "en", "without decimals"},
		{"-5", "EUR", "de", "without a minus"}, {"1e3", "EUR", "en", "in digits"}, {"10²", "EUR", "en", "in digits"},
		{"12,", "EUR", "de", "in digits"}, {",50", "EUR", "de", "in digits"}, {"+5", "EUR", "de", "in digits"},
		{"99999999999999999999", "EUR", "de", "in digits"},
		{"5", "XYZ", "de", "not a currency"},
	} {
		got, err := ParseMoney(c.typed, c.code, c.locale)
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(fault.Text(err), c.says) {
			t.Errorf("ParseMoney(%q, %s, %s) = %v, %v; want a message with %q", c.typed, c.code, c.locale, got, err, c.says)
		}
	}
}

func TestMoneyFieldsReadBack(t *testing.T) {
	t.Parallel()
	locales := []string{"de", "en", "fr", "sv", "pt-PT", "de-CH", "ja"}
	rapid.Check(t, func(t *rapid.T) {
		m := Money{rapid.Int64Range(0, 1<<62).Draw(t, "minor"), rapid.SampledFrom([]string{"EUR", "JPY", "KWD", "CLF"}).Draw(t, "code")}
		locale := rapid.SampledFrom(locales).Draw(t, "locale")
		got, err := ParseMoney(m.Field(locale), m.Currency, locale)
		if err != nil || got != m {
			t.Errorf("%s in %s was written %q and read %v, %v", m, locale, m.Field(locale), got, err)
		}
		d := Decimal(rapid.Int64().Draw(t, "decimal"))
		if d < -1<<62 || d > 1<<62 {
			return
		}
		back, err := ParseDecimal(d.Field(locale), locale, "a number")
		if err != nil || back != d {
			t.Errorf("%s in %s was written %q and read %s, %v", d, locale, d.Field(locale), back, err)
		}
	})
}

func TestDecimalIsExact(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		want Decimal
	}{{"0", 0}, {"1", one}, {"-0.000001", -1}, {"12.5", 12_500_000}, {"1.005", 1_005_000}} {
		got, err := DecimalFrom(c.text)
		if err != nil || got != c.want || got.String() != c.text {
			t.Errorf("%s: %d (%s), %v", c.text, got, got, err)
		}
	}
	for _, bad := range []string{"", "-", ".", "1.", ".5", "1.0000001", "1,5", " 1", "1e3", "0x1", "9999999999999999999"} {
		if got, err := DecimalFrom(bad); err == nil {
			t.Errorf("DecimalFrom(%q) = %s", bad, got)
		}
	}
	var d Decimal
	if err := d.Scan("12.500000"); err != nil || d != dec("12.5") {
		t.Errorf("a numeric column read as %s, %v", d, err)
	}
	if err := d.Scan(int64(3)); err == nil {
		t.Error("an integer column was taken for a numeric one")
	}
	var m Money
	if err := m.Scan("-1250 EUR"); err != nil || m != (Money{-1250, "EUR"}) {
		t.Errorf("money read as %v, %v", m, err)
	}
	if err := m.Scan("1250"); err == nil {
		t.Error("money without its currency was read")
	}
}
