package quote

import (
	"math/big"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// dec reads a number written in a test.
func dec(s string) Decimal {
	d, err := DecimalFrom(s)
	if err != nil {
		panic(s + ": " + err.Error())
	}
	return d
}

// at makes a line: quantity, unit price, and the rate in per cent ("E" for exempt).
func at(quantity, price, rate string) Line {
	tax := Tax{Category: "E"}
	if rate != "E" {
		tax = Tax{Category: "S", Rate: dec(rate)}
		if rate == "0" {
			tax.Category = "Z"
		}
	}
	return Line{Kind: Part, Text: "line", Quantity: dec(quantity), UnitPrice: dec(price), Tax: tax}
}

// Worked invoices as published. A charge is one more line, a discount a line
// with a negative quantity: EN 16931-1 adds them to the taxable amount of their
// rate in the same way (BR-S-08).
func TestSumGivesThePublishedTotals(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name, source        string
		code                string
		lines               []Line
		net, tax, gross     string
		taxable, taxAmounts []string
		prepaid, due        string
	}{
		{name: "IV-01", source: "Peppol BIS Billing 3.0, base example", code: "EUR",
			lines: []Line{at("7", "400", "25"), at("-3", "500", "25"), at("1", "25", "25")},
			net:   "1325.00", tax: "331.25", gross: "1656.25",
			taxable: []string{"1325.00"}, taxAmounts: []string{"331.25"}},
		{name: "IV-02", source: "Peppol BIS Billing 3.0, VAT category S example", code: "EUR",
			lines: []Line{at("10", "400", "25"), at("10", "200", "15"), at("10", "90", "25"), at("1", "200", "25"), at("-1", "100", "25")},
			net:   "7000.00", tax: "1550.00", gross: "8550.00",
			taxable: []string{"5000.00", "2000.00"}, taxAmounts: []string{"1250.00", "300.00"}},
		{name: "IV-03", source: "Peppol BIS Billing 3.0, VAT snippet with an exempt line", code: "EUR",
			lines: []Line{at("10", "400", "25"), at("10", "200", "E"), at("10", "90", "25"), at("1", "200", "25"), at("-1", "100", "25")},
			net:   "7000.00", tax: "1250.00", gross: "8250.00",
			taxable: []string{"5000.00", "2000.00"}, taxAmounts: []string{"1250.00", "0.00"}},
		{name: "IV-04", source: "Peppol BIS Billing 3.0, allowance example", code: "EUR",
			lines: []Line{
				at("10", "410", "25"), at("1", "1", "25"), at("-1", "101", "25"), // line net 4000
				at("10", "100", "E"),                                             // 200 per 2
				at("10", "100", "25"), at("1", "1", "25"), at("-1", "101", "25"), // line net 900
				at("1", "200", "25"), at("-1", "200", "25"), // charge 20 % of 1000, discount 200
			},
			net: "5900.00", tax: "1225.00", gross: "7125.00",
			taxable: []string{"4900.00", "1000.00"}, taxAmounts: []string{"1225.00", "0.00"},
			prepaid: "1000.00", due: "6125.00"},
		{name: "IV-05", source: "CEN TC 434, example 2: 365.125 is 365.13, half away from zero", code: "NOK",
			lines: []Line{at("1", "1460.50", "25"), at("1", "1.00", "15"), at("-1", "25.00", "0")},
			net:   "1436.50", tax: "365.28", gross: "1801.78",
			taxable: []string{"1460.50", "1.00", "-25.00"}, taxAmounts: []string{"365.13", "0.15", "0.00"},
			prepaid: "1000.00", due: "801.78"},
		{name: "IV-06", source: "CEN TC 434, example 5", code: "DKK",
			lines: []Line{at("1", "1500", "25"), at("1", "2500", "12")},
			net:   "4000.00", tax: "675.00", gross: "4675.00",
			taxable: []string{"1500.00", "2500.00"}, taxAmounts: []string{"375.00", "300.00"},
			prepaid: "2337.50", due: "2337.50"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := Sum(c.lines, c.code)
			if err != nil {
				t.Fatal(err)
			}
			var taxable, amounts []string
			for _, g := range got.Taxes {
				taxable, amounts = append(taxable, g.Taxable.Plain()), append(amounts, g.Amount.Plain())
			}
			want := []any{c.net, c.tax, c.gross, c.taxable, c.taxAmounts}
			if diff := cmp.Diff(want, []any{got.Net.Plain(), got.Tax.Plain(), got.Gross.Plain(), taxable, amounts}); diff != "" {
				t.Errorf("%s (-published +got):\n%s", c.source, diff)
			}
			if c.due == "" {
				return
			}
			paid := Money{Minor: int64(dec(c.prepaid) / 10_000), Currency: c.code}
			if due, err := got.Due(paid); err != nil || due.Plain() != c.due {
				t.Errorf("due %s, %v; %s has %s", due, err, c.source, c.due)
			}
		})
	}
}

// Tax once per rate, not per line. Source: EN 16931-1, BR-CO-17; figures computed
// by hand from the rule.
func TestTaxIsRoundedOncePerRate(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		lines []Line
		want  string
	}{
		{"3 x 10.01 at 19 %: 5.71, per line it would be 5.70", repeat(3, at("1", "10.01", "19")), "5.71"},
		{"7 x 0.99 at 20 %: 1.39, per line it would be 1.40", repeat(7, at("1", "0.99", "20")), "1.39"},
		{"33.33 + 33.33 + 33.34 at 21 %: 21.00", []Line{at("1", "33.33", "21"), at("1", "33.33", "21"), at("1", "33.34", "21")}, "21.00"},
	} {
		got, err := Sum(c.lines, "EUR")
		if err != nil || got.Tax.Plain() != c.want {
			t.Errorf("%s: got %s, %v", c.name, got.Tax, err)
		}
	}
}

