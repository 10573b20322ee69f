package page

// DoorPage asks who is there.
type DoorPage struct {
	Frame   Frame
	Name    string
	Then    string // where to go afterwards
	Refusal Refusal
}

// FirstStartPage opens a new shop and creates its owner.
type FirstStartPage struct {
	Frame   Frame
	Name    string // the owner's
	Form    ShopForm
	Refusal Refusal
}

// MePage shows who is signed in and lets them change their password.
type MePage struct {
	Frame   Frame
	First   bool // the password was given by somebody else and must be replaced
	Changed bool
	Refusal Refusal
}
