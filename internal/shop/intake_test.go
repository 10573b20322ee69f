package shop

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/staff"
)

// fieldsOf gives the names of the fields that an error is about, sorted.
func fieldsOf(err error) []string {
	var out []string
	for f := range fault.Fields(err) {
		out = append(out, f)
	}
	slices.Sort(out)
	return out
}

func wantFields(t *testing.T, name string, err error, want ...string) {
	t.Helper()
	if diff := cmp.Diff(want, fieldsOf(err)); diff != "" {
		t.Errorf("%s: fields (-want +got):\n%s%v", name, diff, err)
	}
}

func TestIntakeSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	known := uuid.New()
	for _, c := range []struct {
		name   string
		change func(in *Intake)
		want   []string
	}{
		{"new customer", func(in *Intake) {}, nil},
		{"known customer", func(in *Intake) { *in = Intake{CustomerID: &known, Complaint: "dead"} }, nil},
		{"e-mail instead of a phone", func(in *Intake) { in.Phone, in.Email = "", "orla@example.org" }, nil},
		{"nothing at all", func(in *Intake) { *in = Intake{} }, []string{"complaint", "name", "phone"}},
		{"spaces only", func(in *Intake) { in.Name, in.Complaint = " ", "\n\t" }, []string{"complaint", "name"}},
		{"letters in the phone", func(in *Intake) { in.Phone = "912 ORLA" }, []string{"phone"}},
		{"phone too short", func(in *Intake) { in.Phone = "12" }, []string{"phone"}},
		{"more digits than E.164 allows", func(in *Intake) { in.Phone = "1234567890123456" }, []string{"phone"}},
		{"no address", func(in *Intake) { in.Email = "orla at example" }, []string{"email"}},
		{"name in the address", func(in *Intake) { in.Email = "Orla <orla@example.org>" }, []string{"email"}},
		{"serial of signs only", func(in *Intake) { in.Serial = "--" }, []string{"serial"}},
		{"tag of signs only", func(in *Intake) { in.OwnTag = "#" }, []string{"own_tag"}},
		{"limit and ask first", func(in *Intake) { in.Limit, in.AskFirst = &quote.Money{Minor: 1, Currency: "EUR"}, true }, []string{"limit"}},
		{"limit below zero", func(in *Intake) { in.Limit = &quote.Money{Minor: -1, Currency: "EUR"} }, []string{"limit"}},
		{"unknown wish", func(in *Intake) { in.IfNotRepaired = "burn" }, []string{"if_not_repaired"}},
		{"long text", func(in *Intake) { in.Complaint = strings.Repeat("é", maxText+1) }, []string{"complaint"}},
		{"as long as it may be", func(in *Intake) { in.Complaint = strings.Repeat("é", maxText) }, nil},
		{"no text", func(in *Intake) { in.Condition = "\xff" }, []string{"condition"}},
		{"a zero byte", func(in *Intake) { in.Accessories = "lead\x00" }, []string{"accessories"}},
	} {
		in := Intake{Name: "Orla Fenwick", Phone: "+351 912 345 678", Complaint: "pump does not start"}
		c.change(&in)
		wantFields(t, c.name, in.Check(), c.want...)
	}
}

func TestCustomerAndFamilyAreChecked(t *testing.T) {
	t.Parallel()
	wantFields(t, "customer", Customer{Name: "Orla", Phone: "912345678"}.Check())
	wantFields(t, "customer without a way to ask", Customer{Name: "Orla"}.Check(), "phone")
	wantFields(t, "limit", Customer{Name: "Orla", Phone: "912345678", StandingLimit: &quote.Money{Minor: -5}}.Check(), "standing_limit")
	wantFields(t, "family", Family{Name: "SEDGE"}.Check())
	wantFields(t, "family without a name", Family{NewBoard: &quote.Money{Minor: -1}}.Check(), "name", "new_board")
}

func TestPhoneDigits(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"+44 (20) 7946-0018": "442079460018", "0044 20 7946 0018": "442079460018", "020 7946 0018": "02079460018",
		"912.345.678": "912345678", "": "", "ext": "",
	} {
		if got := PhoneDigits(typed); got != want {
			t.Errorf("PhoneDigits(%q) = %q, want %q", typed, got, want)
		}
	}
}

