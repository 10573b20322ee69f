package page

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/web/ui"
)

var (
	brook = shop.Customer{ID: uuid.MustParse("019ac000-0000-7000-8000-0000000000b1"), Name: "Brook Farm", Phone: "061 555 0134", StandingLimit: &quote.Money{Minor: 12000, Currency: "EUR"}}
	ide   = shop.Customer{ID: uuid.MustParse("019ac000-0000-7000-8000-0000000000b2"), Name: "Ide Marram", Email: "ide@example.org", Note: "comes on Fridays"}
)

func TestCustomerMatches(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name   string
		asked  bool
		found  []shop.Customer
		chosen string
		want   string // chosen afterwards
		status string
	}{
		{"nobody asked", false, nil, "", "", ""},
		{"nobody known", true, nil, "", "", "Nobody is known by that. Enter the new customer below."},
		{"one is chosen at once", true, []shop.Customer{brook}, "", brook.ID.String(), "One customer found."},
		{"unless it is somebody new", true, []shop.Customer{brook}, NewCustomer, NewCustomer, "One customer found."},
		{"of two nobody is chosen", true, []shop.Customer{brook, ide}, "", "", "2 customers found; choose one."},
		{"a choice stays", true, []shop.Customer{brook, ide}, ide.ID.String(), ide.ID.String(), "2 customers found; choose one."},
	}
	for _, c := range cases {
		m := NewCustomerMatches(c.asked, c.found, c.chosen, "en-IE")
		if m.Chosen != c.want || m.Status() != c.status {
			t.Errorf("%s: chosen %q, want %q; says %q, want %q", c.name, m.Chosen, c.want, m.Status(), c.status)
		}
		checked := pick(drawn(t, Matches(m, "")), "input[checked]")
		if (len(checked) == 1) != (c.want != "") {
			t.Errorf("%s: %d of the choices are made", c.name, len(checked))
		}
	}
}

func TestMatchesSayWhatTellsCustomersApart(t *testing.T) {
	t.Parallel()
	m := NewCustomerMatches(true, []shop.Customer{brook, ide}, "", "de-DE")
	doc := drawn(t, Matches(m, "Choose one."))
	reads(t, doc, "label", "Brook Farm 061 555 0134 standing limit 120,00 €", "Ide Marram ide@example.org comes on Fridays", "somebody else: a new customer")
	reads(t, doc, ".problem", "Choose one.")
	if limit, _ := attribute(pick(doc, "input")[0], "data-limit"); limit != "120,00" {
		t.Errorf("the limit's field would hold %q", limit)
	}
	if got := NewCustomerMatches(true, []shop.Customer{brook}, "", "de-DE").ChosenLimit(); got != "120,00" {
		t.Errorf("the chosen customer's limit is %q", got)
	}
	if got := m.ChosenLimit(); got != "" {
		t.Errorf("nobody is chosen, yet the limit is %q", got)
	}
	m.KnownOnly, m.List = true, nil
	if !strings.Contains(m.Status(), "Look for other digits") || strings.Contains(words(drawn(t, Matches(m, ""))), "new customer") {
		t.Errorf("where nobody new can be chosen it says %q", m.Status())
	}
}

func TestKindOptionsStandByFamily(t *testing.T) {
	t.Parallel()
	sedge, hearth := uuid.MustParse("019ac000-0000-7000-8000-0000000000f1"), uuid.MustParse("019ac000-0000-7000-8000-0000000000f2")
	d := uuid.MustParse("019ac000-0000-7000-8000-0000000000e1")
	got := KindOptions([]shop.Family{{ID: hearth, Name: "HEARTH"}, {ID: sedge, Name: "SEDGE"}}, []shop.Revision{{ID: d, FamilyID: sedge, Name: "D"}})
	want := []ui.Option{
		{Value: "", Label: "unknown"},
		{Value: "fam:" + hearth.String(), Label: "HEARTH, revision not known"},
		{Value: "rev:" + d.String(), Label: "SEDGE D"},
		{Value: "fam:" + sedge.String(), Label: "SEDGE, revision not known"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]ui.Option{want[0], want[2]}, RevisionOptions(got)); diff != "" {
		t.Error(diff)
	}
}

