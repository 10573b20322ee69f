package staff

// Action is something that a role may or may not do; its text completes
// "may not ...".
type Action string

// The actions that are guarded. Reading the shop's tickets is open to everybody
// who has signed in.
const (
	TakeIn         Action = "take boards in or change what was taken in"
	WorkOnBoards   Action = "measure or work on boards"
	WriteQuotes    Action = "write quotes"
	RecordAnswers  Action = "record a customer's answer"
	HandOver       Action = "hand boards over"
	VoidTickets    Action = "void a ticket"
	ManageProfiles Action = "change board families and profiles"
	ManagePeople   Action = "manage people"
	ManageShop     Action = "change the shop's settings"
)

// allowed is the whole table of who may do what, owners apart.
var allowed = map[Action][]Role{
	TakeIn:         {FrontDesk, Bench},
	WorkOnBoards:   {Bench},
	WriteQuotes:    {FrontDesk, Bench},
	RecordAnswers:  {FrontDesk, Bench},
	HandOver:       {FrontDesk, Bench},
	VoidTickets:    {FrontDesk},
	ManageProfiles: {Bench},
	ManagePeople:   {},
	ManageShop:     {},
}

// Can tells whether a role may do something. Unknown roles and unknown actions
// may not.
func Can(r Role, what Action) bool {
	roles, known := allowed[what]
	if !known {
		return false
	}
	if r == Owner {
		return true
	}
	for _, a := range roles {
		if a == r {
			return true
		}
	}
	return false
}