func repeat(n int, l Line) (out []Line) {
	for range n {
		out = append(out, l)
	}
	return out
}

// Rounding half away from zero. Sources: EN 16931-1 with the CEN examples above;
// HMRC VATREC12030 and Council Regulation (EC) 1103/97 for half upwards.
func TestLineNetRoundsHalfAwayFromZero(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ price, quantity, code, want string }{
		{"0.5", "1", "JPY", "1"}, {"1.5", "1", "JPY", "2"}, {"2.5", "1", "JPY", "3"}, {"3.5", "1", "JPY", "4"},
		{"0.5", "-1", "JPY", "-1"}, {"2.5", "-1", "JPY", "-3"},
		{"0.4", "-1", "JPY", "0"}, // never -0
		{"2.345", "1", "EUR", "2.35"}, {"2.355", "1", "EUR", "2.36"}, {"2.665", "1", "EUR", "2.67"},
		{"1.005", "1", "EUR", "1.01"}, // binary float prints 1.00
		{"2.345", "-1", "EUR", "-2.35"},
		{"0.125", "1", "EUR", "0.13"}, {"0.135", "1", "EUR", "0.14"},
		{"365.125", "1", "EUR", "365.13"}, // binary float prints 365.12
		{"54", "0.75", "EUR", "40.50"}, {"0.1", "0.05", "EUR", "0.01"}, {"1.2345", "1", "CLF", "1.2345"},
		{"1.2345", "1", "KWD", "1.235"},
	} {
		got, err := LineNet(Line{Quantity: dec(c.quantity), UnitPrice: dec(c.price)}, c.code)
		if err != nil || got.Plain() != c.want {
			t.Errorf("%s x %s %s = %s, %v; want %s", c.quantity, c.price, c.code, got.Plain(), err, c.want)
		}
	}
}

func TestSumRefusesWhatItCannotAdd(t *testing.T) {
	t.Parallel()
	if _, err := Sum(nil, "XYZ"); err == nil {
		t.Error("an unknown currency was added up")
	}
	if _, err := LineNet(at("1", "1", "20"), "XYZ"); err == nil {
		t.Error("a line in an unknown currency has an amount")
	}
	big := at("100000", "1000000000", "20")
	if _, err := Sum(repeat(MaxLines, big), "CLF"); err == nil {
		t.Error("a sum beyond 64 bits was given")
	}
	if _, err := (Money{1, "EUR"}).plus(Money{1, "NOK"}); err == nil {
		t.Error("euro and krone were added")
	}
}

// anyLines draws lines as they may stand in a quote.
func anyLines(t *rapid.T) []Line {
	rates := []string{"25", "19", "5.5", "7.7", "0", "E"}
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Line {
		l := at("1", "1", rapid.SampledFrom(rates).Draw(t, "rate"))
		l.Quantity = Decimal(rapid.Int64Range(-int64(Whole(1000)), int64(Whole(1000))).Draw(t, "quantity"))
		l.UnitPrice = Decimal(rapid.Int64Range(0, int64(Whole(100_000))).Draw(t, "price"))
		return l
	}), 0, 20).Draw(t, "lines")
}

func TestTotalsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		lines := anyLines(t)
		code := rapid.SampledFrom([]string{"EUR", "JPY", "KWD", "CLF"}).Draw(t, "code")
		got, err := Sum(lines, code)
		if err != nil {
			t.Fatal(err)
		}
		var net, taxable, tax int64
		for _, m := range got.Lines {
			net += m.Minor
		}
		for _, g := range got.Taxes {
			taxable += g.Taxable.Minor
			tax += g.Amount.Minor
			checkRounded(t, g)
		}
		if net != got.Net.Minor || taxable != net || tax != got.Tax.Minor || net+tax != got.Gross.Minor {
			t.Errorf("%+v does not add up", got)
		}
	})
}

// checkRounded holds a tax against the exact product: at most half a unit away,
// and at exactly half a unit the one farther from zero.
func checkRounded(t *rapid.T, g TaxTotal) {
	exact := new(big.Rat).Mul(new(big.Rat).SetInt64(g.Taxable.Minor), big.NewRat(int64(g.Tax.Rate), 100_000_000))
	off := new(big.Rat).Sub(new(big.Rat).SetInt64(g.Amount.Minor), exact)
	half := big.NewRat(1, 2)
	size := new(big.Rat).Abs(off)
	if size.Cmp(half) > 0 || size.Cmp(half) == 0 && off.Sign() != exact.Sign() {
		t.Errorf("%s at %s %%: %s is %s off", g.Taxable, g.Tax.Rate, g.Amount, off)
	}
}

func TestTheOrderOfLinesChangesNoTotal(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		lines := anyLines(t)
		turned := rapid.Permutation(lines).Draw(t, "turned")
		a, errA := Sum(lines, "EUR")
		b, errB := Sum(turned, "EUR")
		if errA != nil || errB != nil || a.Net != b.Net || a.Tax != b.Tax || a.Gross != b.Gross {
			t.Errorf("%v %v against %v %v", a, errA, b, errB)
		}
	})
}
