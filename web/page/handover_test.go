package page

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// readyToGo is a repaired board with everything on record.
func readyToGo() *shop.Story {
	st := withQuote(sedge(), true)
	st.Ticket.State, st.Ticket.ProfileVersionID = shop.ToHandOver, &uuid.UUID{1}
	st.Readings = []evidence.Reading{{Stage: evidence.StageAfter}}
	return st
}

func handOverInput(st *shop.Story) HandOverInput {
	return HandOverInput{Story: st, Site: quay, Settings: quayWays, Now: noon, By: staff.Actor{Role: staff.Bench},
		Blocks: []shop.SafetyBlock{{Name: "flue", Title: "Flue probe"}}, Measured: frozen().Measured}
}

func missingTexts(in HandOverInput) []string {
	var out []string
	for _, m := range NewHandOver(quayFrame(), in).Missing {
		out = append(out, m.Text+" → "+m.Address)
	}
	return out
}

func TestABoardThatIsReadyLacksNothing(t *testing.T) {
	t.Parallel()
	in := handOverInput(readyToGo())
	p := NewHandOver(quayFrame(), in)
	if len(p.Missing) != 0 {
		t.Errorf("missing: %+v", p.Missing)
	}
	doc := drawn(t, HandOver(p))
	reads(t, doc, "h1", "Hand over ticket 2041: SEDGE D, Brook Farm")
	reads(t, doc, "textarea#f-text", "Replaced R13.")
	reads(t, doc, ".choices label", "repaired", "unrepaired")
	if got := pick(doc, "input[value=handed_over]"); len(got) != 1 {
		t.Fatal("repaired is not offered")
	} else if _, checked := attribute(got[0], "checked"); !checked {
		t.Error("a board with parts fitted is not proposed as repaired")
	}
	reads(t, doc, "fieldset label", "Flue probe: how it was proven")
	reads(t, doc, ".measured tbody th", "R14", "R13")
	for _, want := range []string{"the guarantee runs until 31 Aug 2026.", "Price as quoted (version 1): €49.32"} {
		if !strings.Contains(words(doc), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestWhatIsMissingSaysWhereToDoIt(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name   string
		change func(in *HandOverInput)
		want   string
	}{
		{"on the bench", func(in *HandOverInput) { in.Story.Ticket.State = shop.OnBench },
			"The board is on the bench. As repaired it goes back only when it is “to be handed over”. → /tickets/2041"},
		{"powered", func(in *HandOverInput) { in.Powered = true },
			"It was powered after it was last proven dead. Prove it dead before it is packed. → /tickets/2041/bench"},
		{"powered, seen by the front desk", func(in *HandOverInput) { in.Powered, in.By.Role = true, staff.FrontDesk },
			"It was powered after it was last proven dead. Prove it dead before it is packed. → "},
		{"no profile", func(in *HandOverInput) { in.Story.Ticket.ProfileVersionID = nil }, "does not know its safety functions"},
		{"profile unreadable", func(in *HandOverInput) { in.Trouble = "cannot be read" }, "profile cannot be read"},
		{"nothing found", func(in *HandOverInput) { in.Story.Findings[0].WithdrawnAt = &noon }, "Nothing is written down as found. → /tickets/2041/bench"},
		{"not measured after", func(in *HandOverInput) { in.Story.Readings = nil }, "Nothing was measured after the repair"},
		{"no quote", func(in *HandOverInput) { in.Story.Quotes = nil }, "No quote was sent; the slip bears no price. → /tickets/2041/quote"},
		{"a no", func(in *HandOverInput) {
			in.Story.Consents = []quote.Consent{{About: quote.AboutRepair, Answer: quote.No, QuoteID: &in.Story.Quotes[0].ID}}
		}, "The customer said no to the quote"},
		{"above the limit", func(in *HandOverInput) { in.Story.Ticket.Limit = euros(100) },
			"The total, €49.32, is €48.32 above the limit of €1.00: ask the customer. No answer to the quote is on record. → /tickets/2041/quote#answer"},
	}
	for _, c := range cases {
		in := handOverInput(readyToGo())
		c.change(&in)
		if got := missingTexts(in); len(got) != 1 || !strings.Contains(got[0], c.want) {
			t.Errorf("%s: %q, want one that says %q", c.name, got, c.want)
		}
	}
}

func TestAnAnsweredQuoteIsNotAskedForAgain(t *testing.T) {
	t.Parallel()
	in := handOverInput(readyToGo())
	in.Story.Ticket.Limit = nil
	in.Story.Consents = []quote.Consent{{About: quote.AboutRepair, Answer: quote.Yes, QuoteID: &in.Story.Quotes[0].ID}}
	if got := missingTexts(in); len(got) != 0 {
		t.Errorf("missing: %q", got)
	}
}

func TestOnlyWhatTheStateAllowsIsOffered(t *testing.T) {
	t.Parallel()
	in := handOverInput(readyToGo())
	in.Story.Ticket.State = shop.OnShelf
	reads(t, drawn(t, HandOver(NewHandOver(quayFrame(), in))), ".choices label", "unrepaired")
	in.Story.Ticket.State = shop.WaitingForPart
	doc := drawn(t, HandOver(NewHandOver(quayFrame(), in)))
	if len(pick(doc, "main form")) != 0 {
		t.Error("a board that waits for a part can be handed over")
	}
	reads(t, doc, ".missing .stops a", "Move it on the ticket")
}

func TestABoardThatHasLeftShowsItsSlip(t *testing.T) {
	t.Parallel()
	st := readyToGo()
	content, _ := json.Marshal(frozen())
	st.Ticket.State, st.Ticket.StateSince = shop.HandedOver, noon
	st.Documents = append(st.Documents, shop.Document{Kind: "slip", Number: 23, Content: content})
	doc := drawn(t, HandOver(NewHandOver(quayFrame(), handOverInput(st))))
	reads(t, doc, "main form")
	reads(t, doc, "main .button", "Open its slip")
	if at, _ := attribute(pick(doc, "main .button")[0], "href"); at != "/tickets/2041/slip/23" {
		t.Errorf("the slip is at %q", at)
	}
}

func TestTheOutcomeIsProposedFromWhatWasSaidAndDone(t *testing.T) {
	t.Parallel()
	may := NewHandOver(quayFrame(), handOverInput(readyToGo())).May
	no := readyToGo()
	no.Consents = []quote.Consent{{About: quote.AboutRepair, Answer: quote.No}}
	untouched := readyToGo()
	untouched.Fitted, untouched.Findings = nil, nil
	for _, c := range []struct {
		name string
		st   *shop.Story
		want string
	}{{"repaired", readyToGo(), "handed_over"}, {"the customer said no", no, ""}, {"nothing found", untouched, ""}} {
		if got := proposedOutcome(c.st, may); got != c.want {
			t.Errorf("%s: proposed %q, want %q", c.name, got, c.want)
		}
	}
}

func TestARefusedHandOverKeepsTheProofs(t *testing.T) {
	t.Parallel()
	in := handOverInput(readyToGo())
	in.Typed = &HandOverForm{Seen: "17", As: "handed_over", To: "", Text: "done", Proofs: map[string]string{"flue": "unplugged, shows FLUE"}}
	in.Refusal = Refusal{Text: "no", Fields: []FieldProblem{{"to", "Write down who takes the board."}}}
	doc := drawn(t, HandOver(NewHandOver(quayFrame(), in)))
	reads(t, doc, "[name=block:flue]", "unplugged, shows FLUE")
	reads(t, doc, "textarea#f-text", "done")
	reads(t, doc, "#f-to-problem", "Write down who takes the board.")
}

func TestAVoidTicketIsNotHandedOver(t *testing.T) {
	t.Parallel()
	in := handOverInput(readyToGo())
	in.Story.Ticket.VoidedAt, in.Story.Ticket.VoidReason = &noon, "taken in twice"
	doc := drawn(t, HandOver(NewHandOver(quayFrame(), in)))
	reads(t, doc, "main form")
	if !strings.Contains(words(doc), "The ticket is void: taken in twice") {
		t.Errorf("the page says: %s", words(doc))
	}
}

// Every field can be named and every link of a refusal leads to its field, on the
// pages of quote and hand-over and on their papers.
func TestQuoteAndHandOverAreWithinReach(t *testing.T) {
	t.Parallel()
	everything := func(fields ...string) Refusal {
		r := Refusal{Text: "no"}
		for _, f := range fields {
			r.Fields = append(r.Fields, FieldProblem{f, "Not like this."})
		}
		return r
	}
	draft := quoteInput(withQuote(sedge(), false))
	draft.Story.Quotes[0].Lines[0].UnitPrice = 0
	draft.Refusal = everything(QuoteFields(2)...)
	answer := quoteInput(withQuote(sedge(), true))
	answer.Story.Ticket.State = shop.WaitingForYes
	answer.AnswerBad = everything(AnswerFields...)
	back := handOverInput(readyToGo())
	back.Refusal = everything(HandOverFields(back.Blocks)...)
	paper, err := NewQuotePaper(quayFrame(), answer.Story, quay, &answer.Story.Quotes[0])
	if err != nil {
		t.Fatal(err)
	}
	accessible(t, "draft", drawn(t, Quote(NewQuote(quayFrame(), draft))))
	accessible(t, "answer", drawn(t, Quote(NewQuote(quayFrame(), answer))))
	accessible(t, "hand over", drawn(t, HandOver(NewHandOver(quayFrame(), back))))
	accessible(t, "printed quote", drawn(t, PrintedQuote(paper)))
	accessible(t, "printed slip", drawn(t, PrintedSlip(NewSlipPage(quayFrame(), frozen()))))
}
