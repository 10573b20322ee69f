package shop

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
)

// A slip as it was frozen when this was written; it has to be read for ever, and
// may come to hold more.
const frozenSlip = `{"Number":7,"Ticket":12,"Day":"2026-03-04","Shop":"Lantern Quay Board Works","Address":"Quernhithe",
"Customer":"Orla Fenwick","Family":"SEDGE","Revision":"D","Serial":"SG-00417","Complaint":"no water","As":"handed_over","To":"Orla",
"Text":"R12 replaced","Advice":"have the pump checked","Notice":"A tested board is not a tested machine.",
"Blocks":[{"Name":"contact","Title":"Pressure contact","Proof":"5.00 V open"}],"Unproven":null,
"Findings":[{"ID":"00000000-0000-0000-0000-000000000000","TicketID":"00000000-0000-0000-0000-000000000000","Part":"R12","Mode":"open",
"Words":"","ConfirmedBy":"00000000-0000-0000-0000-000000000000","TakenAt":"2026-03-04T09:00:00Z","WithdrawnAt":null,"WithdrawnReason":""}],
"Fitted":[{"ID":"00000000-0000-0000-0000-000000000000","TicketID":"00000000-0000-0000-0000-000000000000","Part":"R12","What":"120 k 1206",
"Note":"","PersonID":"00000000-0000-0000-0000-000000000000","TakenAt":"2026-03-04T09:00:00Z"}],
"Readings":null,"GuaranteeUntil":"2026-08-31","Quote":null,
"Totals":{"Lines":null,"Net":{"Minor":0,"Currency":"EUR"},"Taxes":null,"Tax":{"Minor":0,"Currency":"EUR"},"Gross":{"Minor":0,"Currency":"EUR"}}}`

func TestFrozenSlipsAreReadForEver(t *testing.T) {
	t.Parallel()
	var got Slip
	if err := json.Unmarshal([]byte(frozenSlip), &got); err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	none := quote.Money{Currency: "EUR"}
	want := Slip{Number: 7, Ticket: 12, Day: "2026-03-04", Shop: "Lantern Quay Board Works", Address: "Quernhithe", Customer: "Orla Fenwick",
		Family: "SEDGE", Revision: "D", Serial: "SG-00417", Complaint: "no water", As: HandedOver, To: "Orla", Text: "R12 replaced",
		Advice: "have the pump checked", Notice: "A tested board is not a tested machine.",
		Blocks:   []SafetyBlock{{Name: "contact", Title: "Pressure contact", Proof: "5.00 V open"}},
		Findings: []evidence.Finding{{Part: "R12", Mode: "open", TakenAt: at}}, Fitted: []evidence.Fitted{{Part: "R12", What: "120 k 1206", TakenAt: at}},
		GuaranteeUntil: "2026-08-31", Totals: &quote.Totals{Net: none, Tax: none, Gross: none}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
