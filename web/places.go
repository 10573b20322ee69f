package web

// The places of the signpost.
const (
	placeCounter  = "Counter"
	placeBench    = "Bench"
	placeFamilies = "Board families"
	placePeople   = "People"
	placeShop     = "Shop"
)

// places lists the stops of the signpost in order, and who is shown them.
var places = []struct {
	name, address string
	who           access
}{
	{placeCounter, "/counter", everybody},
	{placeBench, "/bench", bench},
	{placeFamilies, "/families", everybody},
	{placePeople, "/people", owner},
	{placeShop, "/shop", owner},
}
