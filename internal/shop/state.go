package shop

import (
	"slices"
	"strings"

	"ohmstead/internal/fault"
	"ohmstead/internal/staff"
)

// State says where a ticket stands.
type State string

// The states; the last three are ends. docs/states.md draws them.
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

// Title gives the state in words, "on the bench".
func (s State) Title() string { return strings.ReplaceAll(string(s), "_", " ") }

// Valid tells whether s is one of the states.
func (s State) Valid() bool { return slices.Contains(States(), s) }

// Ended tells whether the board has left the shop.
func (s State) Ended() bool { return s == HandedOver || s == ReturnedUnrepaired || s == Scrapped }

// Need is something that must be there before a ticket may move, in words.
type Need string

const (
	needReason   Need = "a reason"
	needYes      Need = "the customer’s yes or new limit"
	needAnswer   Need = "the customer’s answer"
	needScrapYes Need = "the customer’s yes to scrapping"
	needSlip     Need = "a hand-over slip"
)

// Answer tells whether a need is something that the customer says.
func (n Need) Answer() bool { return n == needYes || n == needAnswer || n == needScrapYes }

// Transition is one allowed step: who may take it, and what it needs.
type Transition struct {
	From, To State
	Who      staff.Action
	Needs    []Need
}

// transitions is the whole table of steps. A wrong state is put right by a
// Correction, which may jump anywhere but says why.
func transitions() []Transition {
	bench, counter := staff.WorkOnBoards, staff.HandOver
	return []Transition{
		{TakenIn, OnShelf, staff.TakeIn, nil},
		{TakenIn, OnBench, bench, nil},
		{TakenIn, ReturnedUnrepaired, counter, []Need{needSlip}},
		{OnShelf, OnBench, bench, nil},
		{OnShelf, ReturnedUnrepaired, counter, []Need{needSlip}},
		{OnShelf, Scrapped, counter, []Need{needScrapYes}},
		{OnBench, OnShelf, bench, nil},
		{OnBench, WaitingForYes, bench, []Need{needReason}},
		{OnBench, WaitingForPart, bench, []Need{needReason}},
		{OnBench, OnSoak, bench, nil},
		{OnBench, ToHandOver, bench, nil},
		{WaitingForYes, OnBench, bench, []Need{needYes}},
		{WaitingForYes, OnShelf, staff.TakeIn, []Need{needYes}},
		{WaitingForYes, WaitingForPart, bench, []Need{needYes, needReason}},
		{WaitingForYes, ToHandOver, counter, []Need{needAnswer}},
		{WaitingForYes, Scrapped, counter, []Need{needScrapYes}},
		{WaitingForPart, OnBench, bench, nil},
		{WaitingForPart, OnShelf, staff.TakeIn, nil},
		{WaitingForPart, WaitingForYes, bench, []Need{needReason}},
		{OnSoak, OnBench, bench, []Need{needReason}},
		{OnSoak, ToHandOver, bench, nil},
		{ToHandOver, OnBench, bench, []Need{needReason}},
		{ToHandOver, HandedOver, counter, []Need{needSlip}},
		{ToHandOver, ReturnedUnrepaired, counter, []Need{needSlip}},
		{ToHandOver, Scrapped, counter, []Need{needScrapYes}},
	}
}

// Facts are what a step's needs are held against. Answers count from the moment
// the ticket entered its state.
type Facts struct {
	Reason   string
	Yes      bool // a yes or new limit was recorded
	No       bool // a no was recorded
	ScrapYes bool // a yes to scrapping was recorded, at any time
	Slip     bool // the hand-over slip is being frozen
}

// Step finds the transition between two states and refuses with fault.Conflict
// when there is none, with fault.Forbidden when the actor may not take it, with
// fault.Invalid on field "reason" when only the reason is missing or is no text that
// can be kept.
func Step(by staff.Actor, from, to State, f Facts) error {
	for _, t := range transitions() {
		if t.From == from && t.To == to {
			if err := by.May(t.Who); err != nil {
				return err
			}
			if err := checkWords("reason", f.Reason); err != nil {
				return err
			}
			return t.check(f)
		}
	}
	if from == to {
		return fault.New(fault.Conflict, "The board is already %s.", to.Title())
	}
	return fault.New(fault.Conflict, "A board that is %s cannot become %s. If the state is wrong, correct it and say why.",
		from.Title(), to.Title())
}

// check holds a step's needs against the facts.
func (t Transition) check(f Facts) error {
	have := map[Need]bool{
		needReason:   strings.TrimSpace(f.Reason) != "",
		needYes:      f.Yes,
		needAnswer:   f.Yes || f.No,
		needScrapYes: f.ScrapYes,
		needSlip:     f.Slip,
	}
	for _, n := range t.Needs {
		if have[n] {
			continue
		}
		if n == needReason {
			return fault.Field("reason", "Say why the board is now %s.", t.To.Title())
		}
		return fault.New(fault.Conflict, "Before the board can be %s it needs %s.", t.To.Title(), n)
	}
	return nil
}

// Steps lists where a ticket in a state may go by the actor's role, in the order
// of the states, whatever it may still need.
func Steps(by staff.Actor, from State) []Transition {
	var out []Transition
	for _, t := range transitions() {
		if t.From == from && staff.Can(by.Role, t.Who) {
			out = append(out, t)
		}
	}
	return out
}
