package postgres

import (
	"time"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// everything does each thing once on one ticket and gives it back, on the bench.
func everything(w *world) shop.Ticket {
	w.t.Helper()
	ctx := w.t.Context()
	d := w.revision("SEDGE", "D")
	meter := must(w.AddMeter(ctx, w.bench, "M-1", []byte("format: ohmstead/meter/1")))
	k := w.move(w.takeIn(func(in *shop.Intake) { in.RevisionID, in.Serial = &d.ID, "417" }), shop.OnBench)
	ok(w.Audit(ctx, staff.Audit{Kind: "signed_in", Name: "Tobin"}))

	ok(w.StorePowerEvent(ctx, w.bench, evidence.PowerEvent{TicketID: k.ID, On: true, Hazardous: true, State: "live"}))
	ok(w.StorePowerEvent(ctx, w.bench, evidence.PowerEvent{TicketID: k.ID, TakenAt: w.clock.now().Add(time.Second)}))
	w.clock.pass(time.Minute)
	must(w.StoreDeadProof(ctx, w.bench, w.proof(k, 0.05)))
	r := w.ohms(k, "R12", 360_000)
	r.MeterVersionID = &meter
	slip := w.ohms(k, "R13", 120_000)
	must(w.StoreReadings(ctx, w.bench, k.ID, []evidence.Reading{r, slip}))
	ok(w.Strike(ctx, w.bench, k.ID, slip.ID, "wrong pad"))
	must(w.AddSeen(ctx, w.bench, evidence.Seen{TicketID: k.ID, Part: "R12", What: "cracked"}))
	must(w.AddFinding(ctx, w.bench, evidence.Finding{TicketID: k.ID, Part: "R12", Mode: "high"}))
	wrong := must(w.AddFinding(ctx, w.bench, evidence.Finding{TicketID: k.ID, Part: "R13", Mode: "open"}))
	ok(w.WithdrawFinding(ctx, w.bench, k.ID, wrong.ID, "it was the probe"))
	over := must(w.AddOverrule(ctx, w.bench, evidence.Overrule{TicketID: k.ID, Part: "R14", Reason: "lifted, reads well"}))
	ok(w.WithdrawOverrule(ctx, w.bench, k.ID, over.ID, "it was R15"))
	must(w.AddOverrule(ctx, w.bench, evidence.Overrule{TicketID: k.ID, ReadingID: &r.ID, Verdict: evidence.RuledNotBad, Reason: "a later type"}))
	must(w.AddFitted(ctx, w.bench, evidence.Fitted{TicketID: k.ID, Part: "R12", What: "120 k 1206"}))

	must(w.addLine(w.bench, k.ID, line("1", "0.60")))
	sent := must(w.SendQuote(ctx, w.desk, k.ID, w.story(k).Ticket.Version))
	must(w.RecordConsent(ctx, w.desk, quote.Consent{TicketID: k.ID, QuoteID: &sent.ID, About: quote.AboutRepair,
		TextShown: "0.74 in all", Who: "Orla Fenwick", Answer: quote.Yes, Way: "phone"}))
	return w.story(k).Ticket
}

// ok ends the test on an error.
func ok(err error) {
	if err != nil {
		panic(err)
	}
}

// line is a part at the usual tax.
func line(quantity, price string) quote.Line {
	return quote.Line{Kind: quote.Part, Text: "chip resistor", Quantity: must(quote.DecimalFrom(quantity)),
		UnitPrice: must(quote.DecimalFrom(price)), Tax: pay.Taxes[0]}
}

// ohms is a resistance reading taken now.
func (w *world) ohms(k shop.Ticket, part string, value float64) evidence.Reading {
	return evidence.Reading{ID: must(uuid.NewV7()), TicketID: k.ID, CheckKey: "cold:" + part, State: "cold",
		Measure: "resistance", Across: part, Typed: "x", Value: &value, TakenAt: w.clock.now(), TakenOffset: 60}
}

// proof is a complete proof of C1 read now.
func (w *world) proof(k shop.Ticket, volts float64) evidence.DeadProof {
	before, after := w.clock.now().Add(-20*time.Second), w.clock.now().Add(20*time.Second)
	return evidence.DeadProof{TicketID: k.ID, Part: "C1", Volts: volts, VoltsSwapped: -volts, ReadAt: w.clock.now(),
		BeforeAt: &before, BeforeOK: true, AfterAt: &after, AfterOK: true}
}
