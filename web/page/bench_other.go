package page

import (
	"ohmstead/web/ui"
)

// OtherBoard is the revision that the readings fit better, and the form in which
// somebody who has looked says which one it is.
type OtherBoard struct {
	Name     string // "HEARTH 3"
	Action   string
	Revision string // its id
	Taken    string // the revision that the board was taken for; "" not known
	Stays    string // its id
	Check    string // the check at hand, to come back to
	Reason   ui.Input
	Refusal  Refusal
}

// otherOf offers to set the revision that the engine named; nil when it named none.
func otherOf(in BenchInput) *OtherBoard {
	s := in.Judged.Sibling
	if s == nil {
		return nil
	}
	o := &OtherBoard{Name: BoardName(s.Family, s.Name), Action: BenchAddress(in.Story.Ticket.Number) + "/revision",
		Revision: s.Revision.String(), Check: in.Check, Refusal: in.refusal("revision")}
	if b := in.Story.Board; b.RevisionID != nil {
		o.Taken, o.Stays = BoardName(b.FamilyName, b.RevisionName), b.RevisionID.String()
	}
	o.Reason = ui.Input{Name: "reason", Label: "How do you know?", Hint: "As it is printed on the board, or by its parts.", Required: true, Max: 500,
		Value: in.typed("revision", "reason"), Problem: o.Refusal.Problem("reason")}
	return o
}
