package ui

// Key is one key of the pad: it writes its text into the field.
type Key struct {
	Text  string // what it writes; "⌫" takes the last character away
	Label string // what is read out
}

// PadKeys are the keys in their rows, as on a calculator, multipliers and
// whole readings to the right.
func PadKeys() []Key {
	return []Key{
		{"7", "7"}, {"8", "8"}, {"9", "9"}, {"k", "k, kilo"}, {"OL", "OL, over-range"},
		{"4", "4"}, {"5", "5"}, {"6", "6"}, {"M", "M, mega"}, {"0.00", "0.00"},
		{"1", "1"}, {"2", "2"}, {"3", "3"}, {"m", "m, milli"}, {"-", "minus"},
		{"0", "0"}, {".", "point"}, {"⌫", "take the last character away"},
	}
}

// Press is a key that marks the reading and stays down.
type Press struct {
	Name    string
	Label   string
	Down    bool
	PartOf  bool // only where the check is taken across a part
	Meaning string
}

// Presses are the marks in the order of the panel; down says which are pressed.
func Presses(down map[string]bool) []Press {
	out := []Press{
		{Name: "swapped", Label: "swapped", Meaning: "red and black changed over"},
		{Name: "not_on_metal", Label: "not on metal", Meaning: "the probe did not touch metal"},
		{Name: "up", Label: "creeping ↑", Meaning: "still rising"},
		{Name: "down", Label: "creeping ↓", Meaning: "still falling"},
		{Name: "lifted", Label: "lifted", PartOf: true, Meaning: "one leg off the board"},
		{Name: "old", Label: "removed part", PartOf: true, Meaning: "read on the part that was taken out"},
		{Name: "new", Label: "new part", PartOf: true, Meaning: "read on the part to be fitted"},
	}
	for i := range out {
		out[i].Down = down[out[i].Name]
	}
	return out
}
