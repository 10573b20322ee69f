package migrations

// The package's functions on any set of files, for the tests outside, which need
// package pgtest and so cannot be inside.
var (
	UpIn     = up
	StatusIn = status
	ForceIn  = force
	HashIn   = hash
)
