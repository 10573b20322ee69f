package shop

import "ohmstead/internal/staff"

// State says where a ticket stands.
type State string

// The states; the last three are ends.
const (
	TakenIn            State = "taken_in"
	OnShelf            State = "on_the_shelf"
	OnBench            State = "on_the_bench"
	WaitingForYes      State = "waiting_for_a_yes"
	WaitingForPart     State = "waiting_for_a_part"
	OnSoak             State = "on_soak"
	ToHandOver         State = "to_be_handed_over"
	HandedOver         State = "handed_over"
	ReturnedUnrepaired State = "returned_unrepaired"
	Scrapped           State = "scrapped_with_consent"
)

// States lists the states in the order of the job.
func States() []State {
	return []State{TakenIn, OnShelf, OnBench, WaitingForYes, WaitingForPart, OnSoak,
		ToHandOver, HandedOver, ReturnedUnrepaired, Scrapped}
}

// Need is something that must be there before a ticket may move.
type Need string

// The needs.
const (
	NeedReason   Need = "a reason"
	NeedYes      Need = "the customer's yes or new limit"
	NeedAnswer   Need = "the customer's answer"
	NeedScrapYes Need = "the customer's yes to scrapping"
	NeedSlip     Need = "a hand-over slip"
)

// Transition is one allowed step: who may take it, and what it needs.
type Transition struct {
	From, To State
	Who      staff.Action
	Needs    []Need
}