func TestSerialKey(t *testing.T) {
	t.Parallel()
	for _, same := range [][]string{{"sg-d 00417", "SGD00417", "SG/D-00417", "ＳＧＤ00417"}, {"Ä-1", "ä1"}, {"", "--", " "}} {
		for _, s := range same {
			if SerialKey(s) != SerialKey(same[0]) {
				t.Errorf("%q and %q have the keys %q and %q", s, same[0], SerialKey(s), SerialKey(same[0]))
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		key := SerialKey(rapid.String().Draw(t, "serial"))
		if SerialKey(key) != key {
			t.Errorf("the key of %q is another one: %q", key, SerialKey(key))
		}
	})
}

func TestWords(t *testing.T) {
	t.Parallel()
	for name, want := range map[string][]string{
		"Jörg Müller-Lüdenscheidt": {"jorg", "muller", "ludenscheidt"},
		"O’Fenwick & Sons, O’":     {"o", "fenwick", "sons"},
		"Łódź Pumps 24":            {"łodz", "pumps", "24"},
		"  ":                       nil,
	} {
		if diff := cmp.Diff(want, Words(name)); diff != "" {
			t.Errorf("Words(%q) (-want +got):\n%s", name, diff)
		}
	}
}

func TestReasonsAreNeeded(t *testing.T) {
	t.Parallel()
	wantFields(t, "a reason", CheckReason("typed twice"))
	wantFields(t, "none", CheckReason(" \n"), "reason")
	wantFields(t, "a novel", CheckReason(strings.Repeat("x", maxReason+1)), "reason")
}

func TestCorrectionsAreChecked(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		field, value string
		want         []string
	}{
		{"complaint", "no water", nil}, {"complaint", "", []string{"complaint"}},
		{"bay", "", nil}, {"bay", strings.Repeat("B", maxLine+1), []string{"bay"}}, {"serial", strings.Repeat("7", maxLine+1), []string{"serial"}},
		{"if_not_repaired", WishScrap, nil}, {"if_not_repaired", "sell", []string{"if_not_repaired"}},
		{"promised_on", "2026-03-09", nil}, {"promised_on", "", nil}, {"promised_on", "9.3.2026", []string{"promised_on"}},
		{"limit", "12000", nil}, {"limit", "", nil}, {"limit", "-1", []string{"limit"}}, {"limit", "12,50", []string{"limit"}},
		{"customer", uuid.NewString(), nil}, {"customer", "Orla", []string{"customer"}},
		{"state", string(OnShelf), nil}, {"state", "lost", []string{"state"}},
	} {
		wantFields(t, c.field+" "+c.value, Correction{Field: c.field, New: c.value, Reason: "slip of the pen"}.Check(), c.want...)
	}
	wantFields(t, "no reason", Correction{Field: "bay", New: "B3"}.Check(), "reason")
	if err := (Correction{Field: "number", New: "7", Reason: "x"}).Check(); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a ticket's number was corrected: %v", err)
	}
}

func TestWhoMayCorrectWhat(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		role  staff.Role
		field string
		value State
		now   State
		kind  fault.Kind
		ok    bool
	}{
		{"a text", staff.FrontDesk, "complaint", "", OnBench, 0, true},
		{"a text by nobody", "", "complaint", "", OnBench, fault.Forbidden, false},
		{"a state", staff.Bench, "state", OnShelf, OnBench, 0, true},
		{"the same state", staff.Bench, "state", OnBench, OnBench, fault.Invalid, false},
		{"into an end", staff.Owner, "state", Scrapped, OnBench, fault.Conflict, false},
		{"from end to end", staff.Owner, "state", HandedOver, Scrapped, fault.Conflict, false},
		{"out of an end", staff.FrontDesk, "state", ToHandOver, HandedOver, 0, true},
		{"out of an end by nobody", "", "state", ToHandOver, HandedOver, fault.Forbidden, false},
	} {
		err := Correction{Field: c.field, New: string(c.value)}.Allowed(actor(c.role), c.now)
		if c.ok != (err == nil) || !c.ok && fault.KindOf(err) != c.kind {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