func TestKnownBoards(t *testing.T) {
	t.Parallel()
	here, ended, other := summary(2041, shop.OnBench, friday.AddDate(0, 0, -3)), summary(1990, shop.HandedOver, friday.AddDate(0, 0, -40)), summary(1800, shop.HandedOver, friday)
	here.Serial, ended.Serial, other.Serial = "SD-0417", "SD 0417", "SD-0418"
	kinds := []ui.Option{{Value: "", Label: "unknown"}, {Value: "rev:1", Label: "SEDGE D"}}
	cases := []struct {
		name, serial string
		found        []shop.Summary
		kind, says   string
	}{
		{"never here", "SD-1", nil, "", ""},
		{"another serial that begins alike", "SD-0417", []shop.Summary{other}, "", ""},
		{"no serial", "", []shop.Summary{{}}, "", ""},
		{"here now", "sd0417", []shop.Summary{here}, "rev:1", "This board is in the shop now: ticket 2041 , SEDGE D of Brook Farm, on the bench since Tuesday."},
		{"here before", "SD-0417", []shop.Summary{ended}, "rev:1", "This board was here before: ticket 1990 , SEDGE D of Brook Farm, handed over on 18 Oct 2026."},
	}
	for _, c := range cases {
		k := NewKnownBoard(c.serial, c.found, kinds, dublin().Locale, friday)
		if k.Kind != c.kind {
			t.Errorf("%s: kind %q, want %q", c.name, k.Kind, c.kind)
		}
		if got := words(drawn(t, Known(k))); got != c.says {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.says)
		}
	}
}

func TestFeeSentence(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		fee    quote.Decimal
		credit bool
		want   string
	}{
		{quote.Whole(25), true, "The examination fee is €25.00 without tax, credited when the board is repaired."},
		{quote.Whole(25), false, "The examination fee is €25.00 without tax."},
		{0, true, ""},
	} {
		if got := FeeSentence(shop.Settings{ExaminationFee: c.fee, CreditFee: c.credit}, "EUR", "en-IE"); got != c.want {
			t.Errorf("fee %s, credited %v: %q, want %q", c.fee, c.credit, got, c.want)
		}
	}
}

// takeInPage is the form come back with a message at every field.
func takeInPage() TakeInPage {
	fields := map[string]string{}
	for _, f := range IntakeOrder() {
		fields[f] = "Something is wrong with " + f + "."
	}
	return TakeInPage{Frame: Frame{Title: "Take in a board", Locale: dublin().Locale}, Refusal: RefusalOf(fault.Form(fields), IntakeOrder()...),
		Typed:   IntakeForm{Who: "0134", Customer: brook.ID.String(), Complaint: "hums", IfNotRepaired: shop.WishScrap, AskFirst: "yes", NotAComeback: "yes"},
		Matches: NewCustomerMatches(true, []shop.Customer{brook, ide}, brook.ID.String(), "en-IE"), Kinds: []ui.Option{{Label: "unknown"}}}
}

func TestARefusedIntakeKeepsItsChoicesAndLeadsToEveryField(t *testing.T) {
	t.Parallel()
	doc := drawn(t, TakeIn(takeInPage()))
	accessible(t, "take in", doc)
	links := pick(doc, "#refused a")
	if len(links) != len(IntakeOrder()) {
		t.Errorf("%d problems are listed, want %d", len(links), len(IntakeOrder()))
	}
	for i, f := range IntakeOrder() {
		if href, _ := attribute(links[i], "href"); href != "#f-"+f {
			t.Errorf("problem %d leads to %s, want %s", i, href, f)
		}
	}
	for selector, want := range map[string]string{
		"input[name=customer][checked]":        brook.ID.String(),
		"input[name=if_not_repaired][checked]": shop.WishScrap,
		"input[name=ask_first][checked]":       "yes",
		"input[name=not_a_comeback][checked]":  "yes",
		"input[name=who]":                      "0134",
	} {
		name, _, _ := strings.Cut(selector, "][")
		var values []string
		for _, n := range pick(doc, strings.TrimSuffix(name, "]")+"]") {
			if _, checked := attribute(n, "checked"); checked || !strings.Contains(selector, "checked") {
				v, _ := attribute(n, "value")
				values = append(values, v)
			}
		}
		if strings.Join(values, ",") != want {
			t.Errorf("%s holds %v, want %s", selector, values, want)
		}
	}
}

// The enter key presses the first button of a form: it must be the one that takes
// the board in, not the one that looks somebody up.
func TestTheFirstButtonTakesTheBoardIn(t *testing.T) {
	t.Parallel()
	buttons := pick(drawn(t, TakeIn(takeInPage())), "form#take-in button")
	if len(buttons) != 3 {
		t.Fatalf("%d buttons, want 3", len(buttons))
	}
	if do, _ := attribute(buttons[0], "value"); do != "enter" {
		t.Errorf("enter presses %q", do)
	}
}

func TestTheCursorStandsInTheFirstFieldUnlessSomethingIsWrong(t *testing.T) {
	t.Parallel()
	p := takeInPage()
	if n := len(pick(drawn(t, TakeIn(p)), "[autofocus]")); n != 0 {
		t.Errorf("%d fields of a refused form take the cursor from its messages", n)
	}
	p.Refusal = Refusal{}
	focused := pick(drawn(t, TakeIn(p)), "[autofocus]")
	if len(focused) != 1 {
		t.Fatalf("%d fields take the cursor", len(focused))
	}
	if name, _ := attribute(focused[0], "name"); name != "who" {
		t.Errorf("the cursor stands in %q", name)
	}
}
